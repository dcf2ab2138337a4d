"""What holds on every screen of the page: readable by all, names as text, acres that agree, clashes told, paper."""

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pytest
import shapely
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from gladebook.geometry.area import geodesic_area_m2
from gladebook.jobs.adding import Adding, add_to
from gladebook.jobs.keep import keep_application
from gladebook.jobs.property import make_property
from gladebook.units import ACRE_M2
from tests.browser.pages import LAPTOP, PHONE, Opened, Screen, opened
from tests.cli.fields import FIELD, middles, to_and_fro, write_plots, write_track
from tests.sample_property import FOLDER
from tests.web.serving import served, start
from tests.web.test_web_photo import PNG, mbtiles

pytestmark = pytest.mark.browser

EVIL = '<img src=x onerror="window.hit=1"><script>window.hit=2</script>'
BOTH = pytest.mark.parametrize("screen", [LAPTOP, PHONE], ids=lambda s: s.name)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    path = tmp_path / "home.gpkg"
    make_property(path, name="Alder Place")
    add_to(path, Adding(plots=write_plots(tmp_path / "field.geojson", {"Alder Glade": FIELD})))
    return path


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample property with its ponds, its labels, and one application that was kept."""
    from gladebook.jobs.application import Drives, GroundFiles, check_application
    from gladebook.jobs.labels import add_labels
    from gladebook.passes.sprayer import Sprayer
    from gladebook.view.documents import coverage_document

    path = tmp_path_factory.mktemp("sample") / "home.gpkg"
    make_property(path, name="Cedar Place")
    add_to(path, Adding(plots=FOLDER / "plots.geojson", obstacles=FOLDER / "ponds.geojson"))
    add_labels(path, FOLDER / "labels.csv", day="2026-09-01")
    drives = Drives(files=(FOLDER / "sprayed.csv",), sprayer=Sprayer(width_m=3.6576, behind_m=0.0))
    done = check_application(GroundFiles(path), drives)
    keep_application(path, done, name="September spray", answer=coverage_document(done.coverage, gallons=None))
    return path


def axe(page: Opened, where: str) -> list[str]:
    """Violations of axe's rules, as text: WCAG 2.2 A and AA, and its best practices."""
    page.page.wait_for_timeout(150)
    found = Axe().run(page.page).response["violations"]
    return [f"{where}: {v['id']} {[n['target'] for n in v['nodes']][:3]}" for v in found]


def screens(page: Opened) -> Iterator[str]:
    """Every screen of the page, one after the other, with all that folds open."""

    def unfold() -> None:
        page.page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")

    unfold()
    yield "my plots"
    page.press("Cedar Flat")
    page.page.get_by_role("heading", name="Cedar Flat").wait_for()
    unfold()
    yield "a plot"
    page.press("Move its corners")
    page.page.locator(".handle.corner").first.wait_for()
    unfold()
    yield "its corners"
    page.press("Leave it")
    page.press("Trace")
    for x, y in ((0.3, 0.35), (0.6, 0.35), (0.5, 0.7)):
        page.touch_map(x, y)
    page.page.locator(".told p").first.wait_for()
    yield "tracing"
    page.press("Fill the tank")
    page.page.get_by_role("heading", name="What goes in the tank?").wait_for()
    page.press(page.page.get_by_label(re.compile("^Cedar Flat")))
    page.fill("Gallons per acre", "15")
    page.fill("The tank holds, gallons", "25")
    page.press("Another product")
    page.fill("Product, as on your label", "jug")
    page.fill("Rate from your label", "1 %")
    page.press("Work it out")
    page.page.locator("#recipe table").wait_for()
    unfold()
    yield "the recipe"
    page.press("How did I do?")
    page.page.get_by_role("heading", name="How did I do?").wait_for()
    page.page.set_input_files("#track", FOLDER / "sprayed.csv")
    page.said("is in.")
    page.fill("How wide is the boom, feet?", "12")
    unfold()
    yield "the track"
    page.press("Look how it went")
    page.page.wait_for_selector("html[data-answered=yes]", timeout=30_000)
    unfold()
    yield "the answer"


@BOTH
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_any_screen(
    chromium: Browser, sample: Path, screen: Screen, scheme: Literal["light", "dark"]
):
    """No rule of axe is violated on any screen, light or dark; none is wider than the device; none complains."""
    with served(sample) as address, opened(chromium, address, screen=screen, scheme=scheme) as page:
        found = [line for where in screens(page) for line in [*axe(page, where), *wide(page, where)]]
        assert found == []
        assert page.complaints == []
        assert page.left == []


