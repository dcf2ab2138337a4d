"""Tables for the terminal and the rows of ``--csv``."""

import io
from collections.abc import Sequence
from typing import Any

from gladebook.coverage.result import Coverage
from gladebook.plots.acreage import Measured
from gladebook.spraying.recipe import Mix
from gladebook.units import ACRE_M2
from gladebook.view.figures import acres, amount, feet, gallons

__all__ = ["coverage_rows", "coverage_table", "measure_rows", "measure_table", "mix_table"]

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
    """Acres by plot and kind of ground."""
    header = ["Plot", "Plot ac", "Treated ac", "Missed ac", "Unknown ac", "Overlap ac"]
    rows = [
        [p.name, *(acres(a) for a in (p.plot_m2, p.treated_m2, p.missed_m2, p.unknown_m2, p.overlap_m2))]
        for p in coverage.plots
    ]
    whole = (
        coverage.plot_m2,
        coverage.treated_m2,
        coverage.missed_m2,
        coverage.unknown_m2,
        coverage.overlap_m2,
    )
    return _table(header, rows, total=["Total", *(acres(a) for a in whole)])


def coverage_rows(coverage: Coverage) -> tuple[list[str], list[list[Any]]]:
    """Heading and rows of ``coverage --csv``, at full precision."""
    header = ["name", "plot_acres", "treated_acres", "missed_acres", "overlap_acres", "unknown_acres"]
    rows = [
        [p.name, *(a / ACRE_M2 for a in (p.plot_m2, p.treated_m2, p.missed_m2, p.overlap_m2, p.unknown_m2))]
        for p in coverage.plots
    ]
    return header, rows


def mix_table(mix: Mix) -> str:
    """One column a load, one row a thing to put in; equal loads share a column."""
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
    return _table(header, rows)


def _label(group: list[int]) -> str:
    first, last = group[0] + 1, group[-1] + 1
    return f"Load {first}" if first == last else f"Loads {first} to {last}, each"


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
