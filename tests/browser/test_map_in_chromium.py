"""The map in a real browser: offline, quiet, drawn, safe, and fit for a laptop, a phone and paper."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import shapely
from playwright.sync_api import Browser, Page, Route

from tests.cli.command import gladebook
from tests.cli.fields import FIELD, LENGTH_M, middles, to_and_fro, write_plots, write_track
from tests.sample_property import FOLDER

pytestmark = pytest.mark.browser

LAPTOP = {"width": 1366, "height": 768}
PHONE = {"width": 390, "height": 844}
EVIL = '<img src=x onerror="window.hit=1"><script>window.hit=2</script>'


@dataclass
class Sheet:
    """An open page, every request that left it, and everything it complained about."""

    page: Page
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


def draw(*arguments: str | Path) -> None:
    said = gladebook("map", *arguments)
    assert said.code == 0, said.err


@pytest.fixture(scope="module")
def map_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("map") / "map.html"
    tracks = [FOLDER / "sprayed.csv", FOLDER / "firebreak.gpx"]
    draw(FOLDER / "plots.geojson", *tracks, "--obstacles", FOLDER / "ponds.geojson", "--boom", "12 ft", "--out", out)
    return out


def opened(chromium: Browser, file: Path, *, size: dict[str, int], touch: bool = False) -> Sheet:
    """Open a file with every request but its own blocked and recorded."""
    page = chromium.new_page(viewport=size, has_touch=touch, is_mobile=touch)  # type: ignore[arg-type]
    sheet = Sheet(page)

    def gate(route: Route) -> None:
        if route.request.url == file.as_uri():
            route.continue_()
        else:
            sheet.requests.append(route.request.url)
            route.abort()

    page.route("**/*", gate)
    page.on("console", lambda m: sheet.complaints.append(m.text) if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda e: sheet.complaints.append(str(e)))
    page.goto(file.as_uri())
    page.wait_for_selector("html[data-drawn=yes]", timeout=10_000)
    return sheet


@pytest.fixture(params=[(LAPTOP, False), (PHONE, True)], ids=["laptop", "phone"])
def sheet(request: pytest.FixtureRequest, chromium: Browser, map_file: Path) -> Iterator[Sheet]:
    size, touch = request.param
    found = opened(chromium, map_file, size=size, touch=touch)
    yield found
    found.page.close()


def test_the_map_needs_no_network_and_is_quiet(sheet: Sheet):
    """With every request blocked, none leaves the page, and the console says nothing."""
    sheet.page.wait_for_timeout(300)
    assert sheet.requests == []
    assert sheet.complaints == []


def test_every_plot_and_kind_of_ground_is_drawn(sheet: Sheet):
    """Seven plots with names, treated, missed, overlap, outside and unknown ground, and the track are on the map."""
    count = sheet.page.evaluate("s => document.querySelectorAll('#map ' + s).length", ".plot-line")
    assert count == 7
    for kind in ("treated", "missed", "overlap", "outside", "unknown", "track_on", "track_off"):
        box = sheet.page.locator(f"#map .ground-{kind}").first.bounding_box()
        assert box is not None, kind
        assert box["width"] > 5, kind
    shown = sheet.page.locator(".plot-name b").all_inner_texts()
    assert {"Kidney Bottom", "Cedar Annex", "Long Firebreak"} <= set(shown)


def test_the_plots_fill_the_map_and_scale_and_north_are_there(sheet: Sheet):
    """The plots lie inside the map's frame, beside a scale in feet and metres and a north arrow."""
    frame = sheet.page.locator("#map").bounding_box()
    assert frame is not None
    for box in (p.bounding_box() for p in sheet.page.locator("#map .plot-line").all()):
        assert box is not None
        assert box["x"] >= frame["x"]
        assert box["x"] + box["width"] <= frame["x"] + frame["width"]
    scale = sheet.page.locator(".leaflet-control-scale-line").all_inner_texts()
    assert any("ft" in s for s in scale)
    assert any(" m" in s for s in scale)
    assert "N" in sheet.page.locator(".north").inner_text()


