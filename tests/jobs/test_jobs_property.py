"""A property as its user has it: plots come in, are drawn anew, are judged by the day, and everything can be undone."""

import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from gladebook.errors import CallError, GladebookError, OutputError, PropertyError, Stopped, UnreadableFile
from gladebook.io.door import read_plots
from gladebook.io.property.open import connected, new_property
from gladebook.io.property.store import applications_in, plots_in, strips_in, tracks_of
from gladebook.io.write import write_text
from gladebook.jobs import adding as adding_job
from gladebook.jobs.adding import Adding, add_to
from gladebook.jobs.application import Application, Drives, GroundFiles, check_application, day_of, measure_ground
from gladebook.jobs.keep import check_room, keep_answer, keep_application, kept_sprayer, over_kept
from gladebook.jobs.property import (
    back_up,
    check_file,
    holding_of,
    remove_thing,
    rename_thing,
    show_thing,
    today,
    undo_change,
)
from gladebook.jobs.strips import mark_strips
from gladebook.jobs.tank import acres_from_coverage, strips_from_coverage
from gladebook.passes.sprayer import Sprayer
from gladebook.passes.track import Track
from gladebook.spraying.cautions import CAUTIONS
from gladebook.units import ACRE_M2
from gladebook.view.documents import coverage_document
from tests.cli import fields
from tests.sample_property import FOLDER

BOOM = Sprayer(width_m=fields.WIDTH_M)
DAY = "2026-09-28"  # of the drives of tests.cli.fields


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A property with one plot of ten passes, its boundary since March."""
    path = tmp_path / "home.gpkg"
    new_property(path, name="Home")
    plots = fields.write_plots(tmp_path / "plots.geojson", {"Long Field": fields.FIELD})
    add_to(path, Adding(plots=plots, since="2026-03-01"))
    return path


@pytest.fixture
def track(tmp_path: Path) -> Path:
    """Nine of the ten passes: the sixth was left out."""
    return fields.write_track(tmp_path / "drive.csv", fields.to_and_fro(fields.middles(), leave_out=[6]))


def applied(path: Path, track: Path, **ground: Any) -> Application:
    return check_application(GroundFiles(path, **ground), Drives((track,), sprayer=BOOM))


def kept(path: Path, done: Application, name: str = "Fall spray") -> None:
    keep_application(path, done, name=name, answer=coverage_document(done.coverage, gallons=None))


def wider(tmp_path: Path, *, by_m: float, name: str = "Long Field") -> Path:
    """The plot with its east edge moved out."""
    shape = shapely.box(0, 0, fields.PASSES * fields.WIDTH_M + by_m, fields.LENGTH_M)
    return fields.write_plots(tmp_path / "wider.geojson", {name: shape})


def contents(path: Path) -> list[str]:
    """All rows of all tables, as text."""
    with connected(path, write=False) as base:
        return list(base.iterdump())


def test_a_property_gives_the_acres_of_the_file_that_its_plots_came_from(tmp_path: Path):
    """`measure` on a property is `measure` on the plots' file with the ponds taken out, to the last bit."""
    path = tmp_path / "home.gpkg"
    new_property(path, name="Home")
    add_to(path, Adding(plots=FOLDER / "plots.geojson", obstacles=FOLDER / "ponds.geojson"))
    plain = measure_ground(GroundFiles(FOLDER / "plots.geojson", obstacles=FOLDER / "ponds.geojson"))
    found = measure_ground(GroundFiles(path))
    assert [(p.name, p.net_m2, p.low_m2, p.perimeter_m) for p in found.plots] == [
        (p.name, p.net_m2, p.low_m2, p.perimeter_m) for p in plain.plots
    ]
    assert found.total_m2 == plain.total_m2


def test_coverage_on_a_property_is_that_of_the_plots_file(tmp_path: Path):
    """`coverage` on a property has the figures of the same call on the files, for a whole application."""
    path = tmp_path / "home.gpkg"
    new_property(path, name="Home")
    add_to(path, Adding(plots=FOLDER / "plots.geojson", obstacles=FOLDER / "ponds.geojson"))
    drives = Drives((FOLDER / "sprayed.csv", FOLDER / "firebreak.gpx"), sprayer=Sprayer(width_m=3.6576))
    files = GroundFiles(FOLDER / "plots.geojson", obstacles=FOLDER / "ponds.geojson")
    plain = coverage_document(check_application(files, drives).coverage, gallons=None)
    assert coverage_document(check_application(GroundFiles(path), drives).coverage, gallons=None) == plain


