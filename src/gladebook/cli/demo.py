"""``gladebook demo``."""

from pathlib import Path
from typing import Annotated

import typer

from gladebook.cli.options import spare_property
from gladebook.cli.show import answer, say, working

__all__ = ["demo"]

Folder = Annotated[
    Path,
    typer.Option("--out", "-o", metavar="FILE", help="Folder for the map and the answers.", callback=spare_property),
]


def demo(out: Folder = Path("demo_output")) -> None:
    """The whole job on an invented property: measure, check an application, mix, draw the map."""
    from gladebook.jobs.demo import run_demo

    with working() as tell:
        done = run_demo(out, progress=tell)
    answer(done.text, out=None)
    say([f"Open the map in any browser: {done.map_file.resolve()}"])
