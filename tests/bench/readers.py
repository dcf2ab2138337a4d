"""The readers of long recordings and of many boundaries beside general libraries: times, and memory of whole processes.

What each gives is compared too: as many points or polygons, and the same middle of them.
"""

import functools
import json
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas
import gpxpy
import numpy as np
import pynmea2
import pyogrio
import shapely

from gladebook import read_plots, read_track
from tests.bench.fields import Field, as_gpx, as_track, make_field
from tests.bench.fresh import ask_peak
from tests.bench.plain import many_plots
from tests.bench.turns import Timed, take_turns
from tests.io import nmealog

__all__ = ["READERS", "reader_rows"]

_SIZES, _QUICK_SIZES = (100_000, 1_000_000), (100_000,)
_POLYGONS, _QUICK_POLYGONS = 100_000, 10_000
_LONGEST_S, _ENOUGH_S, _ROUNDS = 60.0, 12.0, 3
_MB = 1e6
_PEAK_AIM_MB, _PEAK_AIM_POINTS = 300.0, 1_000_000
_PLOT_AIM = 1.0
_SAME_DEG = 1e-7
_OURS = "gladebook"
_START_S = 46_800.0
_STEP_S = 0.25

Answer = tuple[int, float, float]  # how many, and the middle of their longitudes and latitudes


def ours_track(path: Path) -> Answer:
    track = read_track(path)
    return len(track), float(track.lon_deg.mean()), float(track.lat_deg.mean())


def gpx_by_gpxpy(path: Path) -> Answer:
    with path.open(encoding="utf-8") as file:
        read = gpxpy.parse(file)
    lonlat = np.array([(p.longitude, p.latitude) for p in read.walk(only_points=True)])
    return len(lonlat), *lonlat.mean(axis=0).tolist()


def gpx_by_pyogrio(path: Path) -> Answer:
    """GDAL's driver, as arrays: its points are left in WKB until the mean is asked for."""
    _, _, wkb, _ = pyogrio.raw.read(path, layer="track_points")
    lonlat = shapely.get_coordinates(shapely.from_wkb(wkb))
    return len(lonlat), *lonlat.mean(axis=0).tolist()


def nmea_by_pynmea2(path: Path) -> Answer:
    """Each sentence, with its checksum; one point for each GGA."""
    lonlat = [
        (said.longitude, said.latitude)
        for said in (pynmea2.parse(line, check=True) for line in path.read_text(encoding="ascii").splitlines())
        if said.sentence_type == "GGA"
    ]
    return len(lonlat), *np.array(lonlat).mean(axis=0).tolist()


def ours_plots(path: Path) -> Answer:
    return _middle(np.array([plot.shape for plot in read_plots(path)], dtype=object))


def plots_by_geopandas(path: Path) -> Answer:
    return _middle(np.asarray(geopandas.read_file(path).geometry.values))


def checked_by_geopandas(path: Path) -> Answer:
    """With the one check of ours that a plain script would make too: why a polygon is not valid."""
    shapes = np.asarray(geopandas.read_file(path).geometry.values)
    reasons = shapely.is_valid_reason(shapes)
    if (reasons != "Valid Geometry").any():
        raise ValueError
    return _middle(shapes)


def json_alone(path: Path) -> Answer:
    """No shapes at all: the floor of whoever reads GeoJSON with the standard library."""
    features = json.loads(path.read_text(encoding="utf-8"))["features"]
    return len(features), np.nan, np.nan


def _middle(shapes: Any) -> Answer:
    return len(shapes), *shapely.get_coordinates(shapes).mean(axis=0).tolist()


READERS: Mapping[str, Callable[[Path], Answer]] = {
    read.__name__: read
    for read in (
        *(ours_track, gpx_by_gpxpy, gpx_by_pyogrio, nmea_by_pynmea2),
        *(ours_plots, plots_by_geopandas, checked_by_geopandas, json_alone),
    )
}
_GPX = {_OURS: ours_track, "gpxpy": gpx_by_gpxpy, "pyogrio, arrays": gpx_by_pyogrio}
_NMEA = {_OURS: ours_track, "pynmea2": nmea_by_pynmea2}
_GEOJSON = {
    _OURS: ours_plots,
    "geopandas.read_file": plots_by_geopandas,
    "and is_valid_reason": checked_by_geopandas,
    "json.loads alone": json_alone,
}