def test_a_check_strip_of_the_property_counts_by_itself(home: Path, track: Path, tmp_path: Path):
    """Ground that the property keeps as left on purpose is neither missed nor treated, without saying so again."""
    before = applied(home, track).coverage
    strip = shapely.box(5 * fields.WIDTH_M, 0, 6 * fields.WIDTH_M, fields.LENGTH_M)  # the pass that was left out
    add_to(home, Adding(left=fields.write_plots(tmp_path / "strip.geojson", {"Compare": strip})))
    after = applied(home, track).coverage
    assert before.left_m2 == 0
    assert before.missed_m2 == pytest.approx(fields.WIDTH_M * fields.LENGTH_M, abs=fields.ROUNDING_M2)
    assert after.left_m2 == pytest.approx(fields.WIDTH_M * fields.LENGTH_M, abs=fields.ROUNDING_M2)
    assert after.missed_m2 < 2 * fields.ROUNDING_M2


def test_an_application_is_judged_by_the_boundary_of_its_day(home: Path, track: Path, tmp_path: Path):
    """A plot made wider after the spraying is judged as it was; made wider before, as it became; and it is said."""
    whole_m2 = fields.PASSES * fields.WIDTH_M * fields.LENGTH_M
    add_to(home, Adding(plots=wider(tmp_path, by_m=10), replace=True, since="2026-09-29"))
    old = applied(home, track)
    assert old.coverage.plot_m2 == pytest.approx(whole_m2, abs=0.1)
    assert any(f"Long Field: the boundary that held on {DAY} was used" in n for n in old.measured.notices)
    assert old.kept[0].since == "2026-03-01"
    undo_change(home)
    add_to(home, Adding(plots=wider(tmp_path, by_m=10), replace=True, since=DAY))
    new = applied(home, track)
    assert new.coverage.plot_m2 == pytest.approx(whole_m2 + 10 * fields.LENGTH_M, abs=0.1)
    assert not any("was used" in n for n in new.measured.notices)


def test_a_boundary_mended_on_its_first_day_is_no_older_one(tmp_path: Path, track: Path):
    """Where a boundary was replaced on the day it began, drives of before are judged by the mended one."""
    path = tmp_path / "home.gpkg"
    new_property(path, name="Home")
    add_to(path, Adding(plots=wider(tmp_path, by_m=500)))
    add_to(path, Adding(plots=wider(tmp_path, by_m=0), replace=True))
    done = applied(path, track)
    assert done.coverage.plot_m2 == pytest.approx(fields.PASSES * fields.WIDTH_M * fields.LENGTH_M, abs=0.1)
    assert any(f"no boundary is kept for {DAY}" in n for n in done.measured.notices)


def test_a_plot_removed_since_counts_for_its_days(home: Path, track: Path):
    """An application of a day on which a plot was still there is judged with it; one of a later day is not."""
    remove_thing(home, "Long Field", day="2026-09-29")
    done = applied(home, track)
    assert [p.name for p in done.coverage.plots] == ["Long Field"]
    assert any("Long Field: removed since" in n for n in done.measured.notices)
    with pytest.raises(PropertyError, match="holds no plots yet"):
        applied(home, track, day="2026-09-29")


def test_the_day_is_that_of_the_first_point_in_the_zone_given():
    """02:30 UTC is the evening before in Chicago; a clock without a zone is already local; no times, no day."""
    from datetime import UTC, datetime
    from zoneinfo import ZoneInfo

    base = Track(
        name="t",
        lon_deg=np.zeros(2),
        lat_deg=np.zeros(2),
        time_s=np.array([np.nan, datetime(2026, 9, 29, 2, 30, tzinfo=UTC).timestamp()]),
        segment=np.zeros(2, dtype=np.int64),
        boom_on=np.zeros(2, dtype=np.int8),
        width_m=np.zeros(2),
        speed_mps=np.zeros(2),
        hdop=np.zeros(2),
        clock="utc",
    )
    chicago = ZoneInfo("America/Chicago")
    assert day_of([base], zone=None) == "2026-09-29"
    assert day_of([base], zone=chicago) == "2026-09-28"
    assert day_of([replace(base, clock="no zone")], zone=chicago) == "2026-09-29"
    assert day_of([replace(base, clock="none")], zone=chicago) == ""
    assert day_of([replace(base, time_s=np.full(2, np.nan))], zone=None) == ""


