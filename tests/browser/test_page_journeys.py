"""The three journeys on the page, by mouse on a laptop and by touch on a phone, with the network cut off."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import shapely
from playwright.sync_api import Browser

from gladebook.jobs.adding import Adding, add_to
from gladebook.jobs.property import make_property
from gladebook.units import ACRE_M2
from tests.browser.pages import LAPTOP, PHONE, Opened, Screen, opened
from tests.cli.fields import write_plots
from tests.sample_property import FOLDER
from tests.web.serving import served

pytestmark = pytest.mark.browser

SCREENS = pytest.mark.parametrize("screen", [LAPTOP, PHONE], ids=lambda s: s.name)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """An empty property."""
    path = tmp_path / "home.gpkg"
    make_property(path, name="Alder Place")
    return path


@pytest.fixture
def sample(home: Path) -> Path:
    """The sample property's seven plots."""
    add_to(home, Adding(plots=FOLDER / "plots.geojson"))
    return home


@pytest.fixture
def quiet() -> Iterator[list[Opened]]:
    """Whatever is put in here must have asked nobody else, and must have had nothing to complain of."""
    seen: list[Opened] = []
    yield seen
    assert [page.left for page in seen] == [[]] * len(seen)
    assert [page.complaints for page in seen] == [[]] * len(seen)


def go(page: Opened) -> None:
    """To an invented place, close enough to trace a plot."""
    page.page.get_by_label("Go to a spot: latitude, longitude").fill("32.4127, -86.7315")
    page.press("Go there")
    page.said("Here it is.")


def acres_now(page: Opened) -> float:
    found = re.match(r"([\d.]+) ac", page.page.locator("#acres-now").inner_text())
    assert found
    return float(found[1])


def measured(page: Opened) -> float:
    told = page.page.locator(".told p").first
    told.wait_for(timeout=10_000)
    found = re.search(r"Measured: ([\d.]+) ac", told.inner_text())
    assert found, told.inner_text()
    return float(found[1])


@SCREENS
def test_what_have_i_got(chromium: Browser, home: Path, screen: Screen, quiet: list[Opened]):
    """Trace, add, drag and remove corners, take out a pond, say what is planted, undo, look at the earlier line."""
    with served(home) as address, opened(chromium, address, screen=screen) as page:
        quiet.append(page)
        assert page.total() == "No plots yet"
        go(page)
        page.press("Trace")
        page.fill("Name", "Crooked Glade")
        for x, y in ((0.3, 0.35), (0.7, 0.35), (0.7, 0.75), (0.3, 0.75)):
            page.touch_map(x, y)
        square = acres_now(page)
        assert measured(page) == pytest.approx(square, abs=0.011)

        # A corner is dragged outwards, and the acres move while the finger does.
        page.drag(page.at(0.7, 0.35), page.at(0.85, 0.3))
        wider = acres_now(page)
        assert wider > square * 1.05
        assert measured(page) == pytest.approx(wider, abs=0.011)
        # The middle of an edge is dragged in: a fifth corner, fewer acres.
        page.drag(page.at(0.3, 0.55), page.at(0.4, 0.55))
        fifth = acres_now(page)
        assert fifth < wider
        assert page.page.locator(".handle.corner").count() == 5
        # That corner is taken out again; and undo brings it back.
        page.press("Take a corner out")
        assert page.page.locator(".handle.corner").count() == 4
        page.press(page.page.locator("#go-undo"))
        assert page.page.locator(".handle.corner").count() == 5
        assert acres_now(page) == fifth
        assert page.wide() <= 0
        page.press("Save")
        page.said("Traced the plot Crooked Glade.")
        assert page.total() == f"1 plot, {fifth:.2f} ac"


