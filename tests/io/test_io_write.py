"""Writing: whole or not at all, safe for spreadsheets, and GeoJSON by its standard."""

import csv
import io
import json
import os
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from gladebook.errors import GladebookError, OutputError
from gladebook.geometry.area import geodesic_area_m2
from gladebook.io.door import read_plots
from gladebook.io.write import as_csv, as_geojson, as_json, write_bytes, write_text
from tests.io import corpus as c

_OLD = "yesterday's answer\n"
_NEW = "today's answer\n" * 20_000


@contextmanager
def _nobody() -> Iterator[None]:
    """A user without special rights, also where the tests run as root."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)


def _fail(*_: Any, **__: Any) -> None:
    raise OSError(28, "No space left on device")


def test_a_written_file_holds_what_was_given(tmp_path):
    """Text is written as UTF-8 without changes, bytes as they are, and the path comes back."""
    text = "Поляна\tGroße Äsung\r\n− 2.30 ac\n"
    assert write_text(tmp_path / "a.txt", text) == tmp_path / "a.txt"
    assert (tmp_path / "a.txt").read_bytes() == text.encode("utf-8")
    write_bytes(str(tmp_path / "b.bin"), b"\x00\xff\r\n")
    assert (tmp_path / "b.bin").read_bytes() == b"\x00\xff\r\n"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.txt", "b.bin"]


def test_a_new_file_replaces_the_old_one(tmp_path):
    """Writing to a name that is taken replaces the old file and leaves nothing else behind."""
    path = tmp_path / "answer.json"
    path.write_text(_OLD)
    write_text(path, _NEW)
    assert path.read_text() == _NEW
    assert [p.name for p in tmp_path.iterdir()] == ["answer.json"]


@pytest.mark.parametrize("step", ["replace", "rename", "fsync", "fdopen"])
def test_a_write_that_fails_keeps_the_old_file_and_leaves_nothing_beside_it(step, tmp_path, monkeypatch):
    """Where the disk fails at any step, the old answer is whole and no half of the new one lies about."""
    path = tmp_path / "answer.json"
    path.write_text(_OLD)
    used = []

    def fail(*_: Any, **__: Any) -> None:
        used.append(step)
        _fail()

    monkeypatch.setattr(os, step, fail)
    if step == "rename":  # whichever of the two names the code uses, both must be covered
        monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(OutputError) as caught:
        write_text(path, _NEW)
    monkeypatch.undo()
    assert used
    assert path.read_text() == _OLD
    assert [p.name for p in tmp_path.iterdir()] == ["answer.json"]
    assert str(path) in str(caught.value)
    assert "No space left" in str(caught.value)


def test_a_write_that_is_interrupted_keeps_the_old_file(tmp_path, monkeypatch):
    """Ctrl-C in the middle of writing leaves the old answer whole and nothing beside it."""
    path = tmp_path / "answer.json"
    path.write_text(_OLD)

    def stop(*_: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stop)
    with pytest.raises(KeyboardInterrupt):
        write_text(path, _NEW)
    monkeypatch.undo()
    assert path.read_text() == _OLD
    assert [p.name for p in tmp_path.iterdir()] == ["answer.json"]


def test_at_the_moment_of_renaming_the_whole_file_is_on_the_disk(tmp_path, monkeypatch):
    """The new file is complete and flushed before it takes the old one's name."""
    path = tmp_path / "answer.json"
    path.write_text(_OLD)
    synced: list[int] = []
    seen: list[tuple[str, str]] = []
    fsync, replace = os.fsync, os.replace

    def watch_fsync(handle: int) -> None:
        synced.append(os.fstat(handle).st_size)
        fsync(handle)

    def watch_replace(old: Any, new: Any, **options: Any) -> None:
        seen.append((Path(old).read_text(), Path(new).read_text()))
        replace(old, new, **options)

    monkeypatch.setattr(os, "fsync", watch_fsync)
    monkeypatch.setattr(os, "replace", watch_replace)
    write_text(path, _NEW)
    assert seen == [(_NEW, _OLD)]
    assert synced
    assert synced[0] == len(_NEW)


