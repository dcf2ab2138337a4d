"""The application: which address answers what. Errors that are ours become text here, in one place."""

from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response

from gladebook.errors import CallError, Clash, GladebookError, OutputError
from gladebook.web.drive import router as drive_router
from gladebook.web.files import router as files_router
from gladebook.web.guard import Guard, allowed_hosts
from gladebook.web.shapes import router as shapes_router
from gladebook.web.tank import router as tank_router

__all__ = ["make_app"]


def make_app(path: Path, *, port: int) -> FastAPI:
    """The application for one property file, for a browser on this machine at `port`."""
    app = FastAPI(title="gladebook", docs_url=None, redoc_url=None, openapi_url="/openapi.json")
    app.state.path = path
    for router in (files_router, shapes_router, tank_router, drive_router):
        app.include_router(router)
    app.add_middleware(Guard, hosts=allowed_hosts(port))
    app.add_exception_handler(GladebookError, _told)
    app.add_exception_handler(RequestValidationError, _not_understood)
    return app


def _told(_request: Request, error: Exception) -> Response:
    status = 409 if isinstance(error, Clash) else 400 if isinstance(error, CallError) else 422
    return JSONResponse({"error": str(error)}, status_code=500 if isinstance(error, OutputError) else status)


def _not_understood(_request: Request, error: Exception) -> Response:
    where = ""
    if isinstance(error, RequestValidationError) and error.errors():
        where = ".".join(str(part) for part in error.errors()[0].get("loc", ())[1:])
    words = f"What the page sent was not understood{f' ({where})' if where else ''}. Load the page anew."
    return JSONResponse({"error": words}, status_code=400)