@SCREENS
def test_ponds_stands_and_earlier_lines(chromium: Browser, home: Path, screen: Screen, quiet: list[Opened]):
    """A pond is taken out, what is planted is said, corners are moved, and the earlier line is looked at and undone."""
    with served(home) as address, opened(chromium, address, screen=screen) as page:
        quiet.append(page)
        go(page)
        page.press("Trace")
        page.fill("Name", "Crooked Glade")
        for x, y in ((0.2, 0.2), (0.8, 0.2), (0.85, 0.5), (0.8, 0.8), (0.2, 0.8)):
            page.touch_map(x, y)
        fifth = acres_now(page)
        page.press("Save")
        page.said("Traced the plot Crooked Glade.")
        page.press("Crooked Glade")
        page.press("Take out a pond or tree")
        page.fill("Name", "Alder Pond")
        for x, y in ((0.42, 0.45), (0.58, 0.45), (0.58, 0.6)):
            page.touch_map(x, y)
        pond = acres_now(page)
        page.press("Save")
        page.said("Traced the obstacle Alder Pond.")
        left = float(page.total().split(", ")[1].split()[0])
        assert left == pytest.approx(fifth - pond, abs=0.02)

        page.press("Crooked Glade")
        page.page.get_by_text("of ponds, rocks and trees is taken out").wait_for()
        page.press(page.page.get_by_text("Change what is planted"))
        page.fill("What is planted?", "white clover, oat")
        page.press("Save what is planted")
        page.said("White clover, oat grow there.")
        page.page.locator("#panel p", has_text="White clover, oat grow there.").wait_for()

        page.press("Move its corners")
        page.press(page.page.get_by_role("button", name="Corner 1", exact=True))
        page.press("Take a corner out")
        page.press("Save")
        page.said("Drew Crooked Glade anew.")
        page.press("Crooked Glade")
        page.press(page.page.get_by_text("Its earlier lines"))
        page.press(page.page.locator("#panel table button"))
        page.said("The dotted line held from")
        assert page.page.locator("path.earlier-line").count() == 1
        page.press(page.page.locator("#go-undo"))
        page.said("Taken back: Drew Crooked Glade anew.")


@SCREENS
def test_a_file_is_dropped_in_and_a_plot_is_cut_and_kept_off_the_wood_line(
    chromium: Browser, home: Path, screen: Screen, quiet: list[Opened]
):
    """Seven plots from a file; a new one over two of them is cut to its neighbours, then kept 10 ft off the woods."""
    with served(home) as address, opened(chromium, address, screen=screen) as page:
        quiet.append(page)
        page.page.set_input_files("#file", FOLDER / "plots.geojson")
        page.said("Added 7 plots")
        assert page.total() == "7 plots, 6.70 ac"
        page.press("Trace")
        page.fill("Name", "Middle Glade")
        for x, y in ((0.3, 0.3), (0.6, 0.3), (0.6, 0.6), (0.35, 0.65)):
            page.touch_map(x, y)
        whole = measured(page)
        page.press("Cut it to its neighbours")
        page.page.wait_for_function("w => parseFloat(document.querySelector('#acres-now').textContent) < w", arg=whole)
        cut = measured(page)
        assert cut < whole
        assert page.page.get_by_role("button", name="Cut it to its neighbours").count() == 0
        page.press(page.page.locator("summary", has_text="More"))
        page.fill("Keep off the wood line, feet", "10")
        page.press("Keep off")
        page.page.wait_for_function("w => parseFloat(document.querySelector('#acres-now').textContent) < w", arg=cut)
        kept = measured(page)
        page.press("Save")
        page.said("Traced the plot Middle Glade.")
        assert page.total() == f"8 plots, {6.70 + kept:.2f} ac"


@SCREENS
def test_a_plot_of_two_parts_gets_a_third_and_loses_it(
    chromium: Browser, home: Path, screen: Screen, quiet: list[Opened], tmp_path: Path
):
    """Two squares of 30 m are one plot; a third part makes it more, and is taken out again."""
    squares = shapely.MultiPolygon([shapely.box(0, 0, 30, 30), shapely.box(60, 0, 90, 30)])
    add_to(home, Adding(plots=write_plots(tmp_path / "twins.geojson", {"Twin Glade": squares})))
    acres = pytest.approx(2 * 900 / ACRE_M2, abs=0.005)
    with served(home) as address, opened(chromium, address, screen=screen) as page:
        quiet.append(page)
        page.press("Twin Glade")
        page.press("Move its corners")
        page.page.get_by_role("button", name="Part 2, corner 1", exact=True).wait_for(state="attached")
        assert acres_now(page) == acres
        page.press(page.page.locator("summary", has_text="More"))
        page.press("Add a part")
        for x, y in ((0.3, 0.82), (0.6, 0.82), (0.6, 0.95)):
            page.touch_map(x, y)
        more = acres_now(page)
        assert more > 1.05 * 2 * 900 / ACRE_M2
        page.press("The part is done")
        page.press("Save")
        page.said("Drew Twin Glade anew.")
        page.press("Twin Glade")
        page.press("Move its corners")
        assert acres_now(page) == more
        lowest = max(page.page.locator(".handle.corner").all(), key=lambda h: (h.bounding_box() or {"y": 0})["y"])
        page.press(lowest)
        page.press(page.page.locator("summary", has_text="More"))
        page.press("Take this part or hole out")
        assert acres_now(page) == acres
        page.press("Save")
        page.said("Drew Twin Glade anew.")


