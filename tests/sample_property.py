"""The invented property of sample_maps/: how it is drawn, driven, and what it must give.

Run ``python -m tests.sample_property`` from the checkout to write the folder anew; a test holds
that the folder is what this file draws. Nothing here is a real place.
"""

import csv
import io
import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from gladebook.geometry.frame import Frame
from gladebook.testing import Leg, Points, drive, parallel_passes, rectangle
from gladebook.units import FT_M
from tests.sample_labels import WEATHER, labels_csv

FOLDER = Path(__file__).parents[1] / "sample_maps"
CENTRE = Frame(lon_deg=-86.7315, lat_deg=32.4127)
BOOM_M = 12 * FT_M
SPACING_M = 11 * FT_M
START = datetime(2026, 9, 28, 12, 40, tzinfo=UTC).timestamp()

FLAT_PASSES, ANNEX_PASSES, FLAT_LENGTH_M = 16, 8, 80.0
FLAT_AT = (250.0, -40.0)
LATE_M, OVERRUN_M, SHIFT_M = 6.0, 10.0, 1.0
FIREBREAK_TURN_DEG, FIREBREAK_AT = -62.0, (-330.0, -150.0)
GAP_S, SPEED_MPS = 60.0, 2.0
KIDNEY_LEFT_OUT = 7
TURN_BEFORE, TURN_CHORDS = 21, 16


def smooth(radii: Any, *, at: tuple[float, float], corners: int) -> Any:
    """A closed shape from a radius that depends on the angle."""
    angle = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    r = radii(angle)
    return shapely.Polygon(np.column_stack([at[0] + r * np.cos(angle), at[1] + r * np.sin(angle)]))


def ground() -> dict[str, Any]:
    """Plots in metres, in the order of the file."""
    kidney = smooth(
        lambda a: 42 - 17 * np.exp(-(((a - np.pi / 2) / 0.7) ** 2)) + 5 * np.cos(2 * a),
        at=(-230, 150),
        corners=44,
    )
    wasp = smooth(lambda a: 13 + 34 * np.cos(a - 0.9) ** 2, at=(-60, 190), corners=36)
    pond_patch = smooth(lambda a: 50 + 4 * np.sin(3 * a) + 3 * np.cos(5 * a), at=(120, 170), corners=40)
    twin_a = smooth(lambda a: 21 + 2 * np.cos(3 * a), at=(20, -20), corners=24)
    twin_b = smooth(lambda a: 17 + 2 * np.sin(2 * a), at=(75, 20), corners=20)
    return {
        "Kidney Bottom": kidney,
        "Wasp Waist": wasp,
        "Long Firebreak": rectangle(20 * FT_M, 1000 * FT_M, at=FIREBREAK_AT, turn_deg=FIREBREAK_TURN_DEG),
        "Pond Patch": pond_patch,
        "Twin Clearings": shapely.MultiPolygon([twin_a, twin_b]),
        "Cedar Flat": rectangle(FLAT_PASSES * BOOM_M, FLAT_LENGTH_M, at=FLAT_AT),
        "Cedar Annex": rectangle(
            ANNEX_PASSES * BOOM_M, FLAT_LENGTH_M, at=(FLAT_AT[0] + FLAT_PASSES * BOOM_M, FLAT_AT[1])
        ),
    }


def pond() -> Any:
    """The pond in Pond Patch, in metres."""
    return smooth(lambda a: 13 + 2 * np.cos(2 * a), at=(128, 166), corners=24)


def cedar_legs() -> tuple[tuple[float, float], list[Leg]]:
    """Both Cedar plots, pass by pass along y, with everything planted in them.

    Flat: the 7th pass left out; the 3rd and 12th with the boom on 6 m late; the 10th 1 m too far
    east; the 14th with the boom on for 10 m beyond the edge. Annex: nothing missed; the half turn
    into its 21st pass is driven with the boom on, its inner tip standing still, outside the plot.
    """
    x0, y0 = FLAT_AT
    y1 = y0 + FLAT_LENGTH_M
    legs: list[Leg] = []
    start: tuple[float, float] | None = None
    up = True
    for number in range(1, FLAT_PASSES + ANNEX_PASSES + 1):
        if number == 7:
            continue
        x = x0 + (number - 0.5) * BOOM_M + (SHIFT_M if number == 10 else 0.0)
        begin, end = (y0, y1) if up else (y1, y0)
        ahead = 1.0 if up else -1.0
        if start is None:
            start = (x, begin)
        elif number == TURN_BEFORE:
            legs += half_circle(legs[-1], to_x=x, outward=-ahead)
        else:
            legs += [
                Leg(legs[-1].x_m, legs[-1].y_m - ahead * 4, boom_on=False),
                Leg(x, begin - ahead * 4, boom_on=False),
            ]
            legs.append(Leg(x, begin, boom_on=False))
        if number in (3, 12):
            legs.append(Leg(x, begin + ahead * LATE_M, boom_on=False))
        legs.append(Leg(x, end, boom_on=True))
        if number == 14:
            legs.append(Leg(x, end + ahead * OVERRUN_M, boom_on=True))
        up = not up
    assert start is not None
    return start, legs


