"""The page itself, its scripts and style, and the map library from its installed package."""

from functools import cache
from importlib import resources
from typing import Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from gladebook.view.leaflet import leaflet_files

__all__ = ["ROUTES"]

_SCRIPT: Final = "text/javascript; charset=utf-8"
_STYLE: Final = "text/css; charset=utf-8"
_OWN: Final = {
    name: ("gladebook.web", "static", name)
    for name in (
        "ask.js",
        "book.js",
        "drive.js",
        "early.js",
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


async def _page(_request: Request) -> Response:
    return Response(_text("gladebook.web", "static", "page.html"), media_type="text/html; charset=utf-8")


async def _own_file(request: Request) -> Response:
    """A script or a style of the page: only those that are named here, so no path can lead elsewhere."""
    name = request.path_params["name"]
    if name not in _OWN:
        return Response(status_code=404)
    return Response(_text(*_OWN[name]), media_type=_SCRIPT if name.endswith(".js") else _STYLE)


async def _leaflet(request: Request) -> Response:
    script, style, _ = leaflet_files()
    wants_style = request.url.path.endswith(".css")
    return Response(style if wants_style else script, media_type=_STYLE if wants_style else _SCRIPT)


@cache
def _text(package: str, *path: str) -> str:
    return resources.files(package).joinpath(*path).read_text(encoding="utf-8")


ROUTES: Final = (
    Route("/", _page),
    Route("/own/{name}", _own_file),
    Route("/leaflet.js", _leaflet),
    Route("/leaflet.css", _leaflet),
)
