"""The application: which address answers what, and what becomes of errors."""

import logging

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response

from gladebook.errors import CallError, Clash, GladebookError, OutputError
from gladebook.web.drive import router as drive_router
from gladebook.web.files import ROUTES
from gladebook.web.guard import MOST_BYTES, Guard, allowed_hosts
from gladebook.web.photo import router as photo_router
from gladebook.web.plot import router as plot_router
from gladebook.web.shapes import router as shapes_router
from gladebook.web.shelf import Shelf
from gladebook.web.tank import router as tank_router
from gladebook.web.told import BROKEN, told

__all__ = ["make_app"]

_log = logging.getLogger(__name__)


def make_app(shelf: Shelf, *, port: int, most_bytes: int = MOST_BYTES) -> FastAPI:
    """The application for one property file, for a browser on this machine.

    Parameters
    ----------
    shelf
        The property file, and what is held beside it.
    port
        Where it listens; requests under another address are refused.
    most_bytes
        What a dropped file may hold.
    """
    app = FastAPI(title="gladebook", docs_url=None, redoc_url=None, openapi_url="/openapi.json")
    app.state.shelf = shelf
    for router in (photo_router, shapes_router, plot_router, tank_router, drive_router):
        app.include_router(router)
    app.router.routes.extend(ROUTES)
    app.add_middleware(Guard, hosts=allowed_hosts(port), most_bytes=most_bytes)
    app.add_exception_handler(GladebookError, _told)
    app.add_exception_handler(RequestValidationError, _not_understood)
    app.add_exception_handler(Exception, _broken)
    return app


def _told(_request: Request, error: Exception) -> Response:
    if not isinstance(error, GladebookError):
        raise error
    return JSONResponse({"error": told(error)}, status_code=_status(error))


def _status(error: GladebookError) -> int:
    if isinstance(error, Clash):
        return 409
    if isinstance(error, OutputError):
        return 507
    return 400 if isinstance(error, CallError) else 422


def _not_understood(_request: Request, error: Exception) -> Response:
    where = ""
    if isinstance(error, RequestValidationError) and error.errors():
        where = ".".join(str(part) for part in error.errors()[0].get("loc", ())[1:])
    words = f"What the page sent was not understood{f' ({where})' if where else ''}. Load the page anew."
    return JSONResponse({"error": words}, status_code=400)


def _broken(_request: Request, error: Exception) -> Response:
    _log.error("A request could not be answered", exc_info=error)
    return JSONResponse({"error": BROKEN}, status_code=500)
