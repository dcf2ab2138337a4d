"""What have I got? Tracing, cutting, keeping off the wood line, undo and clashes, as the page asks for them."""

import json
import math
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
import shapely
from geographiclib.geodesic import Geodesic

from gladebook.geometry.frame import Frame
from gladebook.units import ACRE_M2, FT_M
from tests.cli.fields import FIELD, write_plots
from tests.web.conftest import Page, good, parts_of

# One side of the plot of ten passes, 40 m by 80 m, is shared with a neighbour drawn over it by 10 m.
OVER = shapely.box(30, 0, 90, 80)


def karney_acres(corners: list[list[float]]) -> float:
    """Acres of one ring by Karney's geodesic polygon (GeographicLib), the reference for areas on the ellipsoid."""
    polygon = Geodesic.WGS84.Polygon()
    for lon, lat in corners:
        polygon.AddPoint(lat, lon)
    return abs(float(polygon.Compute()[2])) / ACRE_M2


def test_a_traced_plot_has_the_acres_of_the_geodesic_polygon(empty: Page):
    """What is put down has the acres that Karney's algorithm gives the same corners, to a ten-thousandth."""
    parts = parts_of(shapely.Polygon([(0, 0), (90, 8), (120, 70), (40, 110), (-15, 60)]))
    told = good(empty.send("shapes", {"name": "Crooked Glade", "parts": parts}))
    assert told["shapes"][0]["acres"] == pytest.approx(karney_acres(parts[0][0]), rel=1e-4)
    assert told["words"] == "Traced the plot Crooked Glade."
    assert told["undo"]["words"] == "Traced the plot Crooked Glade."


def test_an_outline_tells_what_ponds_take_and_what_it_shares(page: Page):
    """While it is traced: acres drawn, acres less the pond, and ground that lies in another plot too."""
    good(page.send("shapes", {"name": "Pond", "kind": "obstacle", "parts": parts_of(shapely.box(60, 20, 70, 40))}))
    told = good(page.send("outline", {"parts": parts_of(OVER)}))
    assert told["drawn_acres"] == pytest.approx(4800 / ACRE_M2, rel=1e-4)
    assert told["acres"] == pytest.approx(4600 / ACRE_M2, rel=1e-4)
    assert "less 0.049 ac of ponds, rocks and trees" in told["words"][1]
    assert told["words"][2] == "0.20 ac of it lies in Alder Glade too."  # 10 m x 80 m
    assert told["shared"] is True


def test_an_outline_is_cut_to_its_neighbour(page: Page):
    """Cut to the neighbour, 10 m of 60 m go, nothing is shared any more, and it can be kept."""
    told = good(page.send("outline/cut", {"parts": parts_of(OVER)}))
    assert told["acres"] == pytest.approx(50 * 80 / ACRE_M2, rel=1e-4)
    assert told["shared"] is False
    kept = good(page.send("shapes", {"name": "Alder Annex", "parts": told["parts"]}))
    assert kept["total_acres"] == pytest.approx((50 + 40) * 80 / ACRE_M2, rel=1e-4)
    assert not [n for n in kept["notices"] if "share" in n]


def test_a_plot_drawn_anew_is_no_neighbour_of_itself(page: Page):
    """Cutting the plot that is drawn anew takes nothing out of it."""
    told = good(page.send("outline/cut", {"parts": parts_of(FIELD), "uid": page.shape("Alder Glade")["uid"]}))
    assert told["acres"] == pytest.approx(40 * 80 / ACRE_M2, rel=1e-4)
    assert told["shared"] is False


def test_a_cut_that_leaves_two_parts_keeps_both_and_says_so(page: Page):
    """A strip across the plot falls in two, 20 m and 30 m by 10 m: one plot of two parts, which can be drawn anew."""
    told = good(page.send("outline/cut", {"parts": parts_of(shapely.box(-20, 30, 70, 40))}))
    assert told["acres"] == pytest.approx(50 * 10 / ACRE_M2, rel=1e-3)
    assert told["words"][-1] == "It has 2 parts."
    good(page.send("shapes", {"name": "Alder Ends", "parts": told["parts"]}))
    seen = page.shape("Alder Ends")
    one = [part for part in told["parts"] if part[0][0][0] > -86.5]
    good(page.send(f"shapes/{seen['uid']}", {"parts": one, "mark": seen["mark"]}, method="PUT"))
    assert page.shape("Alder Ends")["acres"] == pytest.approx(30 * 10 / ACRE_M2, rel=1e-3)