def test_names_pick_plots_from_a_property_and_from_any_file(home: Path, tmp_path: Path):
    """Only the plots named are taken, whatever their capitals; a name that is not there is refused with the names."""
    add_to(home, Adding(plots=fields.write_plots(tmp_path / "b.geojson", {"Creek": shapely.box(60, 0, 80, 20)})))
    assert [p.name for p in measure_ground(GroundFiles(home, pick=("CREEK",))).plots] == ["Creek"]
    found = measure_ground(GroundFiles(FOLDER / "plots.geojson", pick=("pond patch", "Wasp Waist")))
    assert [p.name for p in found.plots] == ["Wasp Waist", "Pond Patch"]
    for path in (home, FOLDER / "plots.geojson"):
        with pytest.raises(UnreadableFile, match='no plot called "Nowhere"'):
            measure_ground(GroundFiles(path, pick=("Nowhere",)))


def test_a_name_that_is_taken_is_refused_and_nothing_is_added(home: Path, tmp_path: Path):
    """One plot of two that is there already, in other capitals too, keeps both out; --replace lets both in."""
    shapes = {"long field": shapely.box(0, 0, 10, 10), "Creek": shapely.box(60, 0, 80, 20)}
    both = fields.write_plots(tmp_path / "both.geojson", shapes)
    before = contents(home)
    with pytest.raises(PropertyError, match=r"a plot called Long Field already, and nothing was added. Say --replace"):
        add_to(home, Adding(plots=both))
    assert contents(home) == before
    said = add_to(home, Adding(plots=both, replace=True))
    assert any(f"Long Field has a new boundary since today, {today()}" in words for words in said.words)
    assert [p.name for p in holding_of(home).plots] == ["Long Field", "Creek"]


def test_all_of_one_call_is_one_change(tmp_path: Path):
    """Plots, obstacles, check strips and a sprayer that came in together go together."""
    path = tmp_path / "home.gpkg"
    new_property(path, name="Home")
    before = contents(path)
    plots, ponds = FOLDER / "plots.geojson", FOLDER / "ponds.geojson"
    add_to(path, Adding(plots=plots, obstacles=ponds, left=ponds, sprayer=("Four-wheeler", BOOM, None)))
    found = holding_of(path)
    assert (len(found.plots), len(found.marks), len(found.sprayers), len(found.steps)) == (7, 2, 1, 1)
    undo_change(path)
    found = holding_of(path)
    assert (len(found.plots), len(found.marks), len(found.sprayers)) == (0, 0, 0)
    tables = ('INSERT INTO "plots"', 'INSERT INTO "marks"', 'INSERT INTO "sprayers"')
    assert not [line for line in contents(path) if line.startswith(tables)]
    assert not [line for line in before if line.startswith(tables)]


def test_what_is_the_same_already_is_no_change(home: Path, tmp_path: Path):
    """Adding the same boundary again with --replace changes nothing and says so."""
    before = contents(home)
    said = add_to(home, Adding(plots=tmp_path / "plots.geojson", replace=True))
    assert said.words == ("As it was already: Long Field.",)
    assert contents(home) == before


def test_two_shapes_of_one_name_are_refused(home: Path, tmp_path: Path):
    """A file with two shapes of one name cannot be told apart later, so it does not come in."""
    shapes = {"Creek": shapely.box(60, 0, 80, 20), "CREEK": shapely.box(90, 0, 99, 20)}
    with pytest.raises(PropertyError, match="more than one shape is called Creek"):
        add_to(home, Adding(plots=fields.write_plots(tmp_path / "b.geojson", shapes)))


def test_one_plot_can_be_named_in_the_call(home: Path, tmp_path: Path):
    """A file of one plot takes the name that is given; one of several cannot."""
    add_to(home, Adding(plots=tmp_path / "plots.geojson", name="  Creek\tbottom "))
    assert [p.name for p in holding_of(home).plots] == ["Long Field", "Creek bottom"]
    with pytest.raises(CallError, match="--name"):
        add_to(home, Adding(plots=FOLDER / "plots.geojson", name="Creek"))


@pytest.mark.parametrize("stop_at", ["Reading", "Adding"])
def test_a_stop_while_things_come_in_leaves_the_file_as_it_was(home: Path, stop_at: str):
    """Control-C in the middle of adding leaves no plot behind and no change in the list."""

    def tell(what: str, _share: float) -> None:
        if what == stop_at:
            raise Stopped("stopped; nothing more was written.")

    before = contents(home)
    with pytest.raises(Stopped):
        add_to(home, Adding(plots=FOLDER / "plots.geojson"), progress=tell)
    assert contents(home) == before


