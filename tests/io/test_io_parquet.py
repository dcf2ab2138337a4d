"""GeoParquet: read where pyarrow is installed, asked for by name where it is not."""

import re
import sys
import tomllib
import warnings
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gladebook.errors import InputError, MissingExtra
from gladebook.geometry.area import geodesic_area_m2
from gladebook.io.door import read_plots, read_track
from gladebook.io.limits import Limits
from tests.io import corpus as c
from tests.io import corpus_formats as f
from tests.io.good_formats import PARQUET

_ROWS = [("North", f.area(c.GLADE, c.POND)), ("South", f.areas(c.SQUARE, c.moved(c.SQUARE, 0.01)))]


def test_a_missing_reader_is_asked_for_by_name(tmp_path, monkeypatch):
    """Without pyarrow a GeoParquet is answered by the name of the extra that reads it, as a mistake in the call."""
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    path = c.file_of("plots.parquet", b"PAR1" + bytes(40) + b"PAR1")(tmp_path)
    with pytest.raises(MissingExtra, match=r'plots\.parquet: is GeoParquet.*pip install "gladebook\[parquet\]"'):
        read_plots(path)


def test_the_extra_that_is_asked_for_exists():
    """The project has an extra of the name that the sentence gives, and it brings the reader."""
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))
    assert any(need.startswith("pyarrow") for need in project["project"]["optional-dependencies"]["parquet"])


def test_a_table_that_begins_like_parquet_is_a_table(tmp_path):
    """A CSV whose first heading is PAR1 is no Parquet."""
    path = c.file_of("track.csv", c.table("PAR1,lat,lon", "7,31.204,-83.441"))(tmp_path)
    assert len(read_track(path)) == 1


@pytest.mark.parametrize("entry", [pytest.param(e, id=e.name) for e in PARQUET])
def test_a_good_geoparquet_gives_its_names_in_order_and_its_true_areas(entry, tmp_path):
    """A good file is read without complaint: names, order, areas by GeographicLib, notices."""
    pytest.importorskip("pyarrow", reason="no pyarrow")
    plots = read_plots(entry.build(tmp_path), **entry.options)
    assert [plot.name for plot in plots] == [name for name, _ in entry.plots]
    areas = [geodesic_area_m2(plot.shape) for plot in plots]
    assert areas == pytest.approx([m2 for _, m2 in entry.plots], rel=0, abs=entry.within_m2)
    notes = [str(note) for plot in plots for note in plot.notes]
    if entry.says != "*":
        assert re.search(entry.says or "^$", " ".join(notes))


_BROKEN: list[tuple[str, Any, str]] = [
    ("a table without shapes", f.parquet(_ROWS, plain=True), "without shapes"),
    ("crs of null", f.parquet(_ROWS, crs=None), "coordinate system.*--crs"),
    ("a crs of nonsense", f.parquet(_ROWS, crs={"type": "nonsense"}), "coordinate system.*--crs"),
    ("an encoding that nobody knows", f.parquet(_ROWS, encoding="WKB2"), "broken"),
]


@pytest.mark.parametrize(("build", "says"), [pytest.param(b, s, id=name) for name, b, s in _BROKEN])
def test_a_broken_geoparquet_is_refused(build, says, tmp_path):
    """What is no GeoParquet, or states no system, is refused by a sentence that says so."""
    pytest.importorskip("pyarrow", reason="no pyarrow")
    with pytest.raises(InputError, match=rf"plots\.parquet: .*{says}"):
        read_plots(build(tmp_path))


def test_a_geoparquet_cut_short_anywhere_is_never_read_as_less(tmp_path):
    """Whatever is missing at its end, it is refused."""
    pytest.importorskip("pyarrow", reason="no pyarrow")
    whole = f.parquet(_ROWS)(tmp_path).read_bytes()
    for length in [*range(0, len(whole), 97), len(whole) - 1]:
        path = c.file_of("cut.parquet", whole[:length])(tmp_path)
        with pytest.raises(InputError):
            read_plots(path)


def test_one_long_name_in_many_rows_does_not_fill_the_memory(tmp_path):
    """Rows beyond the limit are refused by their stated number, before they are read."""
    pytest.importorskip("pyarrow", reason="no pyarrow")
    path = f.parquet([("N", f.area(c.GLADE))] * 5)(tmp_path)
    with pytest.raises(InputError, match=r"has 5 rows, and at most 4 are read.*--limit rows=8"):
        read_plots(path, limits=Limits(rows=4))
    with pytest.raises(InputError, match=r"unpack to more than .*--limit unzip_bytes=200"):
        read_plots(path, limits=Limits(unzip_bytes=100))


@settings(
    max_examples=150, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(place=st.floats(0, 1, exclude_max=True), value=st.binary(min_size=1, max_size=8))
def test_a_damaged_geoparquet_is_read_or_refused_and_nothing_else(place, value, tmp_path):
    """Bytes overwritten anywhere bring an answer or one of our errors."""
    pytest.importorskip("pyarrow", reason="no pyarrow")
    path: Path = tmp_path / "whole.parquet"
    whole = path.read_bytes() if path.exists() else f.parquet(_ROWS, file="whole.parquet")(tmp_path).read_bytes()
    at = int(place * len(whole))
    damaged = c.file_of("plots.parquet", f.put(at, value)(whole)[: len(whole)])(tmp_path)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            assert read_plots(damaged)
        except InputError as error:
            assert str(error).startswith("plots.parquet: ")  # noqa: PT017 - an answer is right too
