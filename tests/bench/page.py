"""The page in a real Chromium: how soon it is usable, how soon a track is painted, how smoothly 500 plots pan, memory.

Peers in the same run: a bare FastAPI page, the command line's answer, a blank map, and the page before the edits.
"""

import json
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from playwright.sync_api import Browser, Page, sync_playwright

from gladebook.geometry.frame import Frame
from gladebook.jobs.adding import Adding, add_to
from gladebook.jobs.property import make_property
from gladebook.testing import drive, parallel_passes
from tests.web.serving import served, start

_POINTS = 10_000
_PLOTS = 500
_EDITS = 100
_RUNS = 7
_FRAME = Frame(lon_deg=-86.5, lat_deg=32.4)
_BARE = """
import sys, uvicorn
from fastapi import FastAPI
from fastapi.responses import HTMLResponse
app = FastAPI()
page = "<!doctype html><html data-ready=yes><title>x</title><body>x</body></html>"
app.get("/", response_class=HTMLResponse)(lambda: page)
config = uvicorn.Config(app, host="127.0.0.1", port=int(sys.argv[1]), log_level="error")
uvicorn.Server(config).run()
"""


def page_rows() -> None:
    """Print all rows."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        print("page: no Chromium on the path; nothing was measured")
        return
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=path, args=["--no-sandbox", "--enable-precise-memory-info"])
        for row in (_usable, _painted, _panned, _steady):
            row(browser, Path(folder))
        browser.close()


def _opened(browser: Browser, address: str) -> Page:
    page = browser.new_page(viewport={"width": 1366, "height": 768})
    page.goto(address)
    page.wait_for_selector("html[data-ready=yes]", timeout=20_000)
    return page


def _home(folder: Path, name: str, shapes: dict[str, Any]) -> Path:
    home = folder / f"{name}.gpkg"
    make_property(home, name=name)
    features = [
        {
            "type": "Feature",
            "properties": {"name": n},
            "geometry": json.loads(shapely.to_geojson(_FRAME.shape_to_lonlat(s))),
        }
        for n, s in shapes.items()
    ]
    file = folder / f"{name}.geojson"
    file.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    add_to(home, Adding(plots=file))
    return home


def _usable(browser: Browser, folder: Path) -> None:
    """From the command to a page that can be touched, with seven plots; beside a bare page of the same server."""
    home = _home(folder, "seven", {f"Glade {i}": shapely.box(90 * i, 0, 90 * i + 60, 60) for i in range(7)})

    def ours() -> float:
        page = browser.new_page(viewport={"width": 1366, "height": 768})
        began = time.perf_counter()
        serving = start(home)
        page.goto(serving.address)
        page.wait_for_selector("html[data-ready=yes]", timeout=20_000)
        took = time.perf_counter() - began
        page.close()
        serving.kill()
        return took

    def bare() -> float:
        page = browser.new_page()
        began = time.perf_counter()
        port = 18_000 + int(began * 1000) % 20_000
        process = subprocess.Popen([sys.executable, "-c", _BARE, str(port)])
        while True:
            try:
                page.goto(f"http://127.0.0.1:{port}/")
                break
            except Exception:  # noqa: BLE001 - not listening yet
                time.sleep(0.02)
        took = time.perf_counter() - began
        page.close()
        process.kill()
        process.wait()
        return took

    mine, other = _in_turns(ours, bare)
    print(
        f"page usable after the command: {mine:.2f} s (aim 1 s), {mine / other:.1f} times a bare page ({other:.2f} s)"
    )


def _in_turns(first: Callable[[], float], second: Callable[[], float]) -> tuple[float, float]:
    pairs = [(first(), second()) for _ in range(_RUNS)]
    return statistics.median(a for a, _ in pairs), statistics.median(b for _, b in pairs)


def _track(folder: Path) -> tuple[Path, Path]:
    """A drive of ten thousand points, and its plot."""
    length_m, width_m, passes = 250.0, 4.0, 40
    ground = shapely.box(0, 0, passes * width_m, length_m)
    begin, legs = parallel_passes(ground, width_m=width_m, spacing_m=width_m, leave_out=(7,))
    points = drive(begin, legs, speed_mps=0.98)
    count = min(len(points.time_s), _POINTS)
    lines = ["time,lat,lon,boom_on"]
    for i, (lon, lat) in enumerate(_FRAME.to_lonlat(points.xy_m)[:count]):
        moment = np.datetime64("2026-09-28T13:00:00") + np.timedelta64(int(points.time_s[i] * 1000), "ms")
        lines.append(f"{moment}Z,{lat:.8f},{lon:.8f},{int(points.boom_on[i])}")
    file = folder / "drive.csv"
    file.write_text("\n".join(lines))
    home = _home(folder, "driven", {"Long Glade": shapely.box(0, 0, passes * width_m, length_m)})
    print(f"track of {count:,} points")
    return home, file


def _painted(browser: Browser, folder: Path) -> None:
    """From dropping a track of 10,000 points to the painted map, and to the judged strips; beside the command's."""
    home, file = _track(folder)
    with served(home) as address:
        page = _opened(browser, address)
        page.click("#go-drive")
        page.get_by_label("How wide is the boom, feet?").fill("13.1")

        def ours() -> tuple[float, float]:
            while page.get_by_role("button", name="Take drive.csv out").count():
                page.get_by_role("button", name="Take drive.csv out").first.click()
            page.evaluate(
                "delete document.documentElement.dataset.painted; delete document.documentElement.dataset.answered"
            )
            began = time.perf_counter()
            page.set_input_files("#track", file)
            page.wait_for_selector("html[data-painted=yes]", timeout=60_000)
            painted = time.perf_counter() - began
            page.wait_for_selector("html[data-answered=yes]", timeout=60_000)
            return painted, time.perf_counter() - began

        def command() -> float:
            began = time.perf_counter()
            run = "from gladebook.cli import main; main()"
            arguments = ["coverage", str(home), str(file), "--boom", "13.1 ft", "--json"]
            subprocess.run([sys.executable, "-c", run, *arguments], capture_output=True, check=True)
            return time.perf_counter() - began

        runs = [(ours(), command()) for _ in range(_RUNS)]
        page.close()
    painted, judged = (statistics.median(r[0][k] for r in runs) for k in (0, 1))
    other = statistics.median(r[1] for r in runs)
    print(
        f"drop to painted map: {painted:.2f} s (aim 1.5 s), {painted / other:.2f} of the command's whole answer "
        f"({other:.2f} s); strips judged after {judged:.2f} s"
    )