def test_a_folder_that_may_not_be_written_to_is_refused():
    """A read-only folder is answered by one of our errors, names the place and gets no file."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o555)
        try:
            with _nobody(), pytest.raises(OutputError, match=r"answer\.json: cannot be written.*Name another place"):
                write_text(folder / "answer.json", _NEW)
            assert list(folder.iterdir()) == []
        finally:
            folder.chmod(0o755)


@pytest.mark.parametrize("target", [".", "sub", "sub/", "nowhere/answer.json", "old.txt/answer.json", "x" * 300])
def test_a_target_that_cannot_be_a_file_is_refused_and_nothing_is_left(target, tmp_path):
    """A folder, a missing folder, a file used as a folder and a name too long are refused, and leave no trace."""
    (tmp_path / "sub").mkdir()
    (tmp_path / "old.txt").write_text(_OLD)
    with pytest.raises(OutputError, match=r"(is a folder|cannot be written).*Name"):
        write_text(tmp_path / target, _NEW)
    assert sorted(p.name for p in tmp_path.rglob("*")) == ["old.txt", "sub"]
    assert (tmp_path / "old.txt").read_text() == _OLD


def test_the_longest_possible_name_can_be_written(tmp_path):
    """A name of 254 bytes in two-byte letters, which just fits, is written."""
    path = tmp_path / ("é" * 127)
    write_text(path, "x")
    assert path.read_text() == "x"


def test_a_name_that_no_file_can_have_is_one_of_our_errors(tmp_path):
    """A target with a NUL character is refused like any other that cannot be written."""
    with pytest.raises(GladebookError):
        write_text(f"{tmp_path}/a\x00b", "x")
    assert list(tmp_path.iterdir()) == []


def test_text_that_no_file_can_hold_is_one_of_our_errors_or_is_written(tmp_path):
    """Half a letter from somebody's file name ends in a file or one of our errors, never in a traceback."""
    try:
        write_text(tmp_path / "a.txt", "plot \ud800.geojson")
    except GladebookError:
        assert list(tmp_path.iterdir()) == []


