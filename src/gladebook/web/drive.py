"""How did I do? A track is dropped in, trimmed, and held against the plots; long work tells how far it is."""

import asyncio
import json
import secrets
import tempfile
import threading
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import StreamingResponse
from pydantic import BaseModel, Field

from gladebook.errors import CallError, GladebookError, Stopped
from gladebook.io.door import read_track
from gladebook.jobs.application import Application, Drives, Spray, Times, check_application
from gladebook.jobs.ground import GroundFiles
from gladebook.jobs.keep import keep_application
from gladebook.jobs.property import mark_strips
from gladebook.passes.sprayer import Sprayer
from gladebook.units import parse_quantity
from gladebook.view.documents import coverage_document
from gladebook.view.page import map_data
from gladebook.view.track import track_document
from gladebook.view.words import coverage_words
from gladebook.web.shapes import clean_file_name, path_of, upload

__all__ = ["router"]

router = APIRouter(prefix="/api")
Text = Annotated[str, Field(max_length=80)]
Progress = Callable[[str, float], None]
_MOST_TRACKS = 50


@dataclass
class _Shelf:
    """Tracks that were dropped in, until the server ends."""

    folder: tempfile.TemporaryDirectory[str]
    files: dict[str, Path]


class Question(BaseModel):
    """Which tracks, and what pulled through them."""

    tracks: Annotated[list[Annotated[str, Field(max_length=64)]], Field(min_length=1, max_length=_MOST_TRACKS)]
    boom: Text
    behind: Text = ""
    used: Text = ""
    per_acre: Text = ""
    start: Text = ""
    end: Text = ""
    save: Annotated[str, Field(max_length=200)] = ""


class Strips(BaseModel):
    """Missed strips and what became of them."""

    application: Annotated[str, Field(max_length=200)]
    numbers: Annotated[list[int], Field(min_length=1, max_length=1000)]
    state: Literal["seen", "touched up", "left"]


def _shelf(request: Request) -> _Shelf:
    state = request.app.state
    if not hasattr(state, "shelf"):
        state.shelf = _Shelf(tempfile.TemporaryDirectory(prefix="gladebook-"), {})
    shelf: _Shelf = state.shelf
    return shelf


@router.post("/tracks")
async def drop(request: Request, name: Annotated[str, Query(max_length=200)]) -> dict[str, Any]:
    """Take a track in, and say where and when it went, so that it can be trimmed."""
    shelf = _shelf(request)
    if len(shelf.files) >= _MOST_TRACKS:
        raise CallError("There are 50 tracks here already. Load the page anew.")
    token = secrets.token_urlsafe(16)
    folder = Path(shelf.folder.name) / token
    folder.mkdir()
    file = await upload(request, name=clean_file_name(name), folder=folder)
    track = await asyncio.to_thread(read_track, file)
    shelf.files[token] = file
    return {"token": token, **track_document(track)}


@router.post("/check")
async def check(request: Request, question: Question) -> StreamingResponse:
    """Hold the tracks against the plots: lines of JSON, first how far it is, last the answer or what is wrong."""
    files = [_file(request, token) for token in question.tracks]
    drives, spray = _drives(question, files), _spray(question)
    ground = GroundFiles(path_of(request))

    def work(tell: Progress) -> dict[str, Any]:
        done = check_application(ground, drives, spray=spray, progress=tell)
        return _answer(request, done, question)

    return StreamingResponse(_told(request, work), media_type="application/x-ndjson")


@router.post("/strips")
def strips(request: Request, what: Strips) -> dict[str, Any]:
    """Say what became of missed strips of an application that was kept."""
    words = mark_strips(path_of(request), what.numbers, state=what.state, application=what.application)
    return {"words": words[0]}


def _file(request: Request, token: str) -> Path:
    found = _shelf(request).files.get(token)
    if found is None:
        raise CallError("That track is not here any more. Drop it in again.")
    return found


def _drives(question: Question, files: list[Path]) -> Drives:
    width = parse_quantity(question.boom, kind="length", what="Boom").si
    if width <= 0:
        raise CallError("Boom: must be wider than nothing.")
    behind = parse_quantity(question.behind, kind="length", what="Behind").si if question.behind else None
    times = Times(start=_moment(question.start), end=_moment(question.end))
    return Drives(files=tuple(files), sprayer=Sprayer(width_m=width, behind_m=behind), times=times)


def _moment(text: str) -> datetime | None:
    if not text:
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise CallError(f'"{text[:40]}" is no time. Move the slider again.') from None


def _spray(question: Question) -> Spray | None:
    if not question.used or not question.per_acre:
        return None
    used = parse_quantity(question.used, kind="volume", what="Gallons used").si
    return Spray(used, parse_quantity(question.per_acre, kind="volume per area", what="Gallons per acre").si)


def _answer(request: Request, done: Application, question: Question) -> dict[str, Any]:
    notices = (*done.measured.notices, *done.notices)
    document = coverage_document(done.coverage, gallons=done.gallons, notices=notices, reentry=done.reentry)
    kept = ""
    if question.save:
        kept = keep_application(path_of(request), done, name=question.save, answer=document)
    return {
        "words": coverage_words(done.coverage, gallons_check=done.gallons),
        "map": map_data(done.measured, done.coverage),
        "notices": document["notices"],
        "assumptions": document["assumptions"],
        "kept": kept,
    }


async def _told(request: Request, work: Callable[[Progress], dict[str, Any]]) -> AsyncIterator[str]:
    """Run long work beside the server; stop it where the browser has gone."""
    gone = threading.Event()
    lines: asyncio.Queue[dict[str, Any]] = asyncio.Queue()
    loop = asyncio.get_running_loop()

    def tell(what: str, share: float) -> None:
        if gone.is_set():
            raise Stopped("stopped; nothing was written.")
        loop.call_soon_threadsafe(lines.put_nowait, {"what": what, "share": share})

    task = asyncio.create_task(asyncio.to_thread(work, tell))
    try:
        while not task.done() or not lines.empty():
            try:
                yield json.dumps(await asyncio.wait_for(lines.get(), timeout=0.1)) + "\n"
            except TimeoutError:
                if await request.is_disconnected():
                    return
        try:
            yield json.dumps({"answer": task.result()}) + "\n"
        except GladebookError as error:
            yield json.dumps({"error": str(error)}) + "\n"
    finally:
        gone.set()
