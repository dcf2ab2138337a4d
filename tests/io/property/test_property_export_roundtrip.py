"""Exports come back equal where the format can hold it: through our own door, and through GDAL in another process."""

import json
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from gladebook.io.door import read_plots, read_track
from gladebook.io.property.change import changing
from gladebook.io.property.export import FORMATS, export_property
from gladebook.io.property.open import connected, new_property
from gladebook.io.property.store import add_application, add_plot
from gladebook.passes.track import Clock, Track
from gladebook.plots.plot import Plot, clean_name

_SUFFIX = {"geojson": "geojson", "shapefile": "zip", "kml": "kml", "gpx": "gpx", "csv": "csv"}
_UGLY = [
    "Pond \"Patch\" & <b>Glade</b> 'x'",
    "🦌 Äsung ﻩ",
    "שדה ליד הבריכה",
    "🦌" * 80,
    "=2+3",
    "-north",
    "@home",
    "]]> --> <!--",
    "POINT (1 2)",
    "a,b;c|d\te",
    "two\nlines\r\nand\rmore",
    "\u202eright to left\u200f",
    "nul\x00bell\x07\ufffe",
    "'quoted'",
    "%s {0} \\ \\n",
    "x" * 80,
    "NaN",
    "1e5",
    "0012",
]
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_READER = """
import json, sys, warnings
import pyogrio
from pyogrio.raw import read
warnings.simplefilter("error", RuntimeWarning)
for line in sys.stdin:
    path, layer = json.loads(line)
    meta, _, shapes, columns = read(path, layer=layer)
    rows = {str(f): [None if v is None else str(v) for v in c] for f, c in zip(meta["fields"], columns)}
    shapes = None if shapes is None else [None if s is None else s.hex() for s in shapes]
    print(json.dumps({"crs": meta["crs"], "shapes": shapes, "fields": rows}), flush=True)
"""


class _Gdal:
    """GDAL in another process: give it files, get their contents."""

    def __init__(self, process: "subprocess.Popen[str]") -> None:
        self._process = process

    def read(self, path: Path, layer: str | None = None) -> dict[str, Any]:
        stdin, stdout = self._process.stdin, self._process.stdout
        assert stdin is not None
        assert stdout is not None
        stdin.write(json.dumps([str(path), layer]) + "\n")
        stdin.flush()
        answer = stdout.readline()
        assert answer, f"GDAL failed on {path.name}"
        found: dict[str, Any] = json.loads(answer)
        if found["shapes"] is not None:
            found["shapes"] = [None if s is None else shapely.from_wkb(bytes.fromhex(s)) for s in found["shapes"]]
        return found