def half_circle(before: Leg, *, to_x: float, outward: float) -> list[Leg]:
    """A half turn with the boom on, from the end of a pass to the start of the next, in short chords."""
    middle, radius = (before.x_m + to_x) / 2, (to_x - before.x_m) / 2
    angles = np.linspace(np.pi, 0, TURN_CHORDS + 1)[1:]
    return [
        Leg(float(middle + radius * np.cos(a)), float(before.y_m + outward * radius * np.sin(a)), boom_on=True)
        for a in angles
    ]


def firebreak_points() -> Points:
    """Two passes along the firebreak 8 ft apart, a turn beyond its end, and a minute without reception."""
    along, across = rectangle_axes(FIREBREAK_TURN_DEG)
    corner = np.array(FIREBREAK_AT)
    length = 1000 * FT_M

    def at(u: float, v: float) -> tuple[float, float]:
        x, y = corner + u * along + v * across
        return float(x), float(y)

    near, far = 6 * FT_M, 14 * FT_M
    turn = [at(length + 8 + 4 * FT_M * np.sin(a), 10 * FT_M - 4 * FT_M * np.cos(a)) for a in np.linspace(0, np.pi, 7)]
    places = [at(length + 8, near), *turn[1:-1], at(length + 8, far), at(-8, far)]
    points = drive(at(-8, near), [Leg(*p, boom_on=True) for p in places], speed_mps=SPEED_MPS, start_s=START + 7200)
    # The gap: the minute that begins when the second pass is 90 m from the firebreak's end.
    v = (points.xy_m - corner) @ across
    u = (points.xy_m - corner) @ along
    second = v > 10 * FT_M
    lost = second & (u < length - 90 + 1e-6) & (u > length - 90 - GAP_S * SPEED_MPS + 1e-6)
    keep = ~lost
    return Points(points.xy_m[keep], points.time_s[keep], points.boom_on[keep])


def rectangle_axes(turn_deg: float) -> tuple[Any, Any]:
    """Unit vectors along the length and the width of a turned rectangle."""
    angle = np.radians(turn_deg)
    return np.array([-np.sin(angle), np.cos(angle)]), np.array([np.cos(angle), np.sin(angle)])


def crooked_points() -> list[Points]:
    """The crooked plots, one after the other, passes 11 ft apart with a 12 ft boom."""
    plots = ground()
    jobs: list[tuple[Any, tuple[int, ...]]] = [
        (plots["Kidney Bottom"], (KIDNEY_LEFT_OUT,)),
        (plots["Wasp Waist"], ()),
        (shapely.difference(plots["Pond Patch"], pond()), ()),
        (plots["Twin Clearings"].geoms[0], ()),
        (plots["Twin Clearings"].geoms[1], ()),
    ]
    drives: list[Points] = []
    clock = START
    for shape, left_out in jobs:
        start, legs = parallel_passes(shape, width_m=BOOM_M, spacing_m=SPACING_M, leave_out=left_out)
        drives.append(drive(start, legs, speed_mps=SPEED_MPS, start_s=clock))
        clock = float(drives[-1].time_s[-1]) + 30
    start, legs = cedar_legs()
    drives.append(drive(start, legs, speed_mps=SPEED_MPS, start_s=clock))
    return drives


