"""The page itself, its scripts and style, and the map library from its installed package."""

from importlib import resources
from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response

from gladebook.view.leaflet import leaflet_files

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
_KINDS: Final = {
    "page.css": "text/css",
    "page.js": "text/javascript",
    "trace.js": "text/javascript",
    "ground.js": "text/javascript",
    "tank.js": "text/javascript",
    "drive.js": "text/javascript",
}


@router.get("/")
def page() -> Response:
    """The page."""
    return Response(_own("page.html"), media_type="text/html; charset=utf-8")


@router.get("/own/{name}")
def own(name: str) -> Response:
    """A script or the style of the page: only those that are named here, so no path can lead elsewhere."""
    if name not in _KINDS:
        return Response(status_code=404)
    return Response(_own(name), media_type=f"{_KINDS[name]}; charset=utf-8")


@router.get("/leaflet.js")
def leaflet_script() -> Response:
    """The map library."""
    return Response(leaflet_files()[0], media_type="text/javascript; charset=utf-8")


@router.get("/leaflet.css")
def leaflet_style() -> Response:
    """Its style sheet."""
    return Response(leaflet_files()[1], media_type="text/css; charset=utf-8")


def _own(name: str) -> str:
    return resources.files("gladebook.web").joinpath("static", name).read_text(encoding="utf-8")
