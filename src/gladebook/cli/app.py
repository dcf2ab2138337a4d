"""The ``gladebook`` command: its root, and the one place where errors become text and exit codes.

Exit codes: 0 done; 2 a mistake in the call; 3 bad input, or an answer that could not be written;
130 stopped by the user.
"""

import os
import sys

import click
import typer

from gladebook.cli import coverage, demo, draw, gallons, measure, mix
from gladebook.errors import CallError, GladebookError, Stopped

__all__ = ["app", "main"]

app = typer.Typer(
    name="gladebook",
    help="True acres, spray coverage and mixing for small woodland wildlife plots. Works with no internet.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
app.command("measure")(measure.measure)
app.command("coverage")(coverage.coverage)
app.command("gallons")(gallons.gallons)
app.command("mix")(mix.mix)
app.command("map")(draw.draw)
app.command("demo")(demo.demo)


@app.callback()
def _root() -> None:
    """Keep the sub-commands even if one day there is only one."""


_root.__doc__ = app.info.help


def main() -> None:
    """Run the command; turn every error that is ours into one sentence on standard error."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            # A terminal that cannot show a character shows a mark instead of a traceback.
            stream.reconfigure(errors="replace")
    sys.exit(_run())


def _run() -> int:
    try:
        code = app(standalone_mode=False)
    except click.exceptions.NoArgsIsHelpError as error:
        error.show()
        return 2
    except click.ClickException as error:
        error.show()
        return 2
    except (click.Abort, KeyboardInterrupt, Stopped):
        print("gladebook: stopped; nothing was written.", file=sys.stderr)
        return 130
    except CallError as error:
        print(f"gladebook: {error}", file=sys.stderr)
        return 2
    except GladebookError as error:
        print(f"gladebook: {error}", file=sys.stderr)
        return 3
    except BrokenPipeError:
        # Whoever read the answer stopped reading: no fault, but nothing more can be said there.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    return code if isinstance(code, int) else 0