@pytest.fixture(scope="module", autouse=True)
def _hurried() -> Iterator[None]:
    """Waiting for the disk is looked at elsewhere, and takes most of the time here."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda _: None)
        yield


@pytest.fixture(scope="module")
def gdal() -> Iterator[_Gdal]:
    with subprocess.Popen(
        [sys.executable, "-c", _READER], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        yield _Gdal(process)
        assert process.stdin is not None
        process.stdin.close()


@contextmanager
def _folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as place:
        yield Path(place)


def _property(place: Path, *, plots: list[Plot], tracks: list[Track]) -> Path:
    path = place / "glades.gpkg"
    new_property(path, name="Glades")
    with connected(path) as base, changing(base, "all at once") as pen:
        for plot in plots:
            add_plot(pen, plot, day="2026-04-01")
        if tracks:
            add_application(pen, name="Spring", day="2026-05-04", answer={}, tracks=tracks, plots=[])
    return path


def _same_shape(found: Any, wanted: Any) -> bool:
    """Equal but for where rings start, how they turn, and the order of parts; to 1e-9 degrees."""
    parts = [shapely.get_parts(shapely.force_2d(s)) for s in (found, wanted)]
    corners = [shapely.get_num_coordinates(s) for s in (found, wanted)]
    if len(parts[0]) != len(parts[1]) or corners[0] != corners[1]:
        return False
    first, second = (shapely.normalize(shapely.set_precision(s, 0)) for s in (found, wanted))
    if shapely.equals_exact(first, second, tolerance=0):
        return True
    return float(shapely.hausdorff_distance(first.boundary, second.boundary)) < 1e-9


def _fitted(name: str, *, format_name: str) -> str:
    """A name as the format can hold it: the rules that the module states, written anew."""
    if format_name in ("kml", "gpx", "shapefile"):
        name = _NOT_XML.sub(" ", name)
    if format_name == "shapefile":
        name = name.encode()[:254].decode(errors="ignore")
    if format_name == "csv":
        name = name.replace("\x00", " ")
        name = f"'{name}" if name.startswith(("=", "+", "-", "@", "\t", "\r")) else name
    return name


def _read_back(out: Path, format_name: str) -> list[Plot]:
    if format_name == "gpkg":
        return read_plots(out / "glades.gpkg", layer="plots")
    crs = "EPSG:4326" if format_name == "csv" else None
    return read_plots(out / f"plots.{_SUFFIX[format_name]}", crs=crs)


def _expected_names(plots: list[Plot], format_name: str) -> list[str]:
    cleaned = [clean_name(_fitted(p.name, format_name=format_name)) for p in plots]
    return [name or f"Plot {number}" for number, name in enumerate(cleaned, start=1)]


@st.composite
def _areas(draw: st.DrawFn) -> Any:
    """Star-shaped areas, maybe with a hole, maybe of two parts."""
    parts = []
    west, south = draw(st.floats(-179, 178)), draw(st.floats(-80, 80))
    for number in range(draw(st.integers(1, 2))):
        far = np.array(draw(st.lists(st.floats(1e-4, 9e-4), min_size=3, max_size=9)))
        angle = np.linspace(0, 2 * np.pi, len(far), endpoint=False)
        middle = np.array([west + 0.004 * number, south])
        shell = middle + far[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
        holes = [middle + (shell - middle) / 8] if draw(st.booleans()) else None
        parts.append(shapely.Polygon(shell, holes))
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


_NAMES = st.one_of(st.sampled_from(_UGLY), st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=80))


@st.composite
def _plots(draw: st.DrawFn) -> list[Plot]:
    names = draw(st.lists(_NAMES, min_size=1, max_size=4, unique=True))
    return [Plot(name, draw(_areas()), walked=draw(st.booleans())) for name in names]


@st.composite
def _tracks(draw: st.DrawFn) -> Track:
    n = draw(st.integers(1, 8))
    clock = draw(st.sampled_from(get_args(Clock)))

    def column(values: st.SearchStrategy[Any]) -> list[Any]:
        return draw(st.lists(values, min_size=n, max_size=n))

    maybe = st.one_of(st.just(float("nan")), st.floats(0, 60))
    # To the millisecond, in the years that receivers know.
    moments = st.integers(0, 4_102_444_800_000).map(lambda ms: ms / 1000)
    time_s = np.array(column(st.one_of(st.just(float("nan")), moments) if clock != "none" else st.just(float("nan"))))
    if clock != "none":
        time_s[0] = draw(moments)
    k = draw(st.integers(0, 3))
    sections = np.array([column(st.integers(-1, 1)) for _ in range(k)], dtype=np.int8).T if k else None
    if sections is not None:
        sections[0, 0] = 1
    return Track(
        name=draw(_NAMES),
        lon_deg=np.array(column(st.floats(-180, 179.9))),
        lat_deg=np.array(column(st.floats(1, 89))),
        time_s=time_s,
        segment=np.cumsum(column(st.integers(0, 1))),
        boom_on=np.array(column(st.integers(-1, 1)), dtype=np.int8),
        width_m=np.array(column(maybe)),
        speed_mps=np.array(column(maybe)),
        hdop=np.array(column(maybe)),
        clock=clock,
        sections=sections,
    )


@settings(max_examples=14)
@given(plots=_plots())
def test_plots_come_back_through_our_own_door(plots):
    """Names and shapes that are exported are read back equal: all of a shape, but of GPX the outer lines."""
    with _folder() as place:
        path = _property(place, plots=plots, tracks=[])
        for format_name in FORMATS:
            export_property(path, place / format_name, format=format_name)
            found = _read_back(place / format_name, format_name)
            if format_name == "gpx":
                _check_gpx(found, plots)
                continue
            assert [p.name for p in found] == _expected_names(plots, format_name), format_name
            assert all(_same_shape(a.shape, b.shape) for a, b in zip(found, plots, strict=True)), format_name


def _check_gpx(found: list[Plot], plots: list[Plot]) -> None:
    """Drawn boundaries come first, then walked ones, a closed line for each part."""
    wanted = []
    for plot in sorted(plots, key=lambda p: p.walked):
        parts = shapely.get_parts(plot.shape)
        for number, part in enumerate(parts, start=1):
            name = plot.name if len(parts) == 1 else f"{plot.name} (part {number} of {len(parts)})"
            wanted.append((clean_name(_fitted(name, format_name="gpx")), shapely.Polygon(part.exterior), plot.walked))
    assert [p.walked for p in found] == [walked for *_, walked in wanted]
    assert all(_same_shape(p.shape, shape) for p, (_, shape, _) in zip(found, wanted, strict=True))
    assert [p.name for p in found] == [name or f"Plot {k}" for k, (name, *_) in enumerate(wanted, start=1)]


@settings(max_examples=12)
@given(plots=_plots())
def test_plots_come_back_through_gdal_in_another_process(gdal, plots):
    """GDAL reads the same names and shapes from an export, on WGS 84 wherever the format can say so."""
    plots = [Plot(p.name.replace("\x00", "") or "x", p.shape, p.walked) for p in plots]  # GDAL ends a text there
    assume(len({p.name for p in plots}) == len(plots))
    with _folder() as place:
        path = _property(place, plots=plots, tracks=[])
        for format_name in FORMATS:
            export_property(path, place / format_name, format=format_name)
            if format_name == "gpx":
                _check_gpx_lines(gdal, place / "gpx" / "plots.gpx", plots)
                continue
            copy, layer = ("glades.gpkg", "plots") if format_name == "gpkg" else (f"plots.{_SUFFIX[format_name]}", None)
            found = gdal.read(place / format_name / copy, layer)
            assert found["crs"] == (None if format_name == "csv" else "EPSG:4326")
            assert all(_same_shape(a, b.shape) for a, b in zip(found["shapes"], plots, strict=True)), format_name
            names = found["fields"]["Name" if format_name == "kml" else "name"]
            wanted = [clean_name(_fitted(p.name, format_name=format_name)) for p in plots]
            assert [clean_name(name or "") for name in names] == wanted, format_name


def _check_gpx_lines(gdal: _Gdal, path: Path, plots: list[Plot]) -> None:
    """Walked boundaries among the tracks, drawn ones among the routes: closed lines, corner by corner."""
    for layer, walked in (("routes", False), ("tracks", True)):
        found = gdal.read(path, layer)
        wanted = [part.exterior for p in plots if p.walked == walked for part in shapely.get_parts(p.shape)]
        assert len(found["shapes"] or []) == len(wanted)
        for line, ring in zip(found["shapes"] or [], wanted, strict=True):
            assert np.abs(shapely.get_coordinates(line) - shapely.get_coordinates(ring)).max() < 1e-9
        names = [clean_name(name or "") for name in found["fields"]["name"]]
        one_part = [p for p in plots if p.walked == walked and len(shapely.get_parts(p.shape)) == 1]
        assert {clean_name(_fitted(p.name, format_name="gpx")) for p in one_part} <= set(names)


def _begins(track: Track) -> list[bool]:
    return [bool(step) for step in np.diff(track.segment)]


@settings(max_examples=25)
@given(track=_tracks())
def test_tracks_come_back_point_by_point(track):
    """Places, times to the millisecond, the clock and figures come back; with CSV and GeoJSON boom and sections too."""
    with _folder() as place:
        path = _property(place, plots=[], tracks=[track])
        for format_name in ("csv", "geojson", "gpx"):
            said = export_property(path, place / format_name, format=format_name)
            found = read_track(place / format_name / "tracks" / f"track-1-2026-05-04.{_SUFFIX[format_name]}")
            _check_places_and_figures(found, track)
            _check_pieces(found, track, said=said, kept=format_name != "geojson")
            if format_name == "gpx":
                boom = (track.boom_on >= 0).any() or np.isfinite(track.width_m).any() or track.sections is not None
                assert any("no boom states" in sentence for sentence in said) == boom
                assert any("state no zone" in sentence for sentence in said) == (track.clock == "no zone")
                continue
            for column in ("width_m", "boom_on"):
                np.testing.assert_array_equal(getattr(found, column), getattr(track, column), format_name)
            assert (found.sections is None) == (track.sections is None)
            if track.sections is not None:
                np.testing.assert_array_equal(found.sections, track.sections)


def _check_places_and_figures(found: Track, track: Track) -> None:
    assert found.clock == track.clock
    for column in ("lon_deg", "lat_deg", "speed_mps", "hdop"):
        np.testing.assert_array_equal(getattr(found, column), getattr(track, column), column)
    np.testing.assert_allclose(found.time_s, track.time_s, rtol=0, atol=1e-4, equal_nan=True)


def _check_pieces(found: Track, track: Track, *, said: tuple[str, ...], kept: bool) -> None:
    if kept:
        assert _begins(found) == _begins(track)
    else:
        assert any("one piece" in sentence for sentence in said) == any(_begins(track))


@pytest.mark.parametrize("format_name", ["kml", "shapefile"])
@settings(max_examples=12)
@given(tracks=st.lists(_tracks(), min_size=1, max_size=3))
def test_tracks_come_back_as_lines(gdal, format_name, tracks):
    """GDAL reads a line for each piece of a track that has two points or more, corner by corner; others are told."""
    with _folder() as place:
        out = place / "out"
        said = export_property(_property(place, plots=[], tracks=tracks), out, format=format_name)
        pieces = [np.split(np.arange(len(t)), np.flatnonzero(_begins(t)) + 1) for t in tracks]
        alone = sum(len(p) == 1 for found in pieces for p in found)
        assert any(f"{alone} single point" in sentence for sentence in said) == (alone > 0)
        wanted = []
        for track, runs in zip(tracks, pieces, strict=True):
            xy = np.column_stack([track.lon_deg, track.lat_deg])
            if any(len(run) > 1 for run in runs):
                wanted.append([xy[run] for run in runs if len(run) > 1])
        path = out / f"tracks.{_SUFFIX[format_name]}"
        assert path.exists() == bool(wanted)
        if not wanted:
            return
        for shape, lines in zip(gdal.read(path)["shapes"], wanted, strict=True):
            found = [shapely.get_coordinates(part) for part in shapely.get_parts(shape)]
            assert len(found) == len(lines)
            assert all(np.abs(a - b).max() < 1e-9 for a, b in zip(found, lines, strict=True))
        if format_name == "kml":
            back = read_track(path)
            np.testing.assert_array_equal(back.lon_deg, np.concatenate([line[:, 0] for x in wanted for line in x]))


def test_times_finer_than_a_millisecond_come_back_to_the_microsecond(tmp_path):
    """A recording of 3 points a millisecond apart by fractions keeps them in CSV, GeoJSON and GPX."""
    time_s = np.array([1_777_903_500.000001, 1_777_903_500.0005, 1_777_903_500.123456])
    none = np.full(3, np.nan)
    track = Track(
        "t", np.arange(3.0), np.arange(1.0, 4.0), time_s, np.zeros(3, np.int64), np.full(3, -1, np.int8), none, none,
        none, "utc",
    )  # fmt: skip
    path = _property(tmp_path, plots=[], tracks=[track])
    for format_name in ("csv", "geojson", "gpx"):
        export_property(path, tmp_path / format_name, format=format_name)
        found = read_track(tmp_path / format_name / f"tracks/track-1-2026-05-04.{_SUFFIX[format_name]}")
        np.testing.assert_array_equal(found.time_s, time_s)
