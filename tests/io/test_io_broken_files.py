"""Broken files: each is answered by one of our errors with a clear sentence, and by nothing else."""

import os
import re
import tempfile
import warnings
from collections.abc import Callable
from operator import itemgetter
from pathlib import Path
from typing import Any

import pytest

from gladebook.errors import BoundaryError, GladebookError, InputError
from gladebook.io.door import read_plots, read_track
from tests.io import broken_formats as more
from tests.io import corpus as c
from tests.io.broken_plots import (
    GEOJSON,
    GEOPACKAGE,
    GOOD_TEXT,
    GOOD_ZIP,
    KML,
    KML_TEXT,
    MANY_ROWS,
    METRES,
    NORTH_ROW,
    SHAPEFILE,
    SHAPES,
    ZIP,
    Broken,
    geojson_file,
    plot_of,
)
from tests.io.broken_tracks import CSV, FIRST_TIME, GEOJSON_TRACK, GPX, GPX_TEXT, OTHER_TRACK, gpx_file


def _group(title: str, entries: list[Broken], *, read: str = "") -> list[Any]:
    return [pytest.param(e, read or e.read, id=f"{title}: {e.name}") for e in entries]


ALL = [
    *_group("geojson", GEOJSON),
    *_group("gpkg", GEOPACKAGE),
    *_group("shp", SHAPEFILE),
    *_group("zip", ZIP),
    *_group("kml", KML),
    *_group("gpx", GPX),
    *_group("csv", CSV[:1]),
    *_group("csv", CSV[1:], read="track"),
    *_group("geojson track", GEOJSON_TRACK, read="track"),
    *_group("track", OTHER_TRACK, read="track"),
    *_group("sequence", more.SEQUENCE),
    *_group("fgb", more.FLATGEOBUF),
    *_group("gdb", more.GEODATABASE),
    *_group("shp", more.SHAPEFILE),
    *_group("zip", more.ZIP),
    *_group("wkt", more.WKT),
    *_group("table", more.TABLES),
]


def _read(read: str, path: Path, options: dict[str, Any]) -> Any:
    return read_track(path, **options) if read == "track" else read_plots(path, **options)


def test_there_are_at_least_sixty_broken_files_of_every_format():
    """The corpus is as large as promised, and no entry stands in it twice."""
    names = [entry.id for entry in ALL]
    assert len(names) >= 60
    assert len(set(names)) == len(names)


# Words of the libraries below, of Python and of this machine; none may reach a land manager.
_STRANGE = re.compile(
    r"\bOGR|vsi(zip|mem|curl)?/|\bdrivers?\b|\bGDAL|\bGEOS|\bPROJ\b|pyogrio|shapely|pyproj|sqlite|expat|errno"
    r"|Traceback|Exception|NoneType|\bobject at\b|site-packages|\.py\b|0x[0-9a-f]{6}",
    re.IGNORECASE,
)
# A sentence that tells what to do has one of these, or lists what there is to choose from.
_ADVICE = re.compile(
    r"\b(Export|Copy|Draw|Give|Check|Save|Choose|Pick|Mend|Write|Say|Keep|Take|Unpack|Walk|Zip|Retrace|Leave|Change|"
    r"Trace|Make|Remove|Put|Open|Use|Name|Split|Send|must)\b|\bIts (fields|layers): ",
    re.IGNORECASE,
)
_LONGEST = 420  # letters: five lines of a narrow window


def _contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def _style_faults(message: str, *, path: Path) -> list[str]:
    """What keeps a message from being one clear line."""
    rest = message.removeprefix(f"{path.name}: ").replace("A shapefile is several files:", "")
    sentences = re.findall(r"[.!?](?=\s+[A-Z]|$)", rest)
    faults = {
        "not one printable line": not message.isprintable(),
        "too long": len(message) > _LONGEST,
        "not one sentence or two": not 1 <= len(sentences) <= 2,
        "does not say what to do": not _ADVICE.search(rest),
        "speaks of machinery": bool(_STRANGE.search(rest)),
        "shows a path of this machine": str(path.parent) in message or str(Path.cwd()) in message,
        "shows another file's content": "SECRET" in message,
    }
    return [fault for fault, found in faults.items() if found]