def reader_rows(*, quick: bool) -> None:
    """Print all rows."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        before: dict[str, dict[int, dict[str, Timed]]] = {}
        for size in _QUICK_SIZES if quick else _SIZES:
            field = make_field(size)
            for words, file, write, readers in (
                ("GPX", "lean.gpx", as_gpx, _GPX),
                ("GPX with extensions", "rich.gpx", _as_rich_gpx, _GPX),
                ("NMEA, RMC and GGA", "log.nmea", _as_nmea, _NMEA),
            ):
                path = folder / file
                path.write_text(write(field), encoding="ascii")
                row = _Row(words, path, size, "points", readers)
                before.setdefault(words, {})[size] = _print_row(row, before=before.get(words, {}))
                path.unlink()
        count = _QUICK_POLYGONS if quick else _POLYGONS
        path = folder / "plots.geojson"
        path.write_text(many_plots(count), encoding="ascii")
        _print_plots(_Row("GeoJSON", path, count, "polygons of 24 corners", _GEOJSON))


@dataclass(frozen=True)
class _Row:
    words: str
    path: Path
    size: int
    of: str
    readers: Mapping[str, Callable[[Path], Answer]]


def _print_row(row: _Row, *, before: dict[int, dict[str, Timed]]) -> dict[str, Timed]:
    """Time all readers in turns, then each in a process of its own for its memory, and print."""
    skipped = {name: _too_long(name, row.size, before=before) for name in row.readers}
    works = {name: functools.partial(read, row.path) for name, read in row.readers.items() if not skipped[name]}
    found = take_turns(works, rounds=_ROUNDS, enough_s=_ENOUGH_S)
    ours = found[_OURS]
    print(f"readers   {row.words} of {row.size:,} {row.of} ({row.path.stat().st_size / _MB:.0f} MB)")
    print(f"  {'':<22} {'seconds':>9} {'cpu s':>9} {'calls':>5} {'of ours':>8} {'peak MB':>8}")
    for name, read in row.readers.items():
        if skipped[name]:
            print(f"  {name:<22} not run: {skipped[name]}")
            continue
        timed = found[name]
        times = f"{timed.seconds:9.3f} {timed.cpu_s:9.3f} {timed.calls:>5} {timed.cpu_s / ours.cpu_s:8.2f}"
        if isinstance(timed.answer, Exception):
            print(f"  {name:<22} {times}   failed: {str(timed.answer)[:80]}")
            continue
        peak_mb = _peak_mb(read, row.path)
        print(f"  {name:<22} {times} {peak_mb:8.0f}{_differs(timed.answer, ours.answer)}")
        if name == _OURS and row.of == "points" and row.size == _PEAK_AIM_POINTS:
            said = "reached" if peak_mb <= _PEAK_AIM_MB else "MISSED"
            print(f"    aim {_PEAK_AIM_MB:.0f} MB for the whole process, found {peak_mb:.0f} MB: {said}")
    slower = [n for n, t in found.items() if t.cpu_s < ours.cpu_s and not isinstance(t.answer, Exception)]
    print(f"  faster than ours: {', '.join(slower) or 'none'}\n")
    return found


def _print_plots(row: _Row) -> None:
    found = _print_row(row, before={})
    ours, theirs = found[_OURS].cpu_s, found["and is_valid_reason"].cpu_s
    said = "reached" if theirs / ours >= _PLOT_AIM else "MISSED"
    print(f"  aim {_PLOT_AIM:.1f}x of geopandas with the check of validity, found {theirs / ours:.2f}x: {said}\n")


def _too_long(name: str, size: int, *, before: dict[int, dict[str, Timed]]) -> str:
    """Why a reader is not run at a size, by its time at the size before; nothing where it is."""
    if not before:
        return ""
    smaller = max(before)
    if name not in before[smaller]:
        return "not run at a smaller size"
    told = before[smaller][name]
    if isinstance(told.answer, Exception):
        return "failed at a smaller size"
    expected_s = told.cpu_s * size / smaller
    if expected_s <= _LONGEST_S:
        return ""
    return f"one run would take some {expected_s:,.0f} s, by its {told.cpu_s:.2g} s at {smaller:,}"


def _differs(answer: Answer, ours: Answer) -> str:
    """Words where a reader gives another number of things, or another middle of them."""
    if answer[0] != ours[0]:
        return f"   differs: {answer[0]:,} and not {ours[0]:,}"
    off_deg = np.abs(np.subtract(answer[1:], ours[1:])).max()
    return f"   differs: its middle is {off_deg:.1e} degrees away" if off_deg > _SAME_DEG else ""


def _peak_mb(read: Callable[[Path], Answer], path: Path) -> float:
    """The most memory of a fresh process that loads what a reader needs, and reads."""
    # Other libraries are not loaded for ours, nor ours for theirs.
    told = ask_peak(sys.executable, "-c", _SCRIPTS[read.__name__], path)
    return float(told["peak_bytes"]) / _MB


_SCRIPTS = {
    "ours_track": "import sys, gladebook; print(len(gladebook.read_track(sys.argv[1])))",
    "gpx_by_gpxpy": "import sys, gpxpy; print(gpxpy.parse(open(sys.argv[1])).get_points_no())",
    "gpx_by_pyogrio": "import sys, pyogrio; print(len(pyogrio.raw.read(sys.argv[1], layer='track_points')[2]))",
    "nmea_by_pynmea2": "import sys, pynmea2; print(len([pynmea2.parse(s, check=True) for s in open(sys.argv[1])]))",
    "ours_plots": "import sys, gladebook; print(len(gladebook.read_plots(sys.argv[1])))",
    "plots_by_geopandas": "import sys, geopandas; print(len(geopandas.read_file(sys.argv[1])))",
    "checked_by_geopandas": (
        "import sys, geopandas; g = geopandas.read_file(sys.argv[1]).geometry; print(len(g.is_valid_reason()))"
    ),
    "json_alone": "import json, sys; print(len(json.loads(open(sys.argv[1]).read())['features']))",
}


def _as_nmea(field: Field) -> str:
    """The application as a receiver logs it four times a second, some 145 bytes a point."""
    return "".join(
        nmealog.gga(now, place, hdop=f"{0.7 + i % 13 / 10:.1f}")
        + nmealog.rmc(now, place, speed=f"{1.5 + i % 90 / 7:.2f}", day=f"{12 + day:02d}0426")
        for i, (day, now, place) in enumerate(_moments(field))
    )


def _moments(field: Field) -> Iterator[tuple[int, str, str]]:
    track = as_track(field)
    for i, (lon, lat) in enumerate(zip(track.lon_deg.tolist(), track.lat_deg.tolist(), strict=True)):
        second = _START_S + i * _STEP_S
        yield int(second // 86_400), nmealog.clock(second), nmealog.place(lat, lon)


def _as_rich_gpx(field: Field) -> str:
    """The application as a sports watch writes it, some 300 bytes a point."""
    track = as_track(field)
    points = []
    for i, (lon, lat) in enumerate(zip(track.lon_deg.tolist(), track.lat_deg.tolist(), strict=True)):
        second = _START_S + i * _STEP_S
        now = nmealog.clock(second, places=3)
        time = f"2026-04-{12 + int(second // 86_400):02d}T{now[:2]}:{now[2:4]}:{now[4:]}Z"
        points.append(
            f'<trkpt lat="{lat:.8f}" lon="{lon:.8f}"><ele>{64 + i % 40 / 10:.1f}</ele><time>{time}</time>'
            f"<hdop>{0.7 + i % 13 / 10:.1f}</hdop><sat>{8 + i % 9}</sat><extensions><x:more>"
            f"<x:speed>{1.5 + i % 90 / 70:.2f}</x:speed><x:course>{i % 360}</x:course><x:rate>{80 + i % 60}</x:rate>"
            "<x:note>walked along the field's edge</x:note></x:more></extensions></trkpt>"
        )
    head = as_gpx(field).partition("<trkpt")[0].replace("<gpx ", '<gpx xmlns:x="http://example.com/x/v1" ')
    return "\n".join([head, *points, "</trkseg></trk></gpx>\n"])