@SCREENS
def test_what_goes_in_the_tank(chromium: Browser, sample: Path, screen: Screen, quiet: list[Opened]):
    """Plots by touch on the map, gallons, tank, a product: the recipe by load, the cautions, and it is kept."""
    with served(sample) as address, opened(chromium, address, screen=screen) as page:
        quiet.append(page)
        page.press("Fill the tank")
        page.page.get_by_role("heading", name="What goes in the tank?").wait_for()
        # Inside the pond patch and the kidney, on the map; which sets their boxes.
        for name in ("Pond Patch", "Kidney Bottom"):
            number = ["Kidney Bottom", "Wasp Waist", "Long Firebreak", "Pond Patch"].index(name)
            box = page.page.locator("path.plot-line").nth(number).bounding_box()
            assert box is not None
            spot = (box["x"] + box["width"] / 2, box["y"] + box["height"] * 0.6)
            if screen.touch:
                page.page.touchscreen.tap(*spot)
            else:
                page.page.mouse.click(*spot)
            page.page.wait_for_timeout(400)
            assert page.page.get_by_label(re.compile(f"^{name}")).is_checked()
        assert page.page.locator("path.plot-line.chosen").count() == 2
        assert page.page.locator("#panel .big").inner_text() == "2 plots, 3.14 ac"
        page.fill("Gallons per acre", "15")
        page.fill("The tank holds, gallons", "25")
        page.press("Another product")
        page.fill("Product, as on your label", "clover grass jug")
        page.fill("Rate from your label", "8 fl oz/ac")
        page.press("Work it out")
        page.said("The recipe is ready.")
        recipe = page.page.locator("#recipe").inner_text()
        # 3.14 ac at 15 gal/ac is 47.1 gal in two loads; 8 fl oz/ac is 25.1 fl oz.
        assert "47.1 gal of spray in 2 loads" in recipe
        assert "25.1" in recipe
        assert "Recipe for Pond Patch, Kidney Bottom" in recipe
        assert "The label is the law" in recipe
        for caution in ("drift", "water", "re-entry", "applicator", "extension"):
            assert caution in recipe.lower(), caution
        assert page.wide() <= 0
        page.fill("Save this recipe as", "October burndown")
        page.press(page.page.locator("#recipe").get_by_role("button", name="Save"))
        page.said('the mix "October burndown"')
        assert "gladebook" not in page.page.locator("#said").inner_text()


@SCREENS
def test_the_label_is_asked_for_before_any_amount(chromium: Browser, sample: Path, screen: Screen, quiet: list[Opened]):
    """Own labels come in by a sheet; before any amount each is asked about; a no gives none, a yes gives it."""
    with served(sample) as address, opened(chromium, address, screen=screen) as page:
        quiet.append(page)
        page.press("Cedar Flat")
        page.press(page.page.get_by_text("Change what is planted"))
        page.fill("What is planted?", "white clover")
        page.press("Save what is planted")
        page.said("White clover grows there.")
        page.press("Fill the tank")
        page.press(page.page.locator("summary", has_text="Bring my labels"))
        page.page.set_input_files("#panel input[accept]", FOLDER / "labels.csv")
        page.said("check your label")
        page.press(page.page.get_by_label(re.compile("^Cedar Flat")))
        page.fill("Gallons per acre", "15")
        page.fill("The tank holds, gallons", "25")
        page.press(page.page.get_by_role("button", name=re.compile("^Grass jug ")))
        page.fill("Rate from your label", "8 fl oz/ac")
        page.press("Work it out")
        page.said("Your label comes first.")
        asked = page.page.locator("#recipe")
        assert (
            'Does your label of "Grass jug" list this site (a wildlife food plot) and white clover?'
            in asked.inner_text()
        )
        assert "fl oz" not in asked.inner_text()
        page.press("No, it does not")
        page.page.locator("#recipe", has_text="does not list this site").wait_for()
        assert page.page.locator("#recipe table").count() == 0
        page.press("Yes, it lists them")
        page.said("The recipe is ready.")
        assert "9.2" in page.page.locator("#recipe table").inner_text()  # 1.16 ac at 8 fl oz/ac: 9.2 or 9.3


