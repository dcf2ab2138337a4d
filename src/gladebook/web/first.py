"""What the page asks for first, answered before all else is loaded.

Loading FastAPI and every reader takes longer than drawing the plots. So the page, its plots and where its photo is are
answered at once; all else waits for the whole application, which is loaded beside it.
"""

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Match, Route
from starlette.types import ASGIApp, Receive, Scope, Send

from gladebook.errors import GladebookError
from gladebook.io.photo import Photo
from gladebook.jobs.sheet import sheet_of
from gladebook.view.aerial import PHOTO
from gladebook.view.sheet import sheet_document
from gladebook.web.files import ROUTES
from gladebook.web.guard import Guard, allowed_hosts
from gladebook.web.shelf import Shelf
from gladebook.web.told import told

__all__ = ["First", "look_document", "photo_document"]

_ONLINE_DEEPEST: Final = 16
_SOON_S, _AT_LATEST_S = 0.4, 2.0  # after the plots were given out; after the start


def look_document(path: Path) -> dict[str, Any]:
    """All shapes of a property with their acres."""
    return sheet_document(sheet_of(path), file=path.name)


def photo_document(own: Photo | None) -> dict[str, Any]:
    """Where the page finds the tiles of the photo."""
    if own is None:
        url, credit, bounds = PHOTO["url"], PHOTO["credit"], None
        return {
            "local": False,
            "url": url,
            "credit": credit,
            "least_zoom": 0,
            "most_zoom": _ONLINE_DEEPEST,
            "bounds": bounds,
        }
    return {
        "local": True,
        "url": "/api/photo/{z}/{x}/{y}",
        "credit": own.name,
        "least_zoom": own.least_zoom,
        "most_zoom": own.most_zoom,
        "bounds": own.bounds_deg,
    }


class First:
    """ASGI application that answers what is asked first, and hands all else to the whole one once that is loaded.

    Parameters
    ----------
    shelf
        The property file, and what is held beside it; closed when the server ends.
    port
        Where it listens.
    load
        Makes the whole application; it is called once, beside the server.
    """

    def __init__(self, shelf: Shelf, *, port: int, load: Callable[[], ASGIApp]) -> None:
        def look(_request: Request) -> Response:
            try:
                return JSONResponse(look_document(shelf.path))
            except GladebookError as error:
                return JSONResponse({"error": told(error)}, status_code=422)

        def where(_request: Request) -> Response:
            return JSONResponse(photo_document(shelf.photo))

        self._routes = [*ROUTES, Route("/api/property", look), Route("/api/photo", where)]
        self._first: ASGIApp = Guard(Starlette(routes=self._routes), hosts=allowed_hosts(port))
        self._shelf, self._load = shelf, load
        self._whole: asyncio.Task[ASGIApp] | None = None
        self._fuse: asyncio.TimerHandle | None = None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or hand it on."""
        if scope["type"] == "lifespan":
            await self._live(receive, send)
            return
        loaded = self._whole is not None and self._whole.done()
        if not loaded and any(route.matches(scope)[0] is Match.FULL for route in self._routes):
            await self._first(scope, receive, send)
            if scope["path"] == "/api/property":
                asyncio.get_running_loop().call_later(_SOON_S, self._begin)
            return
        whole = await self._begin()
        await whole(scope, receive, send)

    def _begin(self) -> "asyncio.Task[ASGIApp]":
        if self._whole is None:
            self._whole = asyncio.create_task(asyncio.to_thread(self._load))
        return self._whole

    async def _live(self, receive: Receive, send: Send) -> None:
        """Start at once, and load the rest soon, whoever asks; end what was loaded when the server ends."""
        await receive()
        self._fuse = asyncio.get_running_loop().call_later(_AT_LATEST_S, self._begin)
        await send({"type": "lifespan.startup.complete"})
        await receive()
        self._fuse.cancel()
        self._shelf.close()
        await send({"type": "lifespan.shutdown.complete"})
