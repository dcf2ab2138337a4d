"""The page of a property in a real Chromium: every request but the server's own blocked, every complaint kept."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Literal

from playwright.sync_api import Browser, BrowserContext, Locator, Page, Route

__all__ = ["LAPTOP", "PHONE", "Opened", "Screen", "opened"]


@dataclass(frozen=True)
class Screen:
    """A device: its name, size, and whether it is touched."""

    name: str
    width: int
    height: int
    touch: bool = False


LAPTOP = Screen("laptop", 1366, 768)
PHONE = Screen("phone", 390, 844, touch=True)
# Two taps closer together than this are a double tap.
_BETWEEN_TAPS_MS = 400


@dataclass
class Opened:
    """The open page; `left` is every request to anywhere else, `complaints` what the console and scripts said."""

    page: Page
    screen: Screen
    left: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def press(self, what: str | Locator) -> None:
        """Click, or tap, as the device does; a button by its words."""
        found = self.page.get_by_role("button", name=what, exact=True) if isinstance(what, str) else what
        if self.screen.touch:
            found.tap()
        else:
            found.click()

    def at(self, x: float, y: float) -> tuple[float, float]:
        """A place on the map in pixels, from shares of its width and height."""
        box = self.page.locator("#map").bounding_box()
        assert box is not None
        return box["x"] + box["width"] * x, box["y"] + box["height"] * y

    def touch_map(self, x: float, y: float) -> None:
        """Click or tap a place on the map, given in shares of its size."""
        if self.screen.touch:
            self.page.touchscreen.tap(*self.at(x, y))
        else:
            self.page.mouse.click(*self.at(x, y))
        self.page.wait_for_timeout(_BETWEEN_TAPS_MS)

    def drag(self, start: tuple[float, float], end: tuple[float, float], *, steps: int = 6) -> None:
        """Drag from one place to another, in pixels, by mouse or by finger."""
        way = [
            (start[0] + (end[0] - start[0]) * i / steps, start[1] + (end[1] - start[1]) * i / steps)
            for i in range(1, steps + 1)
        ]
        if not self.screen.touch:
            self.page.mouse.move(*start)
            self.page.mouse.down()
            for place in way:
                self.page.mouse.move(*place)
            self.page.mouse.up()
            return
        wire = self.page.context.new_cdp_session(self.page)

        def finger(kind: str, *places: tuple[float, float]) -> None:
            wire.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y} for x, y in places]})

        finger("touchStart", start)
        for place in way:
            finger("touchMove", place)
            self.page.wait_for_timeout(20)
        finger("touchEnd")

    def fill(self, label: str, words: str) -> None:
        """Fill a field by the words of its label."""
        self.page.get_by_label(label, exact=True).fill(words)

    def said(self, words: str) -> None:
        """Wait until the page says it."""
        self.page.locator("#said", has_text=words).wait_for(timeout=15_000)

    def total(self) -> str:
        return self.page.locator("#total").inner_text()

    def wide(self) -> int:
        """By how many pixels the page is wider than the screen."""
        found: Any = self.page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        return int(found)


@contextmanager
def opened(
    chromium: Browser, address: str, *, screen: Screen, scheme: Literal["light", "dark"] = "light"
) -> Iterator[Opened]:
    """Open the page; on leaving, nothing may have left the machine, and nothing may have complained."""
    context: BrowserContext = chromium.new_context(
        viewport={"width": screen.width, "height": screen.height},
        has_touch=screen.touch,
        is_mobile=screen.touch,
        color_scheme=scheme,
    )
    found = Opened(context.new_page(), screen)

    def gate(route: Route) -> None:
        if route.request.url.startswith(address):
            route.continue_()
        else:
            found.left.append(route.request.url)
            route.abort()

    context.route("**/*", gate)
    found.page.on("console", lambda m: found.complaints.append(m.text) if m.type in ("error", "warning") else None)
    found.page.on("pageerror", lambda e: found.complaints.append(str(e)))
    try:
        found.page.goto(address)
        found.page.wait_for_selector("html[data-ready=yes]", timeout=10_000)
        yield found
    finally:
        context.close()