def test_nothing_is_wider_than_the_screen(sheet: Sheet):
    """The page never scrolls sideways, and no heading of the table is cut off."""
    wide = sheet.page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0
    cut = sheet.page.evaluate(
        "(() => { const w = document.querySelector('.wide'); return w.scrollWidth - w.clientWidth })()"
    )
    assert cut <= 0


def test_words_stand_before_the_map_and_the_table_after(sheet: Sheet):
    """Words first, then the map, then the table."""
    tops = [sheet.page.locator(s).first.bounding_box() for s in (".words p", "#map", "table")]
    ys = [t["y"] for t in tops if t is not None]
    assert len(ys) == 3
    assert ys == sorted(ys)


def test_a_layer_can_be_switched_off_and_on(sheet: Sheet):
    """Unticking Go look takes those strips and their numbers off the map, and no others; ticking brings them back."""
    box = sheet.page.get_by_label("Go look")
    assert sheet.page.locator(".strip-number").count() == 5
    box.uncheck()
    assert sheet.page.locator("#map .ground-go_look").count() == 0
    assert sheet.page.locator(".strip-number").count() == 3
    assert sheet.page.locator("#map .ground-missed").count() == 1
    box.check()
    assert sheet.page.locator("#map .ground-go_look").count() == 2
    assert sheet.page.locator(".strip-number").count() == 5


def test_a_strip_in_the_list_leads_to_its_place(sheet: Sheet):
    """Tapping a missed strip zooms the map to it, a doubtful one too."""
    before = sheet.page.locator("#map .plot-line").first.bounding_box()
    sheet.page.locator("[data-strip='1']").click()
    sheet.page.wait_for_timeout(700)
    after = sheet.page.locator("#map .ground-go_look").nth(1).bounding_box()
    frame = sheet.page.locator("#map").bounding_box()
    assert before is not None
    assert after is not None
    assert frame is not None
    assert after["height"] > 0.4 * (frame["height"] - 120)
    sheet.page.locator(".skips summary").click()
    sheet.page.locator("[data-strip='2']").click()
    sheet.page.wait_for_timeout(700)
    doubtful = sheet.page.locator("#map .ground-cant_tell").bounding_box()
    assert doubtful is not None
    assert doubtful["height"] > 0.4 * (frame["height"] - 120)


def test_strips_differ_by_pattern_line_and_number_not_only_by_colour(sheet: Sheet):
    """Go look stands out with a whole line and a dark number, can't tell is faint with a ?, boom off is square."""
    looks = {
        kind: sheet.page.locator(f"#map .ground-{kind}").first.evaluate(
            "e => { const s = getComputedStyle(e); return [s.fill, parseFloat(s.strokeWidth), s.strokeDasharray] }"
        )
        for kind in ("go_look", "cant_tell", "boom_off")
    }
    assert len({fill for fill, *_ in looks.values()}) == 3
    assert looks["go_look"][1] > looks["boom_off"][1] > looks["cant_tell"][1]
    assert looks["go_look"][2] == "none"
    assert "none" not in (looks["cant_tell"][2], looks["boom_off"][2])
    numbers = {
        kind: sheet.page.locator(f".strip-number.{kind}").all_inner_texts()
        for kind in ("go_look", "cant_tell", "boom_off")
    }
    assert numbers == {"go_look": ["1", "2"], "cant_tell": ["3?"], "boom_off": ["4", "5"]}
    corners = sheet.page.locator(".strip-number.boom_off").first.evaluate("e => getComputedStyle(e).borderRadius")
    assert corners == "0px"


def test_the_list_on_the_page_has_the_map_s_numbers_and_says_when_to_go_in(sheet: Sheet):
    """Between map and table: until when to stay out, go look, can't tell as one line, boom off; largest first."""
    told = sheet.page.locator(".skips")
    words = told.inner_text()
    places = [
        "Do not go in on foot before",
        "Go look",
        "1. Cedar Flat",
        "2. Kidney Bottom",
        "Can't tell: 0.020 ac in 1",
    ]
    places += ["The record shows the boom off", "4. Cedar Flat", "5. Cedar Flat"]
    at = [words.index(place) for place in places]
    assert at == sorted(at)
    assert "3. Cedar Flat" not in words
    tops = [sheet.page.locator(s).first.bounding_box() for s in ("#map", ".skips", "table")]
    ys = [t["y"] for t in tops if t is not None]
    assert len(ys) == 3
    assert ys == sorted(ys)
    assert told.locator("button").first.evaluate("e => e.scrollWidth - e.clientWidth") <= 0