def test_what_lies_all_in_its_neighbour_cannot_be_cut(page: Page):
    """Where nothing would be left, that is said, and nothing is given back."""
    answer = page.send("outline/cut", {"parts": parts_of(shapely.box(5, 5, 20, 20))})
    assert answer.status_code == 422
    assert "its neighbours cover it all" in answer.json()["error"]


@pytest.mark.parametrize("feet", [5, 10, 20])
def test_an_outline_is_kept_off_the_wood_line(page: Page, feet: int):
    """Drawn in from every edge, a rectangle loses the width twice along each side."""
    off = feet * FT_M
    told = good(page.send("outline/narrow", {"parts": parts_of(shapely.box(0, 200, 60, 240)), "width": f"{feet} ft"}))
    assert told["acres"] == pytest.approx((60 - 2 * off) * (40 - 2 * off) / ACRE_M2, rel=1e-4)


def test_kept_off_a_crooked_wood_line_every_corner_is_as_far_away(page: Page):
    """No place of the narrowed outline lies nearer to the old line than was asked, but for 5 cm of rounding."""
    shape = shapely.Polygon([(0, 0), (60, 5), (75, 50), (40, 38), (10, 60), (-8, 30)])
    told = good(page.send("outline/narrow", {"parts": parts_of(shape), "width": "10 ft"}))
    frame = Frame(lon_deg=-86.5, lat_deg=32.4)
    inner = frame.shape_to_plane(shapely.Polygon(told["parts"][0][0]))
    assert shapely.within(inner, shape)
    assert shapely.distance(inner.exterior, shape.exterior) == pytest.approx(10 * FT_M, abs=0.05)


@pytest.mark.parametrize("width", ["0 ft", "-3 ft", "200 ft", "ten", "5 gal"])
def test_a_width_that_leaves_nothing_is_refused(page: Page, width: str):
    """No width, too much of it, or none at all: one sentence, and no shape."""
    answer = page.send("outline/narrow", {"parts": parts_of(shapely.box(0, 200, 60, 240)), "width": width})
    assert answer.status_code in (400, 422)
    assert answer.json()["error"]


BAD = {
    "two corners": [[[[-86.5, 32.4], [-86.4, 32.4]]]],
    "one place": [[[[-86.5, 32.4]] * 4]],
    "a bow tie": [[[[-86.5, 32.4], [-86.49, 32.41], [-86.49, 32.4], [-86.5, 32.41]]]],
    "a part over another": [[[[-86.5, 32.4], [-86.49, 32.4], [-86.49, 32.41]]]] * 2,
    "no part": [],
    "no ring": [[]],
    "an empty ring": [[[]]],
    "beyond the pole": [[[[-86.5, 89.0], [-86.4, 95.0], [-86.3, 89.0]]]],
    "far too many": [[[[-86.5 + math.cos(i) / 1e3, 32.4 + math.sin(i) / 1e3] for i in range(20_001)]]],
}


@pytest.mark.parametrize("parts", BAD.values(), ids=BAD)
def test_an_outline_that_is_no_area_is_refused_and_nothing_is_written(empty: Page, parts: list[object]):
    """Each is answered with a sentence, none with a failure, and the property stays empty."""
    for where, body in (("outline/cut", {"parts": parts}), ("shapes", {"parts": parts, "name": "Odd"})):
        answer = empty.send(where, body)
        assert answer.status_code in (400, 422)
        assert answer.json()["error"]
    live = empty.send("outline", {"parts": parts})  # while a finger is at it, no mistake: only no acres
    assert live.status_code == 400 or (live.json()["wrong"] and "acres" not in live.json())
    assert empty.ask("property")["shapes"] == []


def test_a_name_that_is_taken_or_empty_is_refused(page: Page):
    """Two plots cannot share a name, whatever its capitals; none can go without."""
    parts = parts_of(shapely.box(100, 0, 140, 80))
    for name in ("alder GLADE", "", "   "):
        assert page.send("shapes", {"name": name, "parts": parts}).status_code in (400, 422)
    assert len(page.ask("property")["shapes"]) == 1


