"""The plain way from a GPX to areas, as a careful person would write it with libraries; prints JSON.

``python plainway.py PLOTS.geojson TRACK.gpx BOOM_M``. It is run as a script, so that it loads nothing of
gladebook. No boom state is in a GPX, so the boom is taken as on inside the plots.
"""

import json
import sys
from pathlib import Path

import gpxpy
import numpy as np
import pyproj
import shapely
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_utm_crs_info

ACRE_M2 = 4046.8564224


def main(plots: str, track: str, boom_m: float) -> None:
    shapes = [shapely.from_geojson(json.dumps(f["geometry"])) for f in json.loads(Path(plots).read_text())["features"]]
    with Path(track).open(encoding="utf-8") as file:
        read = gpxpy.parse(file)
    segments = [
        np.array([(p.longitude, p.latitude) for p in segment.points]) for t in read.tracks for segment in t.segments
    ]
    west, south, east, north = shapely.total_bounds(shapes)
    zone = query_utm_crs_info("WGS 84", AreaOfInterest(west, south, east, north))[0]
    way = pyproj.Transformer.from_crs(4326, int(zone.code), always_xy=True)
    ground = shapely.union_all(
        shapely.transform(shapes, lambda lonlat: np.column_stack(way.transform(lonlat[:, 0], lonlat[:, 1])))
    )
    shapely.prepare(ground)
    swaths = []
    for lonlat in segments:
        xy = np.column_stack(way.transform(lonlat[:, 0], lonlat[:, 1]))
        inside = shapely.contains_xy(ground, xy[:, 0], xy[:, 1])
        # Stretches in a row inside, at least two points long.
        edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]])))
        runs = [xy[a:b] for a, b in edges.reshape(-1, 2).tolist() if b - a > 1]
        swaths.append(shapely.buffer([shapely.LineString(run) for run in runs], boom_m / 2, cap_style="flat"))
    covered = shapely.union_all(np.concatenate(swaths))
    answer = {
        "treated_acres": shapely.intersection(ground, covered).area / ACRE_M2,
        "missed_acres": shapely.difference(ground, covered).area / ACRE_M2,
        "outside_acres": shapely.difference(covered, ground).area / ACRE_M2,
    }
    print(json.dumps(answer))


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], float(sys.argv[3]))
