"""How fast, beside other ways to the same answer, on the same input in the same run.

``python -m tests.bench [--quick] [--only measure|coverage|readers|engine|whole|property|page]``. Times are medians of
calls in turns, on whatever machine this is; only the ratios are worth quoting. Nothing fails for being slow.

``python -m tests.bench --only doubt [--plots N] [--second | --third] [--plain]`` is about answers instead: how many
of the missed strips told are real, on drawn applications whose truth is known. It runs only when asked for.

``python -m tests.bench --only redraw [--plots N] [--second]`` times redraws of a track, and counts how often the
ranges made of them hold the truth. It too runs only when asked for.
"""

import argparse
import tempfile
from pathlib import Path


def main() -> None:
    asked = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    asked.add_argument("--quick", action="store_true", help="sizes up to 100,000 points, and no whole processes")
    asked.add_argument(
        "--only",
        choices=("measure", "coverage", "readers", "engine", "whole", "property", "page", "doubt", "redraw"),
        help="one kind of row alone",
    )
    asked.add_argument("--plots", type=int, default=20, help="of doubt: plots a cell")
    drawn = asked.add_mutually_exclusive_group()
    drawn.add_argument("--second", action="store_true", help="of doubt: the generator that nothing was tuned on")
    drawn.add_argument("--third", action="store_true", help="of doubt: the one that is run once a method is frozen")
    asked.add_argument("--plain", action="store_true", help="of doubt: forget every verdict, to compare with")
    options = asked.parse_args()
    only = options.only
    # Loaded when needed: each kind of row brings libraries of its own.
    if only in (None, "measure", "coverage"):
        from tests.bench.plain import coverage_rows, measure_rows

        if only != "coverage":
            with tempfile.TemporaryDirectory() as folder:
                measure_rows(Path(folder))
        if only != "measure":
            coverage_rows()
    if only in (None, "readers"):
        from tests.bench.readers import reader_rows

        reader_rows(quick=options.quick)
    if only in (None, "engine"):
        from tests.bench.engine import engine_rows

        engine_rows(quick=options.quick)
    if only == "whole" or (only is None and not options.quick):
        from tests.bench.whole import whole_rows

        whole_rows(quick=options.quick)
    if only in (None, "property"):
        from tests.bench.property import property_rows

        property_rows(quick=options.quick)
    if only == "page" or (only is None and not options.quick):
        from tests.bench.page import page_rows

        page_rows()
    if only in ("doubt", "redraw"):
        _answers(options)


def _answers(options: argparse.Namespace) -> None:
    """Rows about answers, not speed."""
    if options.only == "doubt":
        from tests.bench.doubt import doubt_rows

        generator = "third" if options.third else "second" if options.second else "first"
        doubt_rows(plots=options.plots, generator=generator, plain=options.plain)
    if options.only == "redraw":
        from tests.bench.redraw import redraw_rows

        redraw_rows(plots=options.plots, second=options.second)


if __name__ == "__main__":
    main()