def wide(page: Opened, where: str) -> list[str]:
    return [f"{where}: {page.wide()} px too wide"] if page.wide() > 0 else []


@BOTH
def test_buttons_and_fields_are_large_enough_for_a_thumb(chromium: Browser, sample: Path, screen: Screen):
    """Every button and field of the panel and the five buttons are 44 CSS pixels high or more (WCAG 2.2, 2.5.5)."""
    small = """() => [...document.querySelectorAll('nav button, #panel button, #panel input, #panel select, summary')]
        .filter(e => e.checkVisibility() && e.type !== 'checkbox' && e.getBoundingClientRect().height < 44)
        .map(e => e.outerHTML.slice(0, 80))"""
    with served(sample) as address, opened(chromium, address, screen=screen) as page:
        assert [(where, found) for where in screens(page) if (found := page.page.evaluate(small))] == []


@BOTH
def test_names_with_markup_are_text_everywhere(chromium: Browser, tmp_path: Path, screen: Screen):
    """A property, plot, pond, track, product and application named in HTML are shown as typed; no script runs."""
    path = tmp_path / "home.gpkg"
    make_property(path, name=f"Place {EVIL}"[:80])
    name = EVIL[:76]
    plots = write_plots(tmp_path / "field.geojson", {name: FIELD})
    add_to(path, Adding(plots=plots))
    track = write_track(tmp_path / "drive.csv", to_and_fro(middles(), leave_out=(7,)))
    with served(path) as address, opened(chromium, address, screen=screen) as page:
        assert name in page.page.locator("#panel table").inner_text()
        assert name in page.page.locator(".leaflet-tooltip").first.inner_text()
        assert page.page.locator("#name").inner_text().startswith("Place <img")
        page.press(name)
        page.page.get_by_role("heading", name=name).wait_for()
        page.press("Move its corners")
        page.page.get_by_role("heading", name=f"Move the corners of {name}").wait_for()
        page.press("Leave it")
        page.press("Fill the tank")
        page.page.get_by_role("heading", name="What goes in the tank?").wait_for()
        page.press(page.page.locator(".tick"))
        page.fill("Gallons per acre", "15")
        page.fill("The tank holds, gallons", "25")
        page.press("Another product")
        page.fill("Product, as on your label", EVIL)
        page.fill("Rate from your label", "1 %")
        page.press("Work it out")
        page.page.locator("#recipe table").wait_for()
        assert EVIL in page.page.locator("#recipe table").inner_text()
        page.press("How did I do?")
        page.page.get_by_role("heading", name="How did I do?").wait_for()
        page.fill("How wide is the boom, feet?", "13.1")
        content = {"name": f"{name}.csv", "mimeType": "text/csv", "buffer": track.read_bytes()}
        page.page.set_input_files("#track", content)  # type: ignore[arg-type]
        page.page.wait_for_selector("html[data-answered=yes]", timeout=30_000)
        page.page.locator(".strip-number").first.click()
        assert name in page.page.locator(".leaflet-popup-content").inner_text()
        page.fill("Save it as", EVIL[:70])
        page.press(page.page.locator("#how").get_by_role("button", name="Save", exact=True))
        page.said("the application")
        page.page.reload()
        page.page.wait_for_selector("html[data-ready=yes]")
        page.press("How did I do?")
        page.page.locator("summary", has_text="Applications that were saved").wait_for()
        assert page.page.evaluate("window.hit") is None
        assert page.page.locator("#panel img, #map img[src=x], header img").count() == 0
        assert page.left == []
        assert page.complaints == []


def test_the_preview_agrees_with_the_server_to_a_thousandth(chromium: Browser, home: Path):
    """For a thousand crooked outlines from Florida to Alaska the page's acres are the server's, to 0.1 %."""
    rng = np.random.default_rng(8)
    rings = []
    for _ in range(1000):
        lat, lon = rng.uniform(25, 65), rng.uniform(-170, -66)
        angle = np.sort(rng.uniform(0, 2 * np.pi, rng.integers(3, 40)))
        size = 10 ** rng.uniform(-4.3, -1.8)  # from 5 m to a mile
        radii = size * rng.uniform(0.4, 1, len(angle))
        rings.append(
            np.column_stack([lon + radii * np.cos(angle) / np.cos(np.radians(lat)), lat + radii * np.sin(angle)])
        )
    truth = np.array([geodesic_area_m2(shapely.Polygon(ring)) / ACRE_M2 for ring in rings])
    with served(home) as address, opened(chromium, address, screen=LAPTOP) as page:
        script = (
            "async rings => { const { previewAcres } = await import('/own/trace.js'); return rings.map(previewAcres) }"
        )
        found = np.array(page.page.evaluate(script, [ring.tolist() for ring in rings]))
    sure = truth > 1e-3  # four square metres: below, the corners' own rounding counts
    assert sure.sum() > 900
    assert np.abs(found[sure] / truth[sure] - 1).max() < 1e-3


