"""How did I do? A track is dropped in, trimmed, and held against the plots; long work tells how far it is."""

import asyncio
import threading
from datetime import datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import StreamingResponse
from pydantic import BaseModel, Field

from gladebook.coverage.result import Coverage
from gladebook.errors import CallError, Stopped
from gladebook.io.door import read_track
from gladebook.jobs.application import Application, Drives, Spray, Times, check_application
from gladebook.jobs.ground import GroundFiles
from gladebook.jobs.keep import keep_application
from gladebook.jobs.strips import kept_applications, mark_strips
from gladebook.passes.sprayer import Sprayer
from gladebook.plots.acreage import Measured
from gladebook.spraying.cautions import CAUTIONS
from gladebook.units import parse_quantity
from gladebook.view.documents import coverage_document
from gladebook.view.headline import headline_words
from gladebook.view.kept import application_document
from gladebook.view.page import map_data
from gladebook.view.skips import entry_words
from gladebook.view.track import track_document
from gladebook.view.words import coverage_words, without_ranges
from gladebook.web.shelf import MOST_TRACKS, Shelf, shelf_of
from gladebook.web.stream import Show, lines_of
from gladebook.web.told import on_page
from gladebook.web.upload import clean_file_name, upload

__all__ = ["router"]

router = APIRouter(prefix="/api")
Text = Annotated[str, Field(max_length=80)]


class Question(BaseModel):
    """Which tracks, what pulled through them, and what left the tank."""

    tracks: Annotated[list[Annotated[str, Field(max_length=64)]], Field(min_length=1, max_length=MOST_TRACKS)]
    boom: Text = ""
    behind: Text = ""
    mixed: Text = ""
    left: Text = ""
    per_acre: Text = ""
    start: Text = ""
    end: Text = ""


class Strips(BaseModel):
    """Missed strips, what became of them, and the state in which they were seen to be."""

    application: Annotated[str, Field(max_length=200)]
    numbers: Annotated[list[Annotated[int, Field(ge=0, le=10**9)]], Field(min_length=1, max_length=1000)]
    state: Literal["seen", "touched up", "left"]
    was: Annotated[str, Field(max_length=40)] | None = None


@router.post("/tracks")
async def drop(request: Request, name: Annotated[str, Query(max_length=200)]) -> dict[str, Any]:
    """Take a track in, and say where and when it went, so that it can be trimmed."""
    shelf = shelf_of(request)
    kept_as = clean_file_name(name)
    token, folder = shelf.place()
    file = await upload(request, name=kept_as, folder=folder)
    track = await asyncio.to_thread(read_track, file)
    shelf.put_track(token, file)
    return {"token": token, "file": kept_as, **track_document(track)}


@router.post("/check")
async def check(request: Request, question: Question) -> StreamingResponse:
    """Hold the tracks against the plots: lines of JSON, first how far it is and the painted ground, last the answer."""
    shelf = shelf_of(request)
    drives, spray = _drives(question, shelf), _spray(question)
    ground = GroundFiles(shelf.path)
    gone = threading.Event()

    def work(show: Show) -> dict[str, Any]:
        def tell(what: str, share: float) -> None:
            if gone.is_set():
                raise Stopped("Stopped; nothing was written.")
            show({"what": what, "share": share})

        def painted(measured: Measured, coverage: Coverage) -> None:
            show({"first": map_data(measured, coverage)})

        return _answer(shelf, check_application(ground, drives, spray=spray, progress=tell, first=painted))

    return StreamingResponse(lines_of(work, gone=gone), media_type="application/x-ndjson")


@router.get("/applications")
def applications(request: Request) -> dict[str, Any]:
    """Applications that were kept, each with its missed strips."""
    return {
        "applications": [application_document(one, strips) for one, strips in kept_applications(shelf_of(request).path)]
    }


@router.post("/strips")
def strips(request: Request, what: Strips) -> dict[str, Any]:
    """Say what became of missed strips of an application that was kept."""
    words = mark_strips(
        shelf_of(request).path, what.numbers, state=what.state, application=what.application, seen=what.was
    )
    return {"words": words[0], **applications(request)}


def _drives(question: Question, shelf: Shelf) -> Drives:
    files = tuple(shelf.track(token) for token in question.tracks)
    width = parse_quantity(question.boom, kind="length", what="Boom").si if question.boom else None
    if width is not None and width <= 0:
        raise CallError("Boom: must be wider than nothing.")
    behind = parse_quantity(question.behind, kind="length", what="Behind").si if question.behind else None
    times = Times(start=_moment(question.start), end=_moment(question.end))
    return Drives(files=files, sprayer=Sprayer(width_m=width, behind_m=behind), times=times)


def _moment(text: str) -> datetime | None:
    if not text:
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise CallError("That is no time of the track. Move the slider again.") from None


def _spray(question: Question) -> Spray | None:
    """What left the tank: what was mixed less what came home."""
    if not question.mixed:
        if question.left:
            raise CallError("Gallons mixed: say how much was mixed in all, or empty the gallons left.")
        return None
    if not question.per_acre:
        raise CallError("Gallons per acre: say how much was meant, or empty the gallons mixed.")
    mixed = parse_quantity(question.mixed, kind="volume", what="Gallons mixed").si
    left = parse_quantity(question.left, kind="volume", what="Gallons left").si if question.left else 0.0
    if left > mixed:
        raise CallError("Gallons left: is more than was mixed.")
    return Spray(mixed - left, parse_quantity(question.per_acre, kind="volume per area", what="Gallons per acre").si)


def _answer(shelf: Shelf, done: Application) -> dict[str, Any]:
    notices = (*done.measured.notices, *done.notices)
    document = coverage_document(done.coverage, gallons=done.gallons, notices=notices, reentry=done.reentry)
    return {
        "headline": headline_words(done.coverage, gallons_check=done.gallons),
        "words": coverage_words(done.coverage, gallons_check=done.gallons),
        "entry": entry_words(done.reentry),
        "day": done.day,
        "map": map_data(done.measured, done.coverage),
        "notices": [on_page(notice) for notice in without_ranges(document["notices"])],
        "assumptions": [on_page(words) for words in document["assumptions"]],
        "cautions": list(CAUTIONS),
        "token": shelf.put_answer(lambda name: keep_application(shelf.path, done, name=name, answer=document)),
    }