def test_the_key_says_what_treated_means_on_every_screen(sheet: Sheet):
    """On a phone too, the key names each kind of strip, and says what a treated place may still be."""
    key = sheet.page.locator(".key")
    words = key.inner_text()
    for word in ("Go look 0.12 ac", "Can't tell 0.020 ac", "Missed, boom off 0.011 ac"):
        assert word in words.replace("\n", " "), words
    assert key.get_by_text("plugged tips, an empty tank and wind cannot be seen").is_visible()


def test_a_number_on_the_map_tells_its_strip(chromium: Browser, map_file: Path):
    """A strip's pop-up has its number, its verdict, its place by passes and its size."""
    sheet = opened(chromium, map_file, size=LAPTOP)
    sheet.page.locator(".strip-number.go_look").first.click()
    words = sheet.page.locator(".leaflet-popup-content").inner_text()
    for word in ("Cedar Flat, strip 1", "Go look", "between your 6th and 7th pass", "whole pass missing", "0.072 ac"):
        assert word in words
    sheet.page.close()


def test_the_photo_asks_the_network_only_when_switched_on(sheet: Sheet):
    """The aerial photo is off by itself; switched on, it asks one public-domain host and no other."""
    assert sheet.requests == []
    sheet.page.get_by_label("Aerial photo").check()
    sheet.page.wait_for_timeout(500)
    assert sheet.requests
    assert all(r.startswith("https://basemap.nationalmap.gov/") for r in sheet.requests)
    assert "public domain" in sheet.page.locator(".leaflet-control-attribution").inner_text()


def test_a_tap_on_a_plot_shows_its_acres(chromium: Browser, map_file: Path):
    """A plot's pop-up has its name, acres, treated, missed and overlap."""
    sheet = opened(chromium, map_file, size=LAPTOP)
    box = sheet.page.locator("#map .plot-line").nth(3).bounding_box()
    assert box is not None
    sheet.page.mouse.click(box["x"] + box["width"] * 0.25, box["y"] + box["height"] * 0.3)
    words = sheet.page.locator(".leaflet-popup-content").inner_text()
    for word in ("Pond Patch", "1.81 ac", "Treated", "Missed", "Overlap"):
        assert word in words
    sheet.page.close()


def test_paper_has_the_map_and_the_key_without_buttons(chromium: Browser, map_file: Path):
    """In print the map and the key stay; tick boxes and zoom buttons go."""
    sheet = opened(chromium, map_file, size=LAPTOP)
    sheet.page.emulate_media(media="print")
    assert sheet.page.locator("#map").is_visible()
    assert sheet.page.get_by_text("all ground not driven over").is_visible()
    assert not sheet.page.locator(".leaflet-control-zoom").is_visible()
    assert not sheet.page.locator(".key input").first.is_visible()
    sheet.page.close()