@SCREENS
def test_how_did_i_do(chromium: Browser, sample: Path, screen: Screen, quiet: list[Opened]):
    """Gallons, the track, the ride trimmed, words first, then the map; a strip is zoomed to, saved and seen."""
    with served(sample) as address, opened(chromium, address, screen=screen) as page:
        quiet.append(page)
        page.press("How did I do?")
        for label, words in (("Gallons mixed", "100"), ("Gallons left", "0"), ("Gallons per acre", "15")):
            page.fill(label, words)
        page.page.set_input_files("#track", FOLDER / "sprayed.csv")
        page.said("sprayed.csv is in.")
        assert page.page.locator("path.ride-in").count() == 1
        slider = page.page.get_by_label("Leave out the ride after")
        slider.focus()
        for _ in range(3):
            page.page.keyboard.press("PageDown")
        assert "Kept: 0:00 to" in page.page.locator("fieldset p").inner_text()
        assert "of 71:04" in page.page.locator("fieldset p").inner_text()
        page.page.keyboard.press("End")
        page.fill("How wide is the boom, feet?", "12")
        page.fill("How far behind the phone is it, feet?", "6")
        page.press("Look how it went")
        page.page.wait_for_selector("html[data-painted=yes]", timeout=20_000)
        page.page.wait_for_selector("html[data-answered=yes]", timeout=30_000)
        answer = page.page.locator("#how")
        first = answer.locator("p").all_inner_texts()[:5]
        # 100 gal at 15 gal/ac is 6.67 ac; the plots are 6.70.
        assert first[0] == "Gallons: matches"
        assert "Kidney Bottom: one pass missing, west side" in first
        assert any(words.startswith("Go look: 2 places") for words in first)
        assert any(words.startswith("Can't tell,") for words in first)
        for kind in ("treated", "missed", "overlap", "outside", "go_look"):
            assert page.page.locator(f"#map .ground-{kind}").count() >= 1, kind
        legend = page.page.locator("ul.legend").inner_text()
        for word in ("Treated", "Missed", "Overlap", "Outside"):
            assert word in legend
        assert page.wide() <= 0

        strip = answer.get_by_role("button", name=re.compile("Kidney Bottom"))
        page.press(strip)
        page.page.wait_for_timeout(400)
        box, frame = (
            page.page.locator("#map .ground-go_look").last.bounding_box(),
            page.page.locator("#map").bounding_box(),
        )
        assert box is not None
        assert frame is not None
        assert max(box["height"] / frame["height"], box["width"] / frame["width"]) > 0.3
        page.fill("Save it as", "September spray")
        page.press(answer.get_by_role("button", name="Save", exact=True))
        page.said('Kept in home.gpkg: the application "September spray"')
        page.press(answer.get_by_role("button", name=re.compile("^I saw it")).first)
        page.said(": seen.")
        assert answer.locator(".state").first.inner_text() == "seen"

        # It is still there the next day.
        page.page.reload()
        page.page.wait_for_selector("html[data-ready=yes]")
        page.press("How did I do?")
        page.press(page.page.locator("summary", has_text="Applications that were saved"))
        page.press(page.page.locator("summary", has_text="September spray"))
        assert "seen" in page.page.locator(".state").all_inner_texts()


def test_a_file_may_be_dropped_anywhere_on_the_page(chromium: Browser, home: Path, quiet: list[Opened]):
    """Plots dropped on the map come in; on the page of tracks a track does, and its ground is painted at once."""
    drop = """([name, text]) => { const data = new DataTransfer(); data.items.add(new File([text], name));
        document.getElementById('map').dispatchEvent(new DragEvent('drop', { dataTransfer: data, bubbles: true })) }"""
    with served(home) as address, opened(chromium, address, screen=LAPTOP) as page:
        quiet.append(page)
        page.page.evaluate(drop, ["plots.geojson", (FOLDER / "plots.geojson").read_text()])
        page.said("Added 7 plots")
        page.press("How did I do?")
        page.page.get_by_role("heading", name="How did I do?").wait_for()
        page.fill("How wide is the boom, feet?", "12")
        page.page.evaluate(drop, ["sprayed.csv", (FOLDER / "sprayed.csv").read_text()])
        page.page.wait_for_selector("html[data-painted=yes]", timeout=20_000)
        assert page.page.locator("#map .ground-treated").count() == 1
        page.page.wait_for_selector("html[data-answered=yes]", timeout=30_000)


def test_long_work_can_be_stopped(chromium: Browser, sample: Path):
    """Stop breaks the work off, says so, and leaves the page ready for the next question."""
    with served(sample) as address, opened(chromium, address, screen=LAPTOP) as page:
        page.press("How did I do?")
        page.page.set_input_files("#track", FOLDER / "sprayed.csv")
        page.said("sprayed.csv is in.")
        page.fill("How wide is the boom, feet?", "12")
        page.press("Look how it went")
        page.press("Stop")
        page.said("Stopped; nothing was written.")
        assert page.page.get_by_role("button", name="Stop").count() == 0
        page.press("Look how it went")
        page.page.wait_for_selector("html[data-answered=yes]", timeout=30_000)
        assert page.complaints == []
