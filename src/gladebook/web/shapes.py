"""What have I got? Plots and obstacles on the map: looked at, traced, drawn anew, taken away, undone."""

import asyncio
import tempfile
from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field

from gladebook.errors import BoundaryError
from gladebook.jobs.adding import Adding, add_to
from gladebook.jobs.outline import cut_outline, narrow_outline, outline_of, thin_outline
from gladebook.jobs.tracing import call_anew, put_down, redraw, take_away, take_back
from gladebook.units import FT_M, parse_quantity
from gladebook.view.sheet import outline_document
from gladebook.web.first import look_document
from gladebook.web.shelf import shelf_of
from gladebook.web.told import on_page, told
from gladebook.web.upload import upload

__all__ = ["router"]

router = APIRouter(prefix="/api")
Corner = tuple[Annotated[float, Field(ge=-540, le=540)], Annotated[float, Field(ge=-90, le=90)]]
Ring = Annotated[list[Corner], Field(max_length=20_000)]
Parts = Annotated[list[Annotated[list[Ring], Field(min_length=1, max_length=200)]], Field(min_length=1, max_length=50)]
Name = Annotated[str, Field(max_length=200)]
_THIN_FT = 2.0  # less than a phone knows of where it is
Uid = Annotated[str, Field(max_length=64)]


class Traced(BaseModel):
    """An outline, longitude and latitude; of a plot that is drawn anew its id."""

    parts: Parts
    uid: Uid = ""


class Narrowed(Traced):
    """An outline, and how far it is to be kept off the wood line."""

    width: Annotated[str, Field(max_length=80)]


class NewShape(BaseModel):
    """A traced plot, obstacle or check strip."""

    parts: Parts
    name: Name
    kind: Literal["plot", "obstacle", "check strip"] = "plot"


class Anew(BaseModel):
    """A shape drawn or named anew, and the state of it that was seen."""

    mark: Name
    parts: Parts | None = None
    name: Name | None = None


class Undo(BaseModel):
    """The last change that was seen."""

    step: Annotated[int, Field(ge=0, le=2**62)]


class Reading(BaseModel):
    """A dropped file: its name, what is in it, and what it does not say itself."""

    name: Name
    kind: Literal["plots", "obstacles", "check strips"] = "plots"
    crs: Name = ""
    layer: Name = ""
    name_field: Name = ""
    repair: bool = False
    replace: bool = False


@router.get("/property")
def look(request: Request) -> dict[str, Any]:
    """All shapes with their acres."""
    return look_document(shelf_of(request).path)


@router.post("/outline")
def outline(request: Request, traced: Traced) -> dict[str, Any]:
    """Acres of an outline that is being traced, and which plots it lies over; or why it is no area yet."""
    try:
        return outline_document(outline_of(shelf_of(request).path, traced.parts, uid=traced.uid))
    except BoundaryError as error:  # no mistake while a finger is still at it
        return {"words": [told(error)], "wrong": True}


@router.post("/outline/cut")
def cut(request: Request, traced: Traced) -> dict[str, Any]:
    """The outline without the ground of its neighbours."""
    return outline_document(cut_outline(shelf_of(request).path, traced.parts, uid=traced.uid))


@router.post("/outline/narrow")
def narrow(request: Request, traced: Narrowed) -> dict[str, Any]:
    """The outline kept off the wood line."""
    width_m = parse_quantity(traced.width, kind="length", what="Off the wood line").si
    return outline_document(narrow_outline(shelf_of(request).path, traced.parts, width_m=width_m, uid=traced.uid))


@router.post("/outline/thin")
def thin(request: Request, traced: Traced) -> dict[str, Any]:
    """The outline with fewer corners, so that a finger can move them."""
    had = sum(len(ring) for part in traced.parts for ring in part)
    thinner = outline_document(
        thin_outline(shelf_of(request).path, traced.parts, off_m=_THIN_FT * FT_M, uid=traced.uid)
    )
    kept = sum(len(ring) for part in thinner["parts"] for ring in part)
    said = f"{kept} of {had} corners are left; no line moved by more than {_THIN_FT:g} ft."
    return {**thinner, "words": [*thinner["words"], said]}


@router.post("/shapes")
def add(request: Request, shape: NewShape) -> dict[str, Any]:
    """Put a traced shape down."""
    words = put_down(shelf_of(request).path, shape.name, kind=shape.kind, parts=shape.parts)
    return {"words": words, **look(request)}


@router.put("/shapes/{uid}")
def change(request: Request, uid: Uid, anew: Anew) -> dict[str, Any]:
    """Draw a shape anew, or name it anew."""
    path = shelf_of(request).path
    words = "Nothing was changed."
    if anew.parts is not None:
        words = redraw(path, uid, parts=anew.parts, mark=anew.mark)
    elif anew.name is not None:
        words = call_anew(path, uid, name=anew.name, mark=anew.mark)
    return {"words": words, **look(request)}


@router.delete("/shapes/{uid}")
def remove(request: Request, uid: Uid, mark: Annotated[str, Query(max_length=200)]) -> dict[str, Any]:
    """Take a shape away."""
    words = take_away(shelf_of(request).path, uid, mark=mark)
    return {"words": words, **look(request)}


@router.post("/undo")
def undo(request: Request, seen: Undo) -> dict[str, Any]:
    """Take the last change back, if it is the one that was seen."""
    words = take_back(shelf_of(request).path, step=seen.step)
    return {"words": words, **look(request)}


@router.post("/file")
async def drop(
    request: Request,
    reading: Annotated[Reading, Query()],
) -> dict[str, Any]:
    """Let a dropped file of plots, obstacles or check strips in."""
    with tempfile.TemporaryDirectory(prefix="gladebook-") as folder:
        file = await upload(request, name=reading.name, folder=Path(folder))
        return await asyncio.to_thread(_let_in, request, file, reading)


def _let_in(request: Request, file: Path, reading: Reading) -> dict[str, Any]:
    adding = Adding(
        plots=file if reading.kind == "plots" else None,
        obstacles=file if reading.kind == "obstacles" else None,
        left=file if reading.kind == "check strips" else None,
        crs=reading.crs or None,
        layer=reading.layer or None,
        name_field=reading.name_field or None,
        repair=reading.repair,
        replace=reading.replace,
    )
    added = add_to(shelf_of(request).path, adding)
    return {"words": on_page(" ".join([*added.words, *added.notices])), **look(request)}
