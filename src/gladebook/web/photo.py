"""The photo from above: from a file on this computer, or from public-domain tiles while there is internet."""

from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.responses import Response

from gladebook.io.photo import picture_kind
from gladebook.view.page import PHOTO
from gladebook.web.shelf import shelf_of

__all__ = ["router"]

router = APIRouter(prefix="/api")
_ONLINE_DEEPEST: Final = 16


@router.get("/photo")
def photo(request: Request) -> dict[str, Any]:
    """Where the page finds the tiles of the photo."""
    own = shelf_of(request).photo
    if own is None:
        return {
            "local": False,
            "url": PHOTO["url"],
            "credit": PHOTO["credit"],
            "least_zoom": 0,
            "most_zoom": _ONLINE_DEEPEST,
            "bounds": None,
        }
    return {
        "local": True,
        "url": "/api/photo/{z}/{x}/{y}",
        "credit": own.name,
        "least_zoom": own.least_zoom,
        "most_zoom": own.most_zoom,
        "bounds": own.bounds_deg,
    }


@router.get("/photo/{zoom}/{x}/{y}", response_class=Response)
def tile(request: Request, zoom: int, x: int, y: int) -> Response:
    """A tile of the photo on this computer; 204 where it has none."""
    own = shelf_of(request).photo
    found = None if own is None else own.tile(zoom, x, y)
    if found is None:
        return Response(status_code=204)
    return Response(found, media_type=picture_kind(found))