def _panned(browser: Browser, folder: Path) -> None:
    """Time between frames while the map is dragged, with 500 plots of 40 corners; beside a blank map."""
    angle = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    ring = np.column_stack([np.cos(angle), np.sin(angle)]) * (40 + 6 * np.cos(5 * angle))[:, None]
    shapes = {f"Glade {i}": shapely.Polygon(ring + np.array([130 * (i % 25), 130 * (i // 25)])) for i in range(_PLOTS)}
    found = []
    for home in (_home(folder, "many", shapes), _home(folder, "one", {"Glade": shapely.Polygon(ring)})):
        with served(home) as address:
            page = _opened(browser, address)
            found.append(_frames_ms(page))
            page.close()
    many, one = found
    print(
        f"panning {_PLOTS} plots: {many[0]:.1f} ms a frame (95 %: {many[1]:.1f} ms), {many[0] / one[0]:.2f} times a "
        f"map with one plot ({one[0]:.1f} ms, 95 %: {one[1]:.1f} ms)"
    )


def _frames_ms(page: Page) -> tuple[float, float]:
    page.evaluate(
        """() => { window.frames_ = []; let last = performance.now();
        const tick = (now) => { window.frames_.push(now - last); last = now; requestAnimationFrame(tick); };
        requestAnimationFrame(tick); }"""
    )
    box = page.locator("#map").bounding_box()
    assert box is not None
    for _ in range(3):
        page.mouse.move(box["x"] + 600, box["y"] + 400)
        page.mouse.down()
        for i in range(60):
            page.mouse.move(box["x"] + 600 - 7 * i, box["y"] + 400 - 3 * i)
        page.mouse.up()
    frames = np.array(page.evaluate("window.frames_"))
    return float(np.median(frames)), float(np.quantile(frames, 0.95))


def _steady(browser: Browser, folder: Path) -> None:
    """Memory of the page and the server after a hundred edits, beside after ten."""
    home = _home(folder, "edited", {"Glade": shapely.box(0, 0, 60, 60)})
    serving = start(home)
    page = _opened(browser, serving.address)
    wire = page.context.new_cdp_session(page)

    def held() -> tuple[float, float]:
        wire.send("HeapProfiler.collectGarbage")
        heap = wire.send("Runtime.getHeapUsage")["usedSize"] / 1e6
        status = Path(f"/proc/{serving.process.pid}/status")
        rss = next(int(line.split()[1]) for line in status.read_text().splitlines() if line.startswith("VmRSS")) / 1e3
        return heap, rss

    early = (0.0, 0.0)
    for number in range(_EDITS):
        page.get_by_role("button", name="Glade", exact=True).click()
        page.get_by_role("button", name="Move its corners").click()
        corner = page.get_by_role("button", name=f"Corner {1 + number % 4}", exact=True)
        corner.press("ArrowRight" if number % 2 else "ArrowLeft")
        page.get_by_role("button", name="Save", exact=True).click()
        page.locator("#said", has_text="Drew Glade anew.").wait_for()
        if number == _EDITS // 10 - 1:
            early = held()
    late = held()
    page.close()
    serving.kill()
    print(
        f"after {_EDITS} edits: page {late[0]:.1f} MB, {late[0] / early[0]:.2f} times after {_EDITS // 10}; server "
        f"{late[1]:.0f} MB, {late[1] / early[1]:.2f} times"
    )
