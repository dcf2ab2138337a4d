"""A rectangular plot of ten passes, and files of drives on it, for commands to read."""

import json
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from gladebook.geometry.frame import Frame
from gladebook.testing import Leg, Points, drive

WIDTH_M, PASSES, LENGTH_M = 4.0, 10, 80.0
SPEED_MPS = 2.0
FRAME = Frame(lon_deg=-86.5, lat_deg=32.4)
FIELD = shapely.box(0, 0, PASSES * WIDTH_M, LENGTH_M)
# Places in the files are rounded to 8 decimals, about a millimetre; over the twenty long edges of ten passes.
ROUNDING_M2 = 1.0
_START = datetime(2026, 9, 28, 13, 0, tzinfo=UTC).timestamp()


def middles() -> list[float]:
    """Where along x each pass is driven when the boom is under the phone."""
    return [(number + 0.5) * WIDTH_M for number in range(PASSES)]


def to_and_fro(lines: Sequence[float], *, leave_out: Sequence[int] = ()) -> Points:
    """Up along the first line, down along the next; the boom is on inside the field and off in the turns."""
    legs: list[Leg] = []
    start: tuple[float, float] | None = None
    for number, x in enumerate(lines, start=1):
        if number in leave_out:
            continue
        up = len([leg for leg in legs if leg.boom_on]) % 2 == 0
        begin, end = (0.0, LENGTH_M) if up else (LENGTH_M, 0.0)
        if start is None:
            start = (x, begin)
        else:
            turn = begin + (-6 if up else 6)
            legs += [Leg(legs[-1].x_m, turn, boom_on=False), Leg(x + 1, turn, boom_on=False)]
            legs.append(Leg(x, begin, boom_on=False))
        legs.append(Leg(x, end, boom_on=True))
    assert start is not None
    return drive(start, legs, speed_mps=SPEED_MPS)


def write_plots(path: Path, shapes: Mapping[str, Any]) -> Path:
    """A GeoJSON file of named shapes in metres."""
    features = [
        {
            "type": "Feature",
            "properties": {"name": name},
            "geometry": json.loads(shapely.to_geojson(FRAME.shape_to_lonlat(shape))),
        }
        for name, shape in shapes.items()
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    return path


def write_track(path: Path, points: Points, **columns: Any) -> Path:
    """A CSV track; each further column has one value, or one for each point."""
    count = len(points.time_s)
    more = [np.broadcast_to(values, count).tolist() for values in columns.values()]
    lines = [",".join(["time", "lat", "lon", "boom_on", *columns])]
    for i, (lon, lat) in enumerate(FRAME.to_lonlat(points.xy_m)):
        moment = datetime.fromtimestamp(_START + float(points.time_s[i]), tz=UTC).isoformat(timespec="milliseconds")
        cells = [moment, f"{lat:.8f}", f"{lon:.8f}", int(points.boom_on[i]), *(values[i] for values in more)]
        lines.append(",".join(map(str, cells)))
    path.write_text("\n".join(lines) + "\n")
    return path


def in_pass(points: Points, number: int) -> Any:
    """Which points lie in a pass, counted from 1 in driving order."""
    on = points.boom_on == 1
    begins = np.concatenate([[on[0]], on[1:] & ~on[:-1]])
    return on & (np.cumsum(begins) == number)