def test_two_browsers_on_one_property_are_told_of_a_clash(chromium: Browser, home: Path):
    """The second to save is told, sees the other's line, keeps their own outline, and may then save it."""
    with (
        served(home) as address,
        opened(chromium, address, screen=LAPTOP) as one,
        opened(chromium, address, screen=LAPTOP) as two,
    ):
        for page in (one, two):
            page.press("Alder Glade")
            page.press("Move its corners")
            page.page.locator(".handle.corner").first.wait_for()
        for page, corner in ((one, "Corner 1"), (two, "Corner 2")):
            page.press(page.page.get_by_role("button", name=corner, exact=True))
            page.press("Take a corner out")
        one.press("Save")
        one.said("Drew Alder Glade anew.")
        mine = two.page.locator("#acres-now").inner_text()
        two.press("Save")
        two.said("somebody else changed it in the meantime, and yours was not written")
        assert two.page.locator("#acres-now").inner_text() == mine
        assert "wrong" in (two.page.locator("#said").get_attribute("class") or "")
        two.page.wait_for_timeout(300)
        two.press("Save")
        two.said("Drew Alder Glade anew.")
        one.press(one.page.locator("#go-undo"))
        one.said("Somebody else changed something in the meantime")


def test_what_was_drawn_of_a_plot_that_somebody_took_away_is_kept(chromium: Browser, home: Path):
    """The page says that it is gone, keeps the outline, and saves it as a new plot if that is wanted."""
    with (
        served(home) as address,
        opened(chromium, address, screen=LAPTOP) as one,
        opened(chromium, address, screen=LAPTOP) as two,
    ):
        two.press("Alder Glade")
        two.press("Move its corners")
        two.press(two.page.get_by_role("button", name="Corner 2", exact=True))
        two.press("Take a corner out")
        one.press("Alder Glade")
        one.press(one.page.locator("summary", has_text="Rename it, or take it away"))
        one.press("Take it away")
        one.said("Removed Alder Glade. Undo brings it back.")
        two.press("Save")
        two.said("somebody took it away. Yours was not written.")
        assert two.page.locator(".handle.corner").count() == 3
        two.press("Save")
        two.said("Traced the plot Alder Glade.")
        assert two.total().startswith("1 plot,")


def test_a_server_that_is_gone_is_told_and_the_outline_stays(chromium: Browser, home: Path):
    """Killed while somebody traces: the page says so and keeps what was drawn; what was saved is in the file."""
    serving = start(home)
    with opened(chromium, serving.address, screen=LAPTOP) as page:
        page.press("Trace")
        page.fill("Name", "Birch Glade")
        for x, y in ((0.1, 0.1), (0.2, 0.1), (0.2, 0.2)):
            page.touch_map(x, y)
        serving.kill()
        page.press("Save")
        page.said("The program does not answer. Is it still running? What you drew is still here.")
        assert page.page.locator(".handle.corner").count() == 3
    with closing(sqlite3.connect(home)) as base:
        assert [name for (name,) in base.execute("SELECT name FROM plots")] == ["Alder Glade"]


def test_an_unfinished_outline_comes_back(chromium: Browser, home: Path):
    """Whoever opens another page of the book finds their outline again; whoever leaves it does not."""
    with served(home) as address, opened(chromium, address, screen=LAPTOP) as page:
        page.press("Trace")
        page.fill("Name", "Birch Glade")
        for x, y in ((0.1, 0.1), (0.2, 0.1), (0.2, 0.2)):
            page.touch_map(x, y)
        page.press("My plots")
        page.page.get_by_role("heading", name="What have I got?").wait_for()
        assert page.page.locator(".handle").count() == 0
        page.press("Trace")
        page.said("Your unfinished outline is back.")
        assert page.page.locator(".handle.corner").count() == 3
        assert page.page.get_by_label("Name", exact=True).input_value() == "Birch Glade"
        # Beside it, the corners of another plot are moved and left open: each is there again by itself.
        page.press("My plots")
        page.page.get_by_role("heading", name="What have I got?").wait_for()
        page.press("Alder Glade")
        page.press("Move its corners")
        page.press(page.page.get_by_role("button", name="Corner 1", exact=True))
        page.press("Take a corner out")
        page.press("Trace")
        page.said("Your unfinished outline is back.")
        assert page.page.get_by_label("Name", exact=True).input_value() == "Birch Glade"
        page.press("Leave it")
        page.press("Alder Glade")
        page.press("Move its corners")
        page.said("Your unfinished outline is back.")
        assert page.page.locator(".handle.corner").count() == 3
        page.press("Leave it")
        page.press("Trace")
        assert page.page.locator(".handle.corner").count() == 0


