"""Tables for the terminal and the rows of ``--csv``."""

import io
from collections.abc import Sequence
from typing import Any

from gladebook.coverage.result import Coverage
from gladebook.plots.acreage import Measured
from gladebook.spraying.recipe import Mix
from gladebook.units import ACRE_M2
from gladebook.view.figures import acres, amount, feet, gallons
from gladebook.view.totals import WORTH_SAYING_M2, thrice_m2
from gladebook.view.words import TREATED_MEANS, stop_words

__all__ = [
    "coverage_cells",
    "coverage_rows",
    "coverage_table",
    "measure_rows",
    "measure_table",
    "mix_cells",
    "mix_lines",
    "mix_table",
    "plain_table",
]

_WIDE = 160


def measure_table(measured: Measured) -> str:
    """Acres by plot; columns that are empty throughout are left out."""
    out = any(p.obstacle_m2 > 0 for p in measured.plots)
    back = any(p.setback_m2 > 0 for p in measured.plots)
    header = ["Plot", "Acres", "95 % range"]
    header += ["Gross ac"] if out or back else []
    header += ["Obstacles ac"] if out else []
    header += ["Setback ac"] if back else []
    header += ["Perimeter"]
    rows: list[list[str]] = []
    for p in measured.plots:
        row = [p.name, acres(p.net_m2), f"{acres(p.low_m2)} to {acres(p.high_m2)}"]
        row += [acres(p.gross_m2)] if out or back else []
        row += [acres(p.obstacle_m2)] if out else []
        row += [acres(p.setback_m2)] if back else []
        rows.append([*row, feet(p.perimeter_m)])
    total = ["Total", acres(measured.total_m2), *[""] * (len(header) - 2)]
    return _table(header, rows, total=total)


def measure_rows(measured: Measured) -> tuple[list[str], list[list[Any]]]:
    """Heading and rows of ``measure --csv``, at full precision."""
    header = [
        "name",
        "acres",
        "gross_acres",
        "obstacle_acres",
        "setback_acres",
        "perimeter_m",
        "acres_low",
        "acres_high",
    ]
    rows = [
        [
            p.name,
            p.net_m2 / ACRE_M2,
            p.gross_m2 / ACRE_M2,
            p.obstacle_m2 / ACRE_M2,
            p.setback_m2 / ACRE_M2,
            p.perimeter_m,
            p.low_m2 / ACRE_M2,
            p.high_m2 / ACRE_M2,
        ]
        for p in measured.plots
    ]
    return header, rows


def coverage_table(coverage: Coverage) -> str:
    """Acres by plot and kind of ground, and under it what treated means."""
    header, rows, total = coverage_cells(coverage)
    return f"{_table(header, rows, total=total)}Treated: {TREATED_MEANS}.\n"


def coverage_cells(coverage: Coverage) -> tuple[list[str], list[list[str]], list[str]]:
    """Heading, rows and total of the table of plots; unknown, 3+ and left columns that are empty are left out."""
    c = coverage
    columns = [
        ("Plot ac", [p.plot_m2 for p in c.plots], c.plot_m2),
        ("Treated ac", [p.treated_m2 for p in c.plots], c.treated_m2),
        ("Missed ac", [p.missed_m2 for p in c.plots], c.missed_m2),
    ]
    if c.unknown_m2 > 0:
        columns.append(("Unknown ac", [p.unknown_m2 for p in c.plots], c.unknown_m2))
    columns.append(("Overlap ac", [p.overlap_m2 for p in c.plots], c.overlap_m2))
    if thrice_m2(c) >= WORTH_SAYING_M2:
        columns.append(("3+ times ac", [p.count_m2[3] for p in c.plots], thrice_m2(c)))
    if c.left_m2 > 0:
        columns.append(("Left on purpose ac", [p.left_m2 for p in c.plots], c.left_m2))
    header = ["Plot", *(name for name, _, _ in columns)]
    rows = [[p.name, *(acres(by_plot[i]) for _, by_plot, _ in columns)] for i, p in enumerate(c.plots)]
    return header, rows, ["Total", *(acres(whole) for _, _, whole in columns)]


