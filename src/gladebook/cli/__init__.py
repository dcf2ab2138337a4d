"""The command line: parse, call a job, show. Errors become one sentence here, and nowhere else."""

from gladebook.cli.app import main

__all__ = ["main"]