@BOTH
def test_every_corner_that_is_shown_can_be_grabbed(chromium: Browser, sample: Path, screen: Screen):
    """On the sample's crooked plots no handle lies over the middle of a corner's, so that each can be dragged."""
    covered = """() => [...document.querySelectorAll('.handle.corner')].filter(e => {
        const r = e.getBoundingClientRect(), m = document.getElementById('map').getBoundingClientRect();
        const x = r.x + r.width / 2, y = r.y + r.height / 2;
        const inside = x > m.x && x < m.right && y > m.y && y < m.bottom;
        const top = inside && document.elementFromPoint(x, y);
        return top && top !== e && top.classList.contains('handle') }).map(e => e.title)"""
    with served(sample) as address, opened(chromium, address, screen=screen) as page:
        for name in ("Kidney Bottom", "Wasp Waist", "Long Firebreak", "Pond Patch", "Cedar Flat"):
            page.press(name)
            page.page.get_by_role("heading", name=name).wait_for()
            page.press("Move its corners")
            page.page.wait_for_timeout(400)
            shown = page.page.locator(".handle.corner").count()
            assert shown or page.page.get_by_text("Zoom in to move them").count()
            assert page.page.evaluate(covered) == [], name
            page.press("Leave it")


@BOTH
def test_a_walk_of_six_hundred_corners_is_made_movable(chromium: Browser, tmp_path: Path, screen: Screen):
    """Too many for a finger: that is said, fewer are offered, the acres hardly change, and all can be undone."""
    angle = np.linspace(0, 2 * np.pi, 600, endpoint=False)
    radius = 50 + 3 * np.cos(9 * angle)
    walk = shapely.Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)]))
    home = tmp_path / "home.gpkg"
    make_property(home, name="Alder Place")
    add_to(home, Adding(plots=write_plots(tmp_path / "walk.geojson", {"Walked Glade": walk})))
    with served(home) as address, opened(chromium, address, screen=screen) as page:
        page.press("Walked Glade")
        page.press("Move its corners")
        page.page.get_by_text("It has 600 corners.").wait_for()
        assert page.page.locator(".handle").count() == 0
        before = float(page.page.locator("#acres-now").inner_text().split()[0])
        page.press("Fewer corners")
        page.said("no line moved by more than 2 ft")
        if screen.touch:  # a phone's map is small: some way in, a finger can tell them apart
            page.press(page.page.locator(".leaflet-control-zoom-in"))
            page.page.wait_for_timeout(500)
        assert 0 < page.page.locator(".handle.corner").count() <= 80
        after = float(page.page.locator("#acres-now").inner_text().split()[0])
        assert after == pytest.approx(before, rel=0.02)
        page.press(page.page.locator("#go-undo"))
        assert page.page.locator("#acres-now").inner_text() == f"{before:.2f} ac"


def test_the_keyboard_alone_traces_a_plot(chromium: Browser, home: Path):
    """Without mouse or finger: the cross puts corners down, arrow keys move map and corners, Delete takes one out."""
    with served(home) as address, opened(chromium, address, screen=LAPTOP) as page:
        keys = page.page.keyboard

        def button(name: str) -> Any:
            found = page.page.get_by_role("button", name=name, exact=True)
            found.focus()
            return found

        button("Trace")
        keys.press("Enter")
        assert page.page.evaluate("document.activeElement.tagName") == "H2"
        page.page.get_by_label("Name", exact=True).focus()
        keys.type("Keyed Glade")
        for way in ("ArrowRight", "ArrowDown", "ArrowLeft"):
            button("Corner at the cross")
            keys.press("Enter")
            page.page.locator("#map").focus()
            keys.press(way)
            page.page.wait_for_timeout(400)
        button("Corner at the cross")
        keys.press("Enter")
        assert page.page.locator(".handle.corner").count() == 4
        before = page.page.locator("#acres-now").inner_text()
        corner = button("Corner 2")
        for _ in range(4):
            keys.press("Shift+ArrowRight")
        assert page.page.evaluate("document.activeElement.title") == "Corner 2"
        assert page.page.locator("#acres-now").inner_text() != before
        assert corner.count() == 1
        keys.press("Delete")
        assert page.page.locator(".handle.corner").count() == 3
        button("Save")
        keys.press("Enter")
        page.said("Traced the plot Keyed Glade.")


