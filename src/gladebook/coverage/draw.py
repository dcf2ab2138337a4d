"""The shapes of an application, in degrees, for maps."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.coverage.boom import Settled
from gladebook.coverage.ground import Region
from gladebook.coverage.result import Layers
from gladebook.coverage.tally import Tally, draw_kinds
from gladebook.geometry.frame import Frame
from gladebook.geometry.validity import to_draw

__all__ = ["draw_layers"]


def draw_layers(tally: Tally, *, settled: Sequence[Settled], frame: Frame) -> Layers:
    """Draw all kinds of ground, and the tracks."""
    draw = draw_kinds(tally)

    def plot(region: Region | None) -> bool:
        return region is not None and region.kind == "plot"

    def beyond(region: Region | None) -> bool:
        return region is None or region.kind in ("edge", "obstacle")

    shapes = {
        "treated": draw(lambda region, count, _: plot(region) and count >= 1),
        "missed": draw(lambda region, count, veiled: plot(region) and count == 0 and not veiled),
        "overlap": draw(lambda region, count, _: plot(region) and count >= 2),
        "outside": draw(lambda region, count, _: beyond(region) and count >= 1),
        "unknown": draw(lambda region, count, veiled: plot(region) and count == 0 and veiled),
        "left": draw(lambda region, _count, _veiled: region is not None and region.kind == "left"),
    }
    tracks = {state: _lines(settled, state=state) for state in (True, False)}
    return Layers(
        **{name: frame.shape_to_lonlat(to_draw(shape)) for name, shape in shapes.items()},
        track_on=frame.shape_to_lonlat(tracks[True]),
        track_off=frame.shape_to_lonlat(tracks[False]),
    )


def _lines(settled: Sequence[Settled], *, state: bool) -> Any:
    """The tracks where the boom is on, or off, as lines."""
    found: list[Any] = []
    for one in settled:
        on: npt.NDArray[np.bool_] = np.logical_or.reduce(one.lanes.on, axis=0)
        steps = np.flatnonzero(~one.path.cut & (on[:-1] == state))
        runs = [run for run in np.split(steps, np.flatnonzero(np.diff(steps) != 1) + 1) if len(run)]
        found += [shapely.linestrings(one.path.xy_m[run[0] : run[-1] + 2]) for run in runs]
    return shapely.MultiLineString(found)
