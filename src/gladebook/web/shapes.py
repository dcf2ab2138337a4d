"""What have I got? Plots and obstacles on the map: looked at, traced, drawn anew, taken away, undone."""

import tempfile
from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field

from gladebook.errors import CallError
from gladebook.jobs.adding import Adding, add_to
from gladebook.jobs.property import undo_change
from gladebook.jobs.tracing import acres_of, put_down, redraw, sheet_of, take_away
from gladebook.units import ACRE_M2
from gladebook.view.sheet import sheet_document

__all__ = ["clean_file_name", "path_of", "router", "upload"]

router = APIRouter(prefix="/api")
Ring = Annotated[list[tuple[float, float]], Field(max_length=20_000)]
Rings = Annotated[list[Ring], Field(min_length=1, max_length=200)]
_LONGEST_NAME = 200


class Traced(BaseModel):
    """An outline, longitude and latitude."""

    rings: Rings


class NewShape(Traced):
    """A traced plot or obstacle."""

    name: Annotated[str, Field(max_length=_LONGEST_NAME)]
    kind: Literal["plot", "obstacle"] = "plot"


class NewOutline(Traced):
    """A shape drawn anew, and the state of it that was seen."""

    mark: Annotated[str, Field(max_length=200)]


def path_of(request: Request) -> Path:
    """The property file of this server."""
    path: Path = request.app.state.path
    return path


@router.get("/property")
def look(request: Request) -> dict[str, Any]:
    """All shapes with their acres."""
    return sheet_document(sheet_of(path_of(request)), file=path_of(request).name)


@router.post("/acres")
def acres(traced: Traced) -> dict[str, float]:
    """Acres of an outline that is being traced."""
    return {"acres": acres_of(traced.rings) / ACRE_M2}


@router.post("/shapes")
def add(request: Request, shape: NewShape) -> dict[str, Any]:
    """Put a traced shape down."""
    words = put_down(path_of(request), shape.name, kind=shape.kind, rings=shape.rings)
    return {"words": words, **look(request)}


@router.put("/shapes/{uid}")
def change(request: Request, uid: str, outline: NewOutline) -> dict[str, Any]:
    """Draw a shape anew."""
    words = redraw(path_of(request), uid, rings=outline.rings, mark=outline.mark)
    return {"words": words, **look(request)}


@router.delete("/shapes/{uid}")
def remove(request: Request, uid: str, mark: Annotated[str, Query(max_length=200)]) -> dict[str, Any]:
    """Take a shape away."""
    words = take_away(path_of(request), uid, mark=mark)
    return {"words": words, **look(request)}


@router.post("/undo")
def undo(request: Request) -> dict[str, Any]:
    """Take the last change back."""
    words = " ".join(undo_change(path_of(request)))
    return {"words": words, **look(request)}


@router.post("/file")
async def drop(
    request: Request,
    name: Annotated[str, Query(max_length=_LONGEST_NAME)],
    kind: Literal["plots", "obstacles"] = "plots",
) -> dict[str, Any]:
    """Let a dropped file of plots, or of obstacles, in."""
    with tempfile.TemporaryDirectory() as folder:
        file = await upload(request, name=name, folder=Path(folder))
        adding = Adding(obstacles=file) if kind == "obstacles" else Adding(plots=file)
        added = add_to(path_of(request), adding)
    return {"words": " ".join([*added.words, *added.notices]), **look(request)}


async def upload(request: Request, *, name: str, folder: Path) -> Path:
    """Write what was dropped under its own name into a folder of its own.

    Raises
    ------
    CallError
        Where nothing came.
    """
    file = folder / clean_file_name(name)
    size = 0
    with file.open("wb") as out:
        async for part in request.stream():
            size += len(part)
            out.write(part)
    if not size:
        raise CallError(f"{file.name}: is empty.")
    return file


def clean_file_name(name: str) -> str:
    """The last part of a name, such as no folder can be left with.

    Raises
    ------
    CallError
        Where nothing is left of it.
    """
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    last = "".join(c for c in last if c.isprintable() and c not in '<>:"|?*').strip(" .")[-120:]
    if not last:
        raise CallError("The file has no name.")
    return last