@pytest.mark.parametrize(("entry", "read"), ALL)
def test_a_broken_file_is_answered_by_one_clear_sentence(entry, read, tmp_path, capfd):
    """A broken file raises one of our errors naming file, fault, place and remedy; nothing else is said or changed."""
    path = entry.build(tmp_path)
    before = _contents(tmp_path)
    with warnings.catch_warnings(record=True) as warned:
        warnings.simplefilter("always")
        with pytest.raises(GladebookError) as caught:
            _read(read, path, entry.options)
    message = str(caught.value)
    printed = capfd.readouterr()
    faults = _style_faults(message, path=path)
    if not isinstance(caught.value, entry.error):
        faults.append(f"is a {type(caught.value).__name__}, not a {entry.error.__name__}")
    if isinstance(caught.value, InputError) and not message.startswith(f"{path.name}: "):
        faults.append("does not name the file first")
    if not re.search(entry.says, message, re.IGNORECASE | re.DOTALL):
        faults.append(f"does not say /{entry.says}/")
    if printed.out or printed.err:
        faults.append(f"also printed {printed.out + printed.err!r}")
    faults += [f"also warned: {w.message}" for w in warned]
    if _contents(tmp_path) != before:
        faults.append("changed the files")
    assert faults == [], ascii(message)


# --- single cases ----------------------------------------------------------------------------


def test_all_bad_plots_of_a_file_are_named_together(tmp_path):
    """A file with two bad plots among good ones names both, and only both."""
    path = geojson_file(
        c.feature(c.polygon(c.GLADE), name="Good Glade"),
        c.feature(c.polygon(c.BOW_TIE), name="Bow Tie"),
        c.feature(c.polygon(c.SQUARE[:2]), name="Short"),
    )(tmp_path)
    with pytest.raises(BoundaryError) as caught:
        read_plots(path)
    message = str(caught.value)
    assert "Bow Tie: " in message
    assert "Short: " in message
    assert "Good Glade" not in message


def test_a_refused_file_that_follows_the_advice_is_read(tmp_path):
    """Doing what the refusal of an unknown crs member says makes the file readable: 100 m x 100 m in UTM."""
    bad = geojson_file(c.feature(c.polygon(METRES), name="North"), crs=c.named_crs("EPSG:999999"))(tmp_path)
    with pytest.raises(InputError, match="--crs"):
        read_plots(bad)
    # "Say which it is, like --crs EPSG:26916": word for word.
    read = read_plots(bad, crs="EPSG:26916")
    assert [plot.name for plot in read] == ["North"]


def test_metres_of_a_local_grid_never_pass_silently_as_degrees(tmp_path):
    """A plot of 80 m by 60 m on a local grid, read as degrees, is refused or its size is remarked on."""
    grid = [[0.0, 0.0], [80.0, 0.0], [80.0, 60.0], [0.0, 60.0], [0.0, 0.0]]
    path = plot_of(grid)(tmp_path)
    try:
        plots = read_plots(path)
    except InputError as error:
        assert "North" in str(error)  # noqa: PT017 - either answer is right
    else:
        assert any("large" in n or "acres" in n or "degrees" in n for n in map(str, plots[0].notes)), plots[0].notes


def test_a_walk_with_a_fix_at_null_island_is_no_plot_of_africa(tmp_path):
    """A point at 0, 0 within a walked boundary is left out with a notice, as it is in tracks, or refused."""
    walk = [*c.GLADE[:2], [0.0, 0.0], *c.GLADE[2:]]
    path = gpx_file(c.trk(walk, name="North"))(tmp_path)
    try:
        plots = read_plots(path)
    except InputError as error:
        assert "0, 0" in str(error)  # noqa: PT017 - either answer is right
    else:
        assert c.ring_m2(c.GLADE) == pytest.approx(9_500, rel=0.1)
        assert len(plots[0].shape.exterior.coords) == len(c.GLADE)
        assert any("0, 0" in note for note in map(str, plots[0].notes))


def test_a_layer_of_plots_is_never_left_out_silently(tmp_path):
    """Two layers hold areas, one declared as any geometry: the reader asks, or says which it left out."""

    def second(db: Any) -> None:
        c.add_layer(db, "more", [("South", c.blob(c.wkb_polygon(c.SQUARE)))], kind="GEOMETRY")

    path = c.geopackage([NORTH_ROW], more=second)(tmp_path)
    try:
        plots = read_plots(path)
    except InputError as error:
        assert "more" in str(error)  # noqa: PT017 - either answer is right
    else:
        assert len(plots) == 2 or any("more" in note for note in map(str, plots[0].notes))


def test_a_projection_file_with_a_letter_of_another_code_page_stays_in_the_family(tmp_path):
    """A .prj whose name has a Latin-1 letter is read, or refused with one of our errors."""
    prj = c.WGS84_PRJ.replace("GCS_WGS_1984", "Système_WGS_1984").encode("latin-1")
    path = c.shapefile(SHAPES, change={".prj": lambda _: prj})(tmp_path)
    try:
        assert len(read_plots(path)) == 3
    except InputError as error:
        assert "prj" in str(error) or "coordinate system" in str(error)  # noqa: PT017 - either answer is right


