"""From a tally to the figures of plots, of all plots together, and of the ground outside."""

from collections.abc import Sequence
from typing import Any

from gladebook.coverage.ground import Marks, is_water
from gladebook.coverage.result import Outside, PlotCoverage
from gladebook.coverage.tally import Tally
from gladebook.plots.acreage import PlotAcres

__all__ = ["outside_figures", "plot_figures", "total_figures"]


def plot_figures(plots: Sequence[PlotAcres], planes: Sequence[Any], *, tally: Tally) -> list[PlotCoverage]:
    """Each plot's figures, from the regions that lie in it."""
    within: dict[int, list[int]] = {}
    for number, region in enumerate(tally.ground.regions, start=1):
        if region.kind != "obstacle":
            for plot in region.members:
                within.setdefault(plot, []).append(number)
    return [
        _row(p.name, within.get(i, []), tally=tally, plot_m2=float(plane.area))
        for i, (p, plane) in enumerate(zip(plots, planes, strict=True))
    ]


def total_figures(tally: Tally) -> PlotCoverage:
    """All plots, shared ground counted once."""
    within = [i for i, r in enumerate(tally.ground.regions, start=1) if r.kind in ("plot", "left")]
    return _row("", within, tally=tally, plot_m2=0.0)


def _row(name: str, within: list[int], *, tally: Tally, plot_m2: float) -> PlotCoverage:
    kind = [tally.ground.regions[i - 1].kind for i in within]
    figures = tally.area_m2[within]
    judged = figures[[k == "plot" for k in kind]].sum(axis=0)
    left = figures[[k == "left" for k in kind]].sum(axis=0)
    count = judged.sum(axis=1)
    return PlotCoverage(
        name=name,
        plot_m2=plot_m2,
        treated_m2=float(count[1:].sum()),
        missed_m2=float(judged[0, 0]),
        overlap_m2=float(count[2:].sum()),
        unknown_m2=float(judged[0, 1]),
        left_m2=float(left.sum()),
        left_sprayed_m2=float(left[1:].sum()),
        count_m2=(float(count[0]), float(count[1]), float(count[2]), float(count[3])),
    )


def outside_figures(tally: Tally, *, marks: Marks) -> Outside:
    """What was sprayed outside every plot: over obstacles, over the edge, elsewhere."""
    sprayed = tally.area_m2[:, 1:].sum(axis=(1, 2))
    regions = list(enumerate(tally.ground.regions, start=1))
    obstacles = [
        (marks.obstacles[r.members[0]].name, is_water(marks.obstacles[r.members[0]]), float(sprayed[i]))
        for i, r in regions
        if r.kind == "obstacle" and sprayed[i] > 0
    ]
    return Outside(
        edge_m2=float(sum(sprayed[i] for i, r in regions if r.kind == "edge")),
        elsewhere_m2=float(sprayed[0]),
        obstacles=tuple(sorted(obstacles, key=lambda o: (not o[1], -o[2]))),
    )
