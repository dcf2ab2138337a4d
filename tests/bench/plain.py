"""Measure and coverage beside the plain GeoPandas way, on the same input, in turns."""

import json
from pathlib import Path

import geopandas
import numpy as np
import shapely

import gladebook
from gladebook.testing import drive, parallel_passes, plot_on, rectangle, track_on
from tests.bench.fields import BOOM_M, FRAME
from tests.bench.turns import in_turns

__all__ = ["coverage_rows", "measure_rows"]


def many_plots(count: int) -> str:
    """GeoJSON of crooked plots with 24 corners each."""
    rng = np.random.default_rng(7)
    features = []
    for k in range(count):
        angle = np.linspace(0, 2 * np.pi, 24, endpoint=False)
        r = 40 + rng.uniform(-8, 8, 24)
        at = np.array([200.0 * (k % 100), 200.0 * (k // 100)])
        xy = np.column_stack([r * np.cos(angle), r * np.sin(angle)]) + at
        shape = FRAME.shape_to_lonlat(shapely.Polygon(xy))
        features.append(
            {"type": "Feature", "properties": {"name": str(k)}, "geometry": shapely.geometry.mapping(shape)}
        )
    return json.dumps({"type": "FeatureCollection", "features": features})


def measure_rows(folder: Path) -> None:
    for count in (10, 100, 1000):
        path = folder / f"plots{count}.geojson"
        path.write_text(many_plots(count))

        def ours(path: Path = path) -> float:
            return gladebook.measure_plots(gladebook.read_plots(path)).total_m2

        def theirs(path: Path = path) -> float:
            frame = geopandas.read_file(path)
            return float(frame.to_crs(frame.estimate_utm_crs()).area.sum())

        a, b = in_turns(ours, theirs)
        off = theirs() / ours() - 1
        print(
            f"measure   {count:>8} plots   {a:8.3f} s   GeoPandas, UTM {b:8.3f} s   ratio {b / a:6.2f}   "
            f"its area is off by {100 * off:+.3f} %"
        )


def coverage_rows() -> None:
    for side_m in (60.0, 190.0, 600.0):
        coverage_row(side_m)


def coverage_row(side_m: float) -> None:
    """A square plot with one pass left out, against buffering each step: no count, no unknown, no strips."""
    ground = rectangle(side_m, side_m)
    start, legs = parallel_passes(ground, width_m=BOOM_M, spacing_m=BOOM_M * 0.95, leave_out=(5,))
    track = track_on(drive(start, legs, speed_mps=2.0), frame=FRAME)
    plots = gladebook.measure_plots([plot_on("plot", ground, frame=FRAME)]).plots

    def ours() -> float:
        return gladebook.cover_plots(plots, [track], sprayer=gladebook.Sprayer(width_m=BOOM_M)).missed_m2

    def theirs() -> float:
        lonlat = np.column_stack([track.lon_deg, track.lat_deg])
        on = np.flatnonzero(track.boom_on[:-1] == 1)
        steps = shapely.linestrings(np.stack([lonlat[on], lonlat[on + 1]], axis=1))
        plane = geopandas.GeoSeries(steps, crs=4326).to_crs(32616)
        swaths = plane.buffer(BOOM_M / 2, cap_style="flat").union_all()
        plot = geopandas.GeoSeries([plots[0].shape], crs=4326).to_crs(32616)
        return float(plot.difference(swaths).area.sum())

    a, b = in_turns(ours, theirs, rounds=3)
    exact = side_m * (BOOM_M * 0.9)  # the left-out pass, less what its neighbours cover
    print(
        f"coverage  {len(track):>8} points  {a:8.3f} s   GeoPandas, buffer {b:8.3f} s   ratio {b / a:6.2f}   "
        f"missed {ours():.1f} against its {theirs():.1f} m2 (planted {exact:.1f})"
    )