def test_a_name_that_no_file_can_have_is_a_mistake_in_the_call():
    """A path with a NUL character is refused like any other missing file."""
    with pytest.raises(GladebookError):
        read_plots("plots\x00.geojson")
    with pytest.raises(GladebookError):
        read_track("track\x00.gpx")


def test_a_refusal_names_the_folder_that_was_given_as_a_dot(tmp_path, monkeypatch):
    """The present folder, given as ".", is refused by name and not by an empty one."""
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError) as caught:
        read_plots(".")
    assert "is a folder" in str(caught.value)
    assert not str(caught.value).startswith(":")


def test_a_file_name_with_terminal_codes_cannot_speak_to_the_terminal(tmp_path):
    """A file name with an escape code and a line break is shown as plain text on one line."""
    path = c.file_of("bad\x1b[31m\n.geojson", "{")(tmp_path)
    with pytest.raises(InputError) as caught:
        read_plots(path)
    assert str(caught.value).isprintable()


def test_a_file_of_more_than_two_gigabytes_is_refused_at_once(tmp_path):
    """A file too large to be plots is refused by its size, without reading it."""
    path = tmp_path / "huge.geojson"
    path.touch()
    os.truncate(path, 2_000_000_001)  # sparse: takes no room
    try:
        with pytest.raises(InputError, match=r"huge\.geojson: is larger than 2 GB\. Give"):
            read_plots(path)
    finally:
        path.unlink()


def _as_nobody(act: Callable[[], None]) -> None:
    """Do something as a user without special rights, also where the tests run as root."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    try:
        act()
    finally:
        if root:
            os.seteuid(0)


def test_a_file_that_may_not_be_read_is_refused_as_such():
    """A file without permission to read is refused with what to do about it."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        path = plot_of(c.GLADE)(folder)
        path.chmod(0)

        def read() -> None:
            with pytest.raises(InputError, match=r"plots\.geojson: may not be read by you\. Change"):
                read_plots(path)

        _as_nobody(read)


_CUT: list[tuple[str, str | bytes, str]] = [
    ("plots.geojson", GOOD_TEXT, "plots"),
    ("plots.kml", KML_TEXT, "plots"),
    ("walk.gpx", GPX_TEXT, "plots"),
    ("walk.gpx", GPX_TEXT, "track"),
    ("plots.zip", GOOD_ZIP, "plots"),
    ("track.geojson", c.geojson(c.feature(c.line(c.SQUARE), times=[FIRST_TIME] * 5)), "track"),
]


@pytest.mark.parametrize(("name", "whole", "read"), _CUT, ids=[f"{n} as {r}" for n, _, r in _CUT])
def test_a_file_cut_short_anywhere_is_never_read_as_less(name, whole, read, tmp_path):
    """Whatever is missing at its end, a file that closes its brackets or lists its contents is refused."""
    data = whole if isinstance(whole, bytes) else whole.rstrip().encode()
    for length in sorted({*range(0, len(data), 17), *range(max(len(data) - 12, 0), len(data))}):
        path = c.file_of(name, data[:length])(tmp_path)
        with pytest.raises(InputError):
            _read(read, path, {})


@pytest.mark.parametrize("part", [".shp", ".shx", ".dbf"])
def test_a_shapefile_cut_short_anywhere_is_never_read_as_less(part, tmp_path):
    """A shapefile whose parts are cut, as by a full memory card, loses no plot silently: it is refused."""
    whole = c.shapefile_parts(SHAPES)[part]
    end = len(whole) - 2 if part == ".dbf" else len(whole) - 1  # the table's end mark itself may be missing
    for length in sorted({*range(0, end, 23), end}):
        path = c.shapefile(SHAPES, change={part: itemgetter(slice(length))})(tmp_path)
        with pytest.raises(InputError):
            read_plots(path)


def test_a_geopackage_cut_short_anywhere_is_never_read_as_less(tmp_path):
    """A GeoPackage that lacks pages at its end is refused."""
    whole = c.geopackage(MANY_ROWS, file="whole.gpkg")(tmp_path).read_bytes()
    for length in range(0, len(whole), len(whole) // 40):
        path = c.file_of("plots.gpkg", whole[:length])(tmp_path)
        with pytest.raises(InputError):
            read_plots(path)