def coverage_rows(coverage: Coverage) -> tuple[list[str], list[list[Any]]]:
    """Heading and rows of ``coverage --csv``, at full precision; new columns come at the end only."""
    header = ["name", "plot_acres", "treated_acres", "missed_acres", "overlap_acres", "unknown_acres"]
    header += ["left_on_purpose_acres", "left_on_purpose_sprayed_acres"]
    header += ["count_0_acres", "count_1_acres", "count_2_acres", "count_3_or_more_acres"]
    header += ["passes_found", "passes_needed"]
    rows: list[list[Any]] = []
    for p, passes in zip(coverage.plots, coverage.passes, strict=True):
        figures = (p.plot_m2, p.treated_m2, p.missed_m2, p.overlap_m2, p.unknown_m2, p.left_m2, p.left_sprayed_m2)
        counts = (passes.found, "" if passes.needed is None else passes.needed)
        rows.append([p.name, *(a / ACRE_M2 for a in (*figures, *p.count_m2)), *counts])
    return header, rows


def mix_lines(mix: Mix, *, words: Sequence[str]) -> list[str]:
    """A mix as it is printed and kept: its sentences, what goes in, where each load goes, and the cautions."""
    cautions = [f"- {caution}" for caution in mix.cautions]
    return [*words, "", *mix_table(mix).splitlines(), *stop_words(mix), "Cautions:", *cautions]


def mix_table(mix: Mix) -> str:
    """`mix_cells` as plain text."""
    return _table(*mix_cells(mix))


def mix_cells(mix: Mix) -> tuple[list[str], list[list[str]]]:
    """Header and rows: one column a load, one row a thing to put in; equal loads share a column."""
    groups: list[list[int]] = []
    for k, load in enumerate(mix.loads):
        last = mix.loads[groups[-1][-1]] if groups else None
        if last is not None and abs(last.mixed_m3 - load.mixed_m3) < 1e-12:
            groups[-1].append(k)
        else:
            groups.append([k])
    columns = [mix.loads[g[0]] for g in groups]
    header = ["Into the tank", *(_label(g) for g in groups), "Whole job"]
    rows = [
        ["Ground", *(f"{acres(c.area_m2)} ac" for c in columns), f"{acres(mix.area_m2)} ac"],
        [
            "Fill to",
            *(gallons(c.spray_m3 + mix.sump_m3) for c in columns),
            f"{gallons(mix.spray_m3 + mix.sump_m3)} mixed",
        ],
        ["Water", *(gallons(c.water_m3) for c in columns), gallons(sum(load.water_m3 for load in mix.loads))],
    ]
    for i, whole in enumerate(mix.totals):
        cells = [amount(c.products[i].amount, unit=c.products[i].unit) for c in columns]
        rows.append([whole.name, *cells, amount(whole.amount, unit=whole.unit)])
    return header, rows


def _label(group: list[int]) -> str:
    first, last = group[0] + 1, group[-1] + 1
    return f"Load {first}" if first == last else f"Loads {first} to {last}, each"


def plain_table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Any table: the first column to the left, all others to the right."""
    return _table(header, rows)


def _table(header: Sequence[str], rows: Sequence[Sequence[str]], *, total: Sequence[str] | None = None) -> str:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_edge=False, header_style="")
    for i, title in enumerate(header):
        table.add_column(Text(title), justify="left" if i == 0 else "right", overflow="fold", no_wrap=i > 0)
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    if total is not None:
        table.add_row(*(Text("-" * len(cell)) for cell in total))
        table.add_row(*(Text(cell) for cell in total))
    out = io.StringIO()
    Console(file=out, width=_WIDE, color_system=None, force_terminal=False).print(table)
    return "\n".join(line.rstrip() for line in out.getvalue().splitlines()) + "\n"