def test_what_another_program_adds_in_between_is_not_trampled(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """Where the names change between the look and the writing, nothing is added, and it is said."""
    look = adding_job._plan  # noqa: SLF001 - the moment between is not to be had otherwise
    other = fields.write_plots(tmp_path / "b.geojson", {"Creek": shapely.box(60, 0, 80, 20)})
    told: list[str] = []

    def looked(base: sqlite3.Connection, *args: Any, **more: Any) -> Any:
        found = look(base, *args, **more)
        if not told:
            told.append("looked")
            add_to(home, Adding(plots=other))
        return found

    monkeypatch.setattr(adding_job, "_plan", looked)
    with pytest.raises(PropertyError, match="at the same moment"):
        add_to(home, Adding(plots=other, replace=True))
    assert [p.name for p in holding_of(home).plots] == ["Long Field", "Creek"]


def test_an_application_is_kept_with_tracks_figures_and_strips(home: Path, track: Path):
    """What was saved comes back: the answer, the track point by point, each strip with its state; undo takes all."""
    done = applied(home, track)
    kept(home, done)
    with connected(home, write=False) as base:
        (found,) = applications_in(base)
        strips = strips_in(base, application_uid=found.uid)
        (again,) = tracks_of(base, found.uid)
        (plot,) = base.execute("SELECT plot_uid, since, figures FROM application_plots").fetchall()
        (only,) = plots_in(base)
    assert (found.name, found.day) == ("Fall spray", DAY)
    assert found.answer == json.loads(json.dumps(coverage_document(done.coverage, gallons=None)))
    assert [(s.number, s.state, s.area_m2) for s in strips] == [
        (n, s.verdict.word, s.area_m2) for n, s in enumerate(done.coverage.strips, start=1)
    ]
    assert np.array_equal(again.lon_deg, done.tracks[0].lon_deg)
    assert np.array_equal(again.time_s, done.tracks[0].time_s, equal_nan=True)
    assert plot[:2] == (only.uid, "2026-03-01")
    assert json.loads(plot[2])["treated_acres"] * ACRE_M2 == pytest.approx(done.coverage.treated_m2)
    undo_change(home)
    with connected(home, write=False) as base:
        for table in ("applications", "application_plots", "tracks", "strips"):
            assert base.execute(f"SELECT count(*) FROM {table}").fetchone() == (0,), table  # noqa: S608 - ours


def test_a_name_taken_is_told_before_and_at_the_saving(home: Path, track: Path):
    """A second application of a name is refused before the work, and again when it is to be written."""
    done = applied(home, track)
    kept(home, done)
    with pytest.raises(PropertyError, match='an application called "Fall spray" already'):
        check_room(home, "applications", name="FALL SPRAY")
    with pytest.raises(PropertyError, match="already"):
        kept(home, done)
    check_room(home, "applications", name="Spring spray")
    with pytest.raises(CallError, match="--save"):
        check_room(home, "applications", name=" \t ")


def test_strips_are_marked_and_only_those_seen_are_mixed_for(home: Path, track: Path):
    """No touch-up is mixed for a strip that nobody saw, nor for one that was touched up already."""
    done = applied(home, track)
    kept(home, done)
    with pytest.raises(PropertyError, match=r"marked as seen. Go and look first"):
        strips_from_coverage(home, seen=None)
    said = mark_strips(home, [1], state="Seen")
    assert said[0] == 'Strip 1 of "Fall spray": seen.'
    assert strips_from_coverage(home, seen=None) == [("Long Field, strip 1", done.coverage.strips[0].area_m2)]
    mark_strips(home, [1], state="touched up")
    for seen in (None, [1]):
        with pytest.raises(GladebookError, match=r"touched up already|marked as seen"):
            strips_from_coverage(home, seen=seen)
    undo_change(home)
    assert len(strips_from_coverage(home, seen=None)) == 1
    with pytest.raises(CallError, match="99 is not on the list"):
        mark_strips(home, [1, 99], state="left")
    with pytest.raises(CallError, match='not "sprayed"'):
        mark_strips(home, [1], state="sprayed")
    assert len(strips_from_coverage(home, seen=None)) == 1


def test_treated_acres_come_from_an_application_that_was_kept(home: Path, track: Path):
    """`mix --treated` takes the acres of the application that is named, and asks where there are several."""
    done = applied(home, track)
    kept(home, done)
    assert dict(acres_from_coverage(home)) == pytest.approx({"Long Field": done.coverage.treated_m2})
    kept(home, done, "Second spray")
    with pytest.raises(CallError, match=r"keeps 2 applications \(Fall spray, Second spray\). Say which"):
        acres_from_coverage(home)
    assert acres_from_coverage(home, application="second SPRAY")
    with pytest.raises(PropertyError, match='no application called "Third"'):
        acres_from_coverage(home, application="Third")


def test_a_sprayer_that_is_kept_is_used_and_beaten_by_the_call(home: Path):
    """A kept sprayer comes back as it was said; what the call says in its place wins, and the rest stays."""
    whole = Sprayer(width_m=4.0, behind_m=2.0, right_m=-0.5, on_delay_s=0.0, sections_m=(2.0, 2.0))
    add_to(home, Adding(sprayer=("Four-wheeler", whole, None)))
    found = kept_sprayer(home, "four-WHEELER")
    assert found == (whole, None)
    wide, side = over_kept(Sprayer(width_m=6.0), side=None, kept=found)
    assert (wide.width_m, wide.behind_m, wide.sections_m, side) == (6.0, 2.0, (), None)
    beside = over_kept(Sprayer(), side="left", kept=found)
    assert (beside[0].right_m, beside[1]) == (None, "left")
    assert over_kept(Sprayer(right_m=1.0), side=None, kept=(Sprayer(width_m=4.0), "left"))[1] is None
    with pytest.raises(PropertyError, match="keeps no sprayer called"):
        kept_sprayer(home, "Backpack")
    with pytest.raises(PropertyError, match="a sprayer called Four-wheeler already"):
        add_to(home, Adding(sprayer=("four-wheeler", BOOM, None)))
    add_to(home, Adding(sprayer=("four-wheeler", BOOM, None), replace=True))
    assert kept_sprayer(home, "Four-wheeler") == (BOOM, None)


def test_a_kept_mix_keeps_its_cautions(home: Path):
    """Whatever is kept of a mix holds the cautions beside the amounts."""
    content = {"cautions": list(CAUTIONS), "words": ["4.30 ac takes 64.5 gal"]}
    keep_answer(home, "mixes", name="Fall mix", content=content, day=DAY)
    found = show_thing(home, "fall mix")
    assert found.kind == "mix"
    assert getattr(found.noun, "content", {})["cautions"] == list(CAUTIONS)


def test_renaming_keeps_the_history_and_refuses_a_name_that_is_taken(home: Path, track: Path, tmp_path: Path):
    """A renamed plot keeps its boundaries and applications; a name of another plot is refused."""
    kept(home, applied(home, track))
    add_to(home, Adding(plots=wider(tmp_path, by_m=10), replace=True, since="2026-10-01"))
    add_to(home, Adding(plots=fields.write_plots(tmp_path / "b.geojson", {"Creek": shapely.box(60, 0, 80, 20)})))
    with pytest.raises(PropertyError, match='a plot called "Creek" already'):
        rename_thing(home, "Long Field", "creek")
    rename_thing(home, "long field", "Ridge")
    noun: Any = show_thing(home, "Ridge").noun
    assert [(b.since, b.until) for b in noun.boundaries] == [("2026-03-01", "2026-10-01"), ("2026-10-01", None)]
    assert noun.applications == ("Fall spray",)
    assert [p.name for p in applied(home, track).coverage.plots] == ["Ridge", "Creek"]
    rename_thing(home, "Fall spray", "Fall clover")
    assert [a.name for a in holding_of(home).applications] == ["Fall clover"]


def test_removing_says_what_is_kept_and_comes_back(home: Path, track: Path):
    """A removed plot's boundary and application stay; undo brings the plot back; what is not there is refused."""
    kept(home, applied(home, track))
    said = remove_thing(home, "long field")
    assert "the boundaries that it had are kept, and so is the application Fall spray" in said[0]
    assert [p.name for p in holding_of(home).plots] == []
    with pytest.raises(PropertyError, match='called "long field"'):
        remove_thing(home, "long field")
    undo_change(home)
    before = contents(home)
    remove_thing(home, "Fall spray")
    assert holding_of(home).strips == ()
    undo_change(home)
    rows = [line for line in before if "gladebook_" not in line and "gpkg_contents" not in line]
    assert not [line for line in rows if line not in contents(home) and "sqlite_sequence" not in line]


def test_things_of_one_name_are_told_apart_by_kind(home: Path, tmp_path: Path):
    """Where a plot and an obstacle share a name, the kind must be said; then the right one goes."""
    add_to(home, Adding(obstacles=fields.write_plots(tmp_path / "b.geojson", {"Long Field": shapely.box(0, 0, 9, 9)})))
    with pytest.raises(PropertyError, match=r"obstacle, plot. Say which, like --kind"):
        remove_thing(home, "Long Field")
    remove_thing(home, "Long Field", kind="obstacle")
    found = holding_of(home)
    assert (len(found.plots), len(found.marks)) == (1, 0)


def test_a_backup_is_a_property_of_its_own_and_never_replaces_a_file(home: Path, tmp_path: Path):
    """A backup holds the same, has the day in its name, takes another name the second time, and overwrites nothing."""
    back_up(home)
    back_up(home)
    copies = [tmp_path / f"home-backup-{today()}{end}.gpkg" for end in ("", "-2")]
    for copy in copies:
        assert holding_of(copy).plots == holding_of(home).plots
    with pytest.raises(PropertyError, match="no backup is written over it"):
        back_up(home, copies[0])
    with pytest.raises(PropertyError, match="no such folder"):
        back_up(home, tmp_path / "nowhere" / "copy.gpkg")
    undo_change(copies[0])
    assert holding_of(copies[0]).plots == ()
    assert len(holding_of(home).plots) == 1
    assert not [p.name for p in tmp_path.iterdir() if p.name.endswith(("-wal", "-shm", ".part"))]


def test_check_finds_and_mends_an_index(home: Path):
    """A spatial index that lost a row is told, with how to mend it, and mended."""
    assert check_file(home) == ([], [])
    with closing(sqlite3.connect(home)) as base:
        base.execute("DELETE FROM rtree_plots_geom")
        base.commit()
    faults, _ = check_file(home)
    assert len(faults) == 1
    assert "--mend" in faults[0]
    assert check_file(home, mend=True)[0] == []
    assert check_file(home)[0] == []


def test_what_other_programs_write_is_shown_and_measured(home: Path):
    """A plot that another program draws counts; one that it draws crossed is shown mended, and jobs refuse it."""
    with closing(sqlite3.connect(home)) as base:
        for name in ("ST_IsEmpty", "ST_MinX", "ST_MinY", "ST_MaxX", "ST_MaxY"):
            base.create_function(name, 1, lambda _blob: 0)
        crossed = fields.FRAME.shape_to_lonlat(shapely.Polygon([(60, 0), (90, 30), (90, 0), (60, 30)]))
        blob = b"GP\x00\x01" + (4326).to_bytes(4, "little") + shapely.to_wkb(shapely.multipolygons([crossed]))
        base.execute("INSERT INTO plots (name, geom) VALUES ('Drawn elsewhere', ?)", (blob,))
        base.commit()
    found = holding_of(home)
    assert [p.name for p in found.plots] == ["Long Field", "Drawn elsewhere"]
    assert [(e.table, e.what, e.count) for e in found.edits] == [("plots", "added", 1)]
    assert any("repaired" in notice for notice in found.notices)
    with pytest.raises(GladebookError, match="Drawn elsewhere: the boundary crosses itself"):
        measure_ground(GroundFiles(home))
    assert len(measure_ground(GroundFiles(home, repair=True)).plots) == 2


def test_the_door_reads_a_property_as_any_file(home: Path, tmp_path: Path):
    """Plots of one property can be added to another, and its plots are what the door gives where no layer is named."""
    assert [p.name for p in read_plots(home)] == ["Long Field"]
    other = tmp_path / "other.gpkg"
    new_property(other, name="Other")
    add_to(other, Adding(plots=home))
    assert [p.name for p in holding_of(other).plots] == ["Long Field"]


@pytest.mark.parametrize("link", ["home.gpkg", "link.txt", "hard.txt", "home.gpkg-wal", "home.gpkg-shm"])
def test_no_answer_is_written_over_a_property(home: Path, link: str):
    """A property is spared by its name, through links of both kinds, and with the files that SQLite keeps beside it."""
    before = contents(home)
    (home.parent / "link.txt").symlink_to(home)
    (home.parent / "hard.txt").hardlink_to(home)
    with pytest.raises(OutputError, match="a property file, which no answer is written over"):
        write_text(home.parent / link, "answer")
    assert contents(home) == before
    write_text(home.parent / "answer.txt", "answer")


def test_a_link_to_a_property_is_one(home: Path, track: Path):
    """A property reached through a link without its ending is still read through SQLite and used whole."""
    link = home.parent / "ours"
    link.symlink_to(home)
    assert applied(link, track).kept[0].name == "Long Field"
