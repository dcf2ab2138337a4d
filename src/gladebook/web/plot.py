"""One plot in full: what grows there, its earlier lines, what was done."""

from typing import Annotated, Any

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field

from gladebook.errors import CallError
from gladebook.jobs.growing import set_growing
from gladebook.jobs.plot_page import forage_names, plot_page
from gladebook.view.sheet import plot_document
from gladebook.web.shapes import Uid
from gladebook.web.shelf import shelf_of

__all__ = ["router"]

router = APIRouter(prefix="/api")


class Stand(BaseModel):
    """What grows on a plot, since when, and what was seen to be entered before."""

    growing: Annotated[str, Field(max_length=400)]
    planted: Annotated[str, Field(max_length=10)] = ""
    seen: Annotated[list[Annotated[str, Field(max_length=1000)]], Field(max_length=50)] = []


@router.get("/forages")
def forages() -> dict[str, list[str]]:
    """Names of all forages that are known."""
    return {"forages": forage_names()}


@router.get("/plots/{uid}")
def plot(request: Request, uid: Uid) -> dict[str, Any]:
    """One plot in full."""
    return plot_document(plot_page(shelf_of(request).path, uid))


@router.put("/plots/{uid}/growing")
def grow(request: Request, uid: Uid, stand: Stand) -> dict[str, Any]:
    """Enter what grows there."""
    path = shelf_of(request).path
    name = plot_page(path, uid).name
    if not stand.growing.strip():
        raise CallError('Say what grows there, like "white clover, oat".')
    changes = {"forages": stand.growing, "planted": _day(stand.planted)}
    words = set_growing(path, name, changes=changes, seen=stand.seen)
    return {"words": words[0], **plot_document(plot_page(path, uid))}


def _day(text: str) -> str | None:
    from datetime import date

    if not text:
        return None
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise CallError(f'"{text}" is no day. Write it like 2026-09-14.') from None
