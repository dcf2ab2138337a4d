"""The ``gladebook`` command: its root, and the one place where errors become text and exit codes.

Exit codes: 0 done; 2 a mistake in the call; 3 bad input, or an answer that could not be written;
130 stopped by the user.
"""

import signal
import sys

import typer

from gladebook.cli import choose, coverage, demo, draw, gallons, look, measure, mix, serve, today
from gladebook.cli.calibrate import app as calibrate_app
from gladebook.cli.property import app as property_app
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
for _name, _command, _short in (
    ("look", look.look, "What a file is, and what would come in."),
    ("measure", measure.measure, "True acres of every plot, and how sure they are."),
    ("coverage", coverage.coverage, "What one application treated, missed and overlapped."),
    ("gallons", gallons.gallons, "Do the gallons used fit the acres? Needs no GPS."),
    ("mix", mix.mix, "How much of each product goes into each load."),
    ("choose", choose.choose, "Which ingredients fit the stand and the weed, and why."),
    ("today", today.today, "Checks before a spray: what conflicts, what was not checked."),
    ("serve", serve.serve, "The property as a page in your browser."),
    ("map", draw.draw, "One page with the map; opens without internet."),
    ("demo", demo.demo, "The whole job on an invented property."),
):
    app.command(_name, short_help=_short)(_command)

app.add_typer(calibrate_app, name="calibrate", short_help="What to set on the sprayer, and what it puts out.")
app.add_typer(property_app, name="property", short_help="Keep plots, applications and skips in one file, with undo.")


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
    signal.signal(signal.SIGINT, _stop)
    try:
        app()
    except Stopped as error:
        _leave(error, code=130)
    except CallError as error:
        _leave(error, code=2)
    except GladebookError as error:
        _leave(error, code=3)


def _stop(_number: int, _frame: object) -> None:
    raise Stopped("stopped; nothing more was written.")


def _leave(error: GladebookError, *, code: int) -> None:
    print(f"gladebook: {error}", file=sys.stderr)
    sys.exit(code)
