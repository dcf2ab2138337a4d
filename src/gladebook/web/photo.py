"""The photo from above: from a file on this computer, or from public-domain tiles while there is internet."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from gladebook.io.photo import picture_kind
from gladebook.web.first import photo_document
from gladebook.web.shelf import shelf_of

__all__ = ["router"]

router = APIRouter(prefix="/api")


@router.get("/photo")
def photo(request: Request) -> dict[str, Any]:
    """Where the page finds the tiles of the photo."""
    return photo_document(shelf_of(request).photo)


@router.get("/photo/{zoom}/{x}/{y}", response_class=Response)
def tile(request: Request, zoom: int, x: int, y: int) -> Response:
    """A tile of the photo on this computer; 204 where it has none."""
    own = shelf_of(request).photo
    found = None if own is None else own.tile(zoom, x, y)
    if found is None:
        return Response(status_code=204)
    return Response(found, media_type=picture_kind(found))