def test_a_pipe_or_a_device_is_never_replaced_by_a_file(tmp_path):
    """A pipe given as target, as /dev/null would be, is still a pipe afterwards."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)  # so that a writer would not wait for ever
    try:
        try:
            write_text(pipe, "short")
        except OutputError as error:
            assert "pipe" in str(error)  # noqa: PT017 - either answer is right
        else:
            assert os.read(reader, 100) == b"short"
    finally:
        os.close(reader)
    assert stat.S_ISFIFO(pipe.stat().st_mode)


def test_a_written_file_can_be_read_by_others_as_far_as_the_umask_allows(tmp_path):
    """An answer has the permissions of any new file, not those of a private temporary one."""
    old = os.umask(0o022)
    try:
        write_text(tmp_path / "a.txt", "x")
    finally:
        os.umask(old)
    assert stat.S_IMODE((tmp_path / "a.txt").stat().st_mode) == 0o644


# --- CSV -------------------------------------------------------------------------------------

# OWASP Application Security Verification Standard 5.0, 1.2.10: escape these with a single quote where they stand first.
_FORMULA_STARTS = ["=", "+", "-", "@", "\t", "\x00"]


@pytest.mark.parametrize("start", [*_FORMULA_STARTS, "\r"])
def test_a_name_that_looks_like_a_formula_is_made_text(start):
    """A cell of text that a spreadsheet might run begins with an apostrophe instead."""
    text = as_csv(["name", "acres"], [[f"{start}1+1", 2.5]])
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert rows[0] == ["name", "acres"]
    assert rows[1][0].startswith("'")
    assert rows[1][1] == "2.5"


def test_numbers_and_plain_names_are_left_alone():
    """Figures, negative ones too, empty cells and plain names stand in the table as they are."""
    text = as_csv(["name", "a", "b", "c"], [["North Glade", -1.5, 0, None], ["O'Brien's", 1e-7, -3, ""]])
    assert text.replace("\r\n", "\n") == "name,a,b,c\nNorth Glade,-1.5,0,\nO'Brien's,1e-07,-3,\n"


def test_full_precision_survives_a_table():
    """A number read back from a table is the same number."""
    values = [1 / 3, 2.675, 1e300, 5e-324, -83.44101234567891]
    rows = list(csv.reader(io.StringIO(as_csv(["x"], [[v] for v in values]))))
    assert [float(row[0]) for row in rows[1:]] == values


_CELLS = st.text(max_size=12).filter(lambda s: not any(0xD800 <= ord(k) <= 0xDFFF for k in s))


@settings(max_examples=200, deadline=None, derandomize=True)
@given(rows=st.lists(st.tuples(_CELLS, _CELLS), min_size=1, max_size=4))
def test_any_text_comes_back_from_a_table_harmless(rows):
    """Commas, quotes and line breaks in names survive; only the apostrophe before a formula is added."""
    back = list(csv.reader(io.StringIO(as_csv(["a", "b"], rows), newline="")))[1:]
    assert len(back) == len(rows)
    for found, given_row in zip(back, rows, strict=True):
        for cell, original in zip(found, given_row, strict=True):
            assert not cell.startswith(tuple(_FORMULA_STARTS))
            assert cell in (original, f"'{original}")
            assert cell == original or original.startswith((*_FORMULA_STARTS, "\r"))


# --- JSON and GeoJSON ------------------------------------------------------------------------


def test_json_has_full_precision_and_plain_letters():
    """Numbers read back from JSON are the same numbers, and letters stay letters."""
    document = {"plots": [{"name": "Поляна", "acres": 1 / 3, "lon": -83.44101234567891}], "none": None}
    text = as_json(document)
    assert json.loads(text) == document
    assert "Поляна" in text
    assert text.endswith("\n")


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_json_never_holds_what_is_no_number(value):
    """Not-a-number in an answer raises, because no reader of JSON could take it."""
    with pytest.raises(ValueError, match="JSON"):
        as_json({"acres": value})


def _turns_left(ring: Any) -> bool:
    """Whether a ring runs counter-clockwise, by the sum over its edges (shoelace)."""
    xy = np.array(ring) - np.array(ring[0])
    return float((xy[:-1, 0] * xy[1:, 1] - xy[1:, 0] * xy[:-1, 1]).sum()) > 0


@pytest.mark.parametrize("outer", [c.GLADE, c.outer(c.GLADE)])
@pytest.mark.parametrize("hole", [c.POND, c.outer(c.POND)])
def test_written_rings_follow_the_right_hand_rule_and_read_back_equal(outer, hole, tmp_path):
    """RFC 7946 3.1.6: outer rings counter-clockwise, holes clockwise; read again, the plot is the same to the bit."""
    single = shapely.Polygon(outer, [hole])
    double = shapely.MultiPolygon([single, shapely.Polygon(c.outer(c.moved(c.SQUARE, 0.01)))])
    text = as_geojson([(single, {"name": "One", "acres": 1 / 3}), (double, {"name": "Two"})])
    document = json.loads(text)
    assert document["type"] == "FeatureCollection"
    assert "crs" not in document  # RFC 7946 4
    polygons = [document["features"][0]["geometry"]["coordinates"], *document["features"][1]["geometry"]["coordinates"]]
    for rings in polygons:
        assert _turns_left(rings[0])
        assert not any(_turns_left(ring) for ring in rings[1:])
        assert all(ring[0] == ring[-1] for ring in rings)
    assert document["features"][0]["properties"] == {"name": "One", "acres": 1 / 3}
    plots = read_plots(write_text(tmp_path / "out.geojson", text))
    assert [plot.name for plot in plots] == ["One", "Two"]
    for plot, shape in zip(plots, (single, double), strict=True):
        assert shapely.normalize(plot.shape).equals_exact(shapely.normalize(shape), 0.0)
        assert geodesic_area_m2(plot.shape) == pytest.approx(geodesic_area_m2(shape), rel=1e-12)


def test_an_empty_shape_is_not_written():
    """A plot of which nothing is left makes no feature, and no shape at all an empty collection."""
    text = as_geojson([(shapely.Polygon(), {"name": "gone"}), (shapely.Polygon(c.GLADE), {"name": "left"})])
    assert [f["properties"]["name"] for f in json.loads(text)["features"]] == ["left"]
    assert json.loads(as_geojson([])) == {"type": "FeatureCollection", "features": []}