@BOTH
def test_each_square_is_as_wide_as_it_says(chromium: Browser, home: Path, screen: Screen):
    """A square of the sheet, in pixels, is as many feet as it says, by the plot of 40 m; 1 % for its lines."""
    with served(home) as address, opened(chromium, address, screen=screen) as page:
        feet = float(page.page.locator(".squares").inner_text().removeprefix("Each square: ").removesuffix(" ft"))
        side = float(page.page.locator("#map").evaluate("e => parseFloat(getComputedStyle(e).backgroundSize)"))
        box = page.page.locator("path.plot-line").evaluate("e => e.getBBox().width")
        assert box / side * feet * 0.3048 == pytest.approx(40, rel=0.01)


def test_paper_has_the_map_the_words_and_no_buttons(chromium: Browser, sample: Path):
    """In print the recipe, its cautions and the map stay; buttons, fields and the five buttons go."""
    with served(sample) as address, opened(chromium, address, screen=LAPTOP) as page:
        for where in screens(page):
            if where == "the recipe":
                break
        page.page.emulate_media(media="print")
        page.page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
        page.page.wait_for_timeout(200)
        for hidden in ("nav", "#said", ".photo", "#recipe button"):
            assert not page.page.locator(hidden).first.is_visible(), hidden
        for shown in ("#map", "#recipe table", ".leaflet-control-scale-line"):
            assert page.page.locator(shown).first.is_visible(), shown
        assert page.page.locator("#recipe li", has_text="The label is the law").is_visible()
        frame = page.page.locator("#map").bounding_box()
        assert frame is not None
        assert frame["width"] == pytest.approx(17 / 2.54 * 96, abs=2)
        for plot in page.page.locator("path.plot-line").all():
            box = plot.bounding_box()
            assert box is not None
            assert frame["x"] <= box["x"]
            assert box["x"] + box["width"] <= frame["x"] + frame["width"]
        assert re.fullmatch(r"\d{4}-\d\d-\d\d", page.page.locator("#day").inner_text())
        page.page.evaluate("window.dispatchEvent(new Event('afterprint'))")
        assert page.page.locator("#day").inner_text() == ""


def test_a_photo_on_this_computer_is_shown_without_internet(chromium: Browser, home: Path, tmp_path: Path):
    """Off by itself; switched on, its tiles come from this computer and nothing is asked of anybody else."""
    tiles = {(z, x, y): PNG for z in range(3) for x in range(2**z) for y in range(2**z)}
    photo = mbtiles(tmp_path / "woods <img src=x>.mbtiles", tiles=tiles, format="png")
    with served(home, "--photo", str(photo)) as address, opened(chromium, address, screen=LAPTOP) as page:
        asked: list[str] = []
        page.page.on("request", lambda r: asked.append(r.url))
        page.page.wait_for_timeout(200)
        assert not [url for url in asked if "/api/photo/" in url]
        page.page.get_by_label("Photo from above", exact=True).check()
        page.page.locator("img.leaflet-tile-loaded").first.wait_for(state="attached")
        assert [url for url in asked if "/api/photo/" in url]
        assert "woods <img src=x>.mbtiles" in page.page.locator(".leaflet-control-attribution").inner_text()
        assert page.left == []
        assert page.complaints == []


def test_the_public_photo_is_asked_for_only_when_switched_on(chromium: Browser, home: Path):
    """Without a photo of one's own: one public-domain host, only after the switch, and its absence is told."""
    with served(home) as address, opened(chromium, address, screen=LAPTOP) as page:
        page.page.wait_for_timeout(200)
        assert page.left == []
        page.page.get_by_label("Photo from above (needs internet)").check()
        page.said("The photo could not be fetched.")
        assert page.left
        assert all(url.startswith("https://basemap.nationalmap.gov/") for url in page.left)
        assert "public domain" in page.page.locator(".leaflet-control-attribution").inner_text()