def planted() -> dict[str, dict[str, float]]:
    """What was planted, in m2, by closed form or by plain geometry of the drawing; never by the engine."""
    gap_m = _gap_length_m()
    kidney = ground()["Kidney Bottom"]
    west = shapely.bounds(kidney)[0]
    left = west + BOOM_M / 2 + (KIDNEY_LEFT_OUT - 1) * SPACING_M - SPACING_M + BOOM_M / 2
    right = left + 2 * SPACING_M - BOOM_M
    strip = shapely.intersection(kidney, shapely.box(left, -1000, right, 1000))
    return {
        "Long Firebreak": {
            "plot": 1000 * FT_M * 20 * FT_M,
            "unknown": gap_m * 8 * FT_M,
            "overlap": (1000 * FT_M - gap_m) * 4 * FT_M,
            "missed": 0.0,
        },
        "Cedar Flat": {
            "plot": FLAT_PASSES * BOOM_M * FLAT_LENGTH_M,
            "missed": BOOM_M * FLAT_LENGTH_M + 2 * BOOM_M * LATE_M + SHIFT_M * FLAT_LENGTH_M,
            "overlap": SHIFT_M * FLAT_LENGTH_M,
            "unknown": 0.0,
        },
        "Cedar Annex": {
            "plot": ANNEX_PASSES * BOOM_M * FLAT_LENGTH_M,
            "missed": 0.0,
            "overlap": 0.0,
            "unknown": 0.0,
        },
        "Kidney Bottom": {"missed": float(strip.area), "unknown": 0.0},
        "outside": {
            "crooked plots": _outside_crooked_m2(),
            "overrun": BOOM_M * OVERRUN_M,
            "turn": np.pi * BOOM_M**2 / 2,
        },
    }


def _outside_crooked_m2() -> float:
    """Plain boxes round each pass over the crooked plots, less the plots and with the pond outside."""
    boxes = []
    for points in crooked_points()[:-1]:
        for i in np.flatnonzero(points.boom_on[:-1] == 1):
            (x, y0), (_, y1) = points.xy_m[i], points.xy_m[i + 1]
            boxes.append(shapely.box(x - BOOM_M / 2, min(y0, y1), x + BOOM_M / 2, max(y0, y1)))
    plots = shapely.difference(shapely.union_all(list(ground().values())), pond())
    return float(shapely.difference(shapely.union_all(boxes), plots).area)


def _gap_length_m() -> float:
    """Along the second pass, from the last point before the gap to the first one after it."""
    points = firebreak_points()
    along, _ = rectangle_axes(FIREBREAK_TURN_DEG)
    u = (points.xy_m - np.array(FIREBREAK_AT)) @ along
    return float(np.abs(np.diff(u)).max())


def files() -> dict[str, str]:
    """The texts of the folder's inputs by file name."""
    return {
        "plots.geojson": _geojson([(name, shape) for name, shape in ground().items()]),
        "ponds.geojson": _geojson([("Pond", pond())]),
        "sprayed.csv": _csv(crooked_points()),
        "firebreak.gpx": _gpx(firebreak_points()),
        "labels.csv": labels_csv(),
        "weather.csv": WEATHER,
    }


def _geojson(shapes: list[tuple[str, Any]]) -> str:
    features = []
    for name, shape in shapes:
        lonlat = shapely.transform(CENTRE.shape_to_lonlat(shape), lambda xy: xy.round(8))
        features.append(
            {
                "type": "Feature",
                "properties": {"name": name},
                "geometry": json.loads(shapely.to_geojson(shapely.orient_polygons(lonlat))),
            }
        )
    lines = ",\n".join(json.dumps(f) for f in features)
    return '{"type": "FeatureCollection", "features": [\n' + lines + "\n]}\n"


def _csv(drives: list[Points]) -> str:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["time", "lat", "lon", "boom_on"])
    for points in drives:
        for (lon, lat), t, on in zip(CENTRE.to_lonlat(points.xy_m), points.time_s, points.boom_on, strict=True):
            writer.writerow([_iso(float(t)), f"{lat:.8f}", f"{lon:.8f}", int(on)])
    return out.getvalue()


def _gpx(points: Points) -> str:
    rows = [
        f'<trkpt lat="{lat:.8f}" lon="{lon:.8f}"><time>{_iso(float(t))}</time></trkpt>'
        for (lon, lat), t in zip(CENTRE.to_lonlat(points.xy_m), points.time_s, strict=True)
    ]
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" '
        'creator="gladebook sample">\n<trk><name>firebreak</name><trkseg>\n'
        + "\n".join(rows)
        + "\n</trkseg></trk>\n</gpx>\n"
    )


def _iso(t: float) -> str:
    return datetime.fromtimestamp(round(t, 3), tz=UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def numbers() -> dict[str, Any]:
    """What the folder must give: the planted parts, and every answer as computed."""
    from gladebook.jobs.demo import demo_answers

    answers = demo_answers(FOLDER)
    return {
        "planted_m2": planted(),
        "measure": answers.measure,
        "coverage": answers.coverage,
        "mix": answers.mix,
    }


def main() -> None:
    """Write the folder."""
    FOLDER.mkdir(exist_ok=True)
    for name, text in files().items():
        (FOLDER / name).write_text(text, encoding="utf-8", newline="\n")
    (FOLDER / "numbers.json").write_text(json.dumps(numbers(), indent=1) + "\n", encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
