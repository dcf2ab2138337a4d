"""A property and a browser's requests to it, without a browser."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from gladebook.io.photo import Photo
from gladebook.jobs.adding import Adding, add_to
from gladebook.jobs.property import make_property
from gladebook.web.app import make_app
from gladebook.web.shelf import Shelf
from tests.cli.fields import FIELD, FRAME, write_plots

PORT = 8123
HOME = f"http://127.0.0.1:{PORT}"


@dataclass
class Page:
    """What the page of one property can ask."""

    path: Path
    client: TestClient

    def ask(self, where: str) -> Any:
        return good(self.client.get(f"/api/{where}"))

    def send(self, where: str, body: Any, *, method: str = "POST") -> Response:
        return self.client.request(method, f"/api/{where}", json=body)

    def drop(self, where: str, file: Path, **query: str) -> Response:
        return self.client.post(f"/api/{where}", params={"name": file.name, **query}, content=file.read_bytes())

    def shape(self, name: str) -> Any:
        return next(s for s in self.ask("property")["shapes"] if s["name"] == name)


def good(answer: Response) -> Any:
    assert answer.status_code == 200, answer.text
    return answer.json()


def parts_of(shape: Any) -> list[list[list[list[float]]]]:
    """Corners of a shape in metres, as the page sends them: part by part, ring by ring."""
    there = FRAME.shape_to_lonlat(shape)
    return [
        [[[x, y] for x, y in line.coords[:-1]] for line in (part.exterior, *part.interiors)]
        for part in getattr(there, "geoms", [there])
    ]


def page_of(path: Path, *, photo: Photo | None = None, most_bytes: int = 50_000_000) -> Page:
    app = make_app(Shelf(path, photo), port=PORT, most_bytes=most_bytes)
    return Page(path, TestClient(app, base_url=HOME, raise_server_exceptions=False))


@pytest.fixture
def empty(tmp_path: Path) -> Page:
    """A property without plots."""
    home = tmp_path / "home.gpkg"
    make_property(home, name="Alder Place")
    return page_of(home)


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Page]:
    """A property with one rectangular plot of ten passes."""
    home = tmp_path / "home.gpkg"
    make_property(home, name="Alder Place")
    add_to(home, Adding(plots=write_plots(tmp_path / "field.geojson", {"Alder Glade": FIELD})))
    found = page_of(home)
    with found.client:
        yield found