def test_moved_corners_keep_the_earlier_line_and_undo_brings_it_back(page: Page):
    """Drawn anew, the plot has its new acres and one earlier line; undone, the old acres and none."""
    seen = page.shape("Alder Glade")
    new = parts_of(shapely.box(0, 0, 40, 60))
    good(page.send(f"shapes/{seen['uid']}", {"parts": new, "mark": seen["mark"]}, method="PUT"))
    assert page.shape("Alder Glade")["acres"] == pytest.approx(2400 / ACRE_M2, rel=1e-4)
    told = page.ask(f"plots/{seen['uid']}")
    assert [e["words"] for e in told["earlier"]] == ["0.79 ac"]  # 3,200 m2
    undone = good(page.send("undo", {"step": page.ask("property")["undo"]["step"]}))
    assert undone["words"] == "Taken back: Drew Alder Glade anew."
    assert page.shape("Alder Glade")["acres"] == pytest.approx(3200 / ACRE_M2, rel=1e-4)
    assert page.ask(f"plots/{seen['uid']}")["earlier"] == []


def test_a_plot_is_renamed_taken_away_and_brought_back(page: Page):
    """Renaming and removing are changes like any other: told, and undone."""
    seen = page.shape("Alder Glade")
    good(page.send(f"shapes/{seen['uid']}", {"name": "Sumac Glade", "mark": seen["mark"]}, method="PUT"))
    seen = page.shape("Sumac Glade")
    good(page.client.delete(f"/api/shapes/{seen['uid']}", params={"mark": seen["mark"]}))
    assert page.ask("property")["shapes"] == []
    good(page.send("undo", {"step": page.ask("property")["undo"]["step"]}))
    assert page.shape("Sumac Glade")["mark"] == seen["mark"]


def test_what_grows_there_is_entered_and_shown(page: Page):
    """What is planted is kept as the command would keep it, and shown with the plot."""
    uid = page.shape("Alder Glade")["uid"]
    body = {"growing": "white clover, oat", "planted": "2026-09-20", "seen": []}
    told = good(page.send(f"plots/{uid}/growing", body, method="PUT"))
    assert (told["growing"], told["planted"]) == ("white clover, oat", "2026-09-20")
    assert told["entered"][0] == "White clover, oat grow there."
    assert page.send(f"plots/{uid}/growing", {**body, "growing": "moon cheese"}, method="PUT").status_code in (400, 409)
    again = {"growing": "moon cheese", "seen": told["standing"]}
    assert page.send(f"plots/{uid}/growing", again, method="PUT").status_code == 400
    assert "white clover" in page.ask("forages")["forages"]


def test_a_file_is_dropped_in_and_a_bad_one_writes_nothing(empty: Page, tmp_path: Path):
    """A file of plots comes in as one change; what is no such file is refused by name."""
    plots = write_plots(
        tmp_path / "two glades.geojson", {"East Glade": FIELD, "West Glade": shapely.box(-60, 0, -9, 80)}
    )
    told = good(empty.drop("file", plots))
    assert [s["name"] for s in told["shapes"]] == ["East Glade", "West Glade"]
    bad = tmp_path / "notes.geojson"
    bad.write_text("these are no plots")
    answer = empty.drop("file", bad)
    assert answer.status_code == 422
    assert "notes.geojson" in answer.json()["error"]
    assert len(empty.ask("property")["shapes"]) == 2
    assert empty.client.post("/api/file", params={"name": "none.gpx"}, content=b"").status_code == 400


