"""The page itself, its scripts and style, and the map library from its installed package."""

from importlib import resources
from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response

from gladebook.view.leaflet import leaflet_files

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
_SCRIPT: Final = "text/javascript; charset=utf-8"
_STYLE: Final = "text/css; charset=utf-8"
_OWN: Final = {
    name: ("gladebook.web", "static", name)
    for name in (
        "ask.js",
        "book.js",
        "drive.js",
        "kept.js",
        "map.js",
        "page.css",
        "page.js",
        "parts.js",
        "plots.js",
        "tank.js",
        "trace.js",
        "tracing.js",
    )
} | {name: ("gladebook.view", name) for name in ("ground.css", "ground.js")}


@router.get("/")
def page() -> Response:
    """The page."""
    return Response(_text("gladebook.web", "static", "page.html"), media_type="text/html; charset=utf-8")


@router.get("/own/{name}")
def own(name: str) -> Response:
    """A script or a style of the page: only those that are named here, so no path can lead elsewhere."""
    if name not in _OWN:
        return Response(status_code=404)
    return Response(_text(*_OWN[name]), media_type=_SCRIPT if name.endswith(".js") else _STYLE)


@router.get("/leaflet.js")
def leaflet_script() -> Response:
    """The map library."""
    return Response(leaflet_files()[0], media_type=_SCRIPT)


@router.get("/leaflet.css")
def leaflet_style() -> Response:
    """Its style sheet."""
    return Response(leaflet_files()[1], media_type=_STYLE)


def _text(package: str, *path: str) -> str:
    return resources.files(package).joinpath(*path).read_text(encoding="utf-8")