@pytest.fixture(scope="module")
def strip_map(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ten passes, the seventh left out; the fifth drove over a check strip, the third and fourth over a pond."""
    folder = tmp_path_factory.mktemp("strip")
    plots = write_plots(folder / "field.geojson", {"Alder Glade": FIELD})
    strip = write_plots(folder / "strip.geojson", {"Check strip": shapely.box(16, 0, 20, LENGTH_M)})
    ponds = write_plots(folder / "ponds.geojson", {"Alder Pond": shapely.box(9, 20, 14, 30)})
    track = write_track(folder / "drive.csv", to_and_fro(middles(), leave_out=(7,)))
    out = folder / "map.html"
    draw(plots, track, "--boom", "4 m", "--check-strip", strip, "--obstacles", ponds, "--behind", "0 m", "--out", out)
    return out


@pytest.mark.parametrize(("size", "touch"), [(LAPTOP, False), (PHONE, True)], ids=["laptop", "phone"])
def test_ground_left_on_purpose_has_its_own_look(chromium: Browser, strip_map: Path, size: dict[str, int], touch: bool):
    """A check strip is drawn in a pattern of its own, named in the key with its size, and can be switched off."""
    sheet = opened(chromium, strip_map, size=size, touch=touch)
    strip = sheet.page.locator("#map .ground-left")
    assert strip.count() == 1
    fills = {
        kind: sheet.page.locator(f"#map .ground-{kind}").first.evaluate("e => getComputedStyle(e).fill")
        for kind in ("left", "treated", "missed", "outside")
    }
    assert len(set(fills.values())) == len(fills)
    box = sheet.page.get_by_label("Left on purpose 0.079 ac")
    box.uncheck()
    assert strip.count() == 0
    box.check()
    assert strip.count() == 1
    assert sheet.page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    wide = "e => [e.scrollWidth, e.clientWidth]"
    inside, frame = sheet.page.locator(".wide").first.evaluate(wide)
    assert inside <= frame
    assert sheet.complaints == []
    sheet.page.close()


def test_the_page_tells_passes_water_and_what_was_left(chromium: Browser, strip_map: Path):
    """Words, table and pop-up tell the missing pass, the sprayed pond and the sprayed check strip."""
    sheet = opened(chromium, strip_map, size=LAPTOP)
    words = sheet.page.locator(".words").inner_text()
    assert "gap after the" in words
    assert "from the west side" in words
    assert "Sprayed over water: Alder Pond, 0.012 ac." in words
    assert "Left on purpose 0.079 ac, neither treated nor missed; all of it was sprayed all the same." in words
    assert "Left on purpose ac" in sheet.page.locator("table thead").inner_text()
    drawn = sheet.page.locator("#map .plot-line").first
    drawn.scroll_into_view_if_needed()  # the words above may take more lines than a screen has to spare
    frame = drawn.bounding_box()
    assert frame is not None
    sheet.page.mouse.click(frame["x"] + frame["width"] * 0.1, frame["y"] + frame["height"] * 0.9)
    pop_up = sheet.page.locator(".leaflet-popup-content").inner_text()
    for line in ("Left on purpose 0.079 ac", "passes needed", "found, gap after the"):
        assert line in pop_up
    sheet.page.close()


def evil_files(tmp_path: Path) -> tuple[Path, Path]:
    ring = [[-86.0, 32.0], [-85.999, 32.0], [-85.999, 32.001], [-86.0, 32.001], [-86.0, 32.0]]
    feature: dict[str, Any] = {
        "type": "Feature",
        "properties": {"name": EVIL},
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }
    plots = tmp_path / "plots.geojson"
    plots.write_text(json.dumps({"type": "FeatureCollection", "features": [feature, feature]}))
    track = tmp_path / "<b onclick=window.hit=3>t.csv"
    rows = [f"{k},{32.0002 + k * 1e-5:.6f},-85.9995,1" for k in range(50)]
    track.write_text(
        "\n".join(["time,lat,lon,boom_on,</script><script>window.hit=4</script>", *(f"{r},1" for r in rows)])
    )
    return plots, track


def test_what_people_type_is_shown_as_text_and_never_runs(chromium: Browser, tmp_path: Path):
    """Markup in plot names, the title, file and column names runs nowhere: title, label, pop-up, table, lists."""
    plots, track = evil_files(tmp_path)
    out = tmp_path / "map.html"
    draw(plots, track, "--boom", "12 ft", "--title", EVIL, "--out", out)
    sheet = opened(chromium, out, size=LAPTOP)
    frame = sheet.page.locator("#map .plot-line").first.bounding_box()
    assert frame is not None
    sheet.page.mouse.click(frame["x"] + 40, frame["y"] + 40)
    assert EVIL[:60] in sheet.page.locator(".leaflet-popup-content").inner_text()
    sheet.page.locator(".strip-number").first.click(force=True)
    sheet.page.wait_for_timeout(300)
    assert sheet.page.evaluate("window.hit") is None
    assert sheet.page.evaluate("document.querySelectorAll('img').length") == 0
    assert sheet.requests == []
    assert sheet.complaints == []
    assert EVIL in sheet.page.locator("h1").inner_text()
    sheet.page.close()