def test_a_file_that_needs_more_says_where_to_say_it(page: Page, tmp_path: Path):
    """No coordinate system, crossed lines, a taken name: told in the page's own words, and let in once it is said."""
    table = tmp_path / "fields.csv"
    table.write_text(
        'name,geometry\nNorth Glade,"POLYGON ((641000 3590000, 641060 3590000, 641060 3590060, 641000 3590000))"\n'
    )
    told = page.drop("file", table).json()["error"]
    assert 'under "Coordinate system"' in told
    assert "--" not in told
    good(page.drop("file", table, crs="EPSG:26916"))
    assert page.shape("North Glade")["acres"] == pytest.approx(1800 / ACRE_M2, rel=2e-3)  # a grid's scale is no more
    crossed = tmp_path / "bow.geojson"
    bow = [[-86.6, 32.4], [-86.599, 32.401], [-86.599, 32.4], [-86.6, 32.401], [-86.6, 32.4]]
    crossed.write_text(
        json.dumps(
            {"type": "Feature", "properties": {"name": "Bow"}, "geometry": {"type": "Polygon", "coordinates": [bow]}}
        )
    )
    told = page.drop("file", crossed).json()["error"]
    assert 'tick "Mend lines that cross"' in told
    good(page.drop("file", crossed, repair="true"))
    again = write_plots(tmp_path / "again.geojson", {"Alder Glade": shapely.box(0, 0, 40, 60)})
    told = page.drop("file", again).json()["error"]
    assert 'Tick "Draw those of the same name anew"' in told
    good(page.drop("file", again, replace="true"))
    assert page.shape("Alder Glade")["acres"] == pytest.approx(2400 / ACRE_M2, rel=1e-4)


# -- two browsers on one property ------------------------------------------------------------------------------------


def test_a_shape_that_somebody_else_moved_is_not_overwritten(page: Page):
    """The second to save is told, theirs is not written, and after another look it is."""
    seen = page.shape("Alder Glade")
    first, second = parts_of(shapely.box(0, 0, 40, 60)), parts_of(shapely.box(0, 0, 40, 70))
    where = f"shapes/{seen['uid']}"
    good(page.send(where, {"parts": first, "mark": seen["mark"]}, method="PUT"))
    answer = page.send(where, {"parts": second, "mark": seen["mark"]}, method="PUT")
    assert answer.status_code == 409
    assert "somebody else changed it" in answer.json()["error"]
    assert page.shape("Alder Glade")["acres"] == pytest.approx(2400 / ACRE_M2, rel=1e-4)
    good(page.send(where, {"parts": second, "mark": page.shape("Alder Glade")["mark"]}, method="PUT"))
    assert page.shape("Alder Glade")["acres"] == pytest.approx(2800 / ACRE_M2, rel=1e-4)


def test_every_other_change_to_what_somebody_else_changed_is_told_too(page: Page):
    """Renaming, taking away, undoing and entering a stand after somebody else did: told each time, nothing written."""
    seen, step = page.shape("Alder Glade"), page.ask("property")["undo"]["step"]
    where = f"shapes/{seen['uid']}"
    good(page.send(where, {"name": "Sumac Glade", "mark": seen["mark"]}, method="PUT"))
    stand = {"growing": "oat", "seen": []}
    good(page.send(f"plots/{seen['uid']}/growing", stand, method="PUT"))
    before = page.ask("property")
    answers = [
        page.send(where, {"name": "Birch Glade", "mark": seen["mark"]}, method="PUT"),
        page.client.delete(f"/api/{where}", params={"mark": seen["mark"]}),
        page.send("undo", {"step": step}),
        page.send(f"plots/{seen['uid']}/growing", {**stand, "growing": "wheat"}, method="PUT"),
    ]
    assert [a.status_code for a in answers] == [409] * 4
    assert page.ask("property") == before


def test_of_many_who_undo_the_same_change_at_once_one_does(page: Page):
    """Eight press Undo in one moment, having seen the same change: it is taken back once, and no other with it."""
    for number in range(4):
        box = shapely.box(100 + 50 * number, 0, 140 + 50 * number, 80)
        good(page.send("shapes", {"name": f"Glade {number}", "parts": parts_of(box)}))
    step = page.ask("property")["undo"]["step"]
    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(lambda _: page.send("undo", {"step": step}).status_code, range(8)))
    assert sorted(answers) == [200, *[409] * 7]
    assert [s["name"] for s in page.ask("property")["shapes"]] == ["Alder Glade", "Glade 0", "Glade 1", "Glade 2"]


def test_a_shape_that_somebody_took_away_is_told(page: Page):
    """Whoever still has it on their screen is told that it is gone."""
    seen = page.shape("Alder Glade")
    good(page.client.delete(f"/api/shapes/{seen['uid']}", params={"mark": seen["mark"]}))
    again = page.send(f"shapes/{seen['uid']}", {"parts": parts_of(FIELD), "mark": seen["mark"]}, method="PUT")
    assert again.status_code == 409
    assert page.client.get(f"/api/plots/{seen['uid']}").status_code == 409
