"""What goes in the tank? A mix for plots that were touched on the map."""

import asyncio
import tempfile
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field

from gladebook.errors import CallError, NotListed, Unanswered
from gladebook.jobs.labels import add_labels, keep_listed, labels_of, listed_question
from gladebook.jobs.order import Order, keep_mix, mix_for_plots
from gladebook.jobs.property import today
from gladebook.spraying.mix import RATE_KINDS
from gladebook.spraying.recipe import Product
from gladebook.units import parse_quantity
from gladebook.view.documents import mix_document
from gladebook.view.tables import mix_cells
from gladebook.view.words import mix_words, stop_words
from gladebook.web.shelf import shelf_of
from gladebook.web.told import on_page, told
from gladebook.web.upload import upload

__all__ = ["router"]

router = APIRouter(prefix="/api")
Text = Annotated[str, Field(max_length=80)]
Name = Annotated[str, Field(max_length=200)]


class Rate(BaseModel):
    """A product, its rate as people write it, and the most for one application."""

    name: Annotated[str, Field(max_length=120)]
    rate: Text
    maximum: Text = ""


class Wanted(BaseModel):
    """What is to be mixed."""

    plots: Annotated[list[Name], Field(min_length=1, max_length=500)]
    per_acre: Text
    tank: Text
    sump: Text = ""
    products: Annotated[list[Rate], Field(max_length=20)] = []


class Listed(BaseModel):
    """Whether a label was found to list the site and a crop, and what was answered before; null for nothing."""

    product: Annotated[str, Field(min_length=1, max_length=120)]
    crop: Annotated[str, Field(min_length=1, max_length=120)]
    answer: bool
    was: bool | None


class Keep(BaseModel):
    """An answer that was worked out, and the name to keep it under."""

    token: Annotated[str, Field(max_length=64)]
    name: Name


@router.get("/labels")
def labels(request: Request) -> dict[str, Any]:
    """The user's own labels: names and rates, to choose from."""
    found = [kept.label for kept in labels_of(shelf_of(request).path) if kept.label.whose == "label"]
    return {
        "labels": [
            {
                "name": label.name,
                "rate_least": "" if label.rate_least is None else str(label.rate_least),
                "rate_most": "" if label.rate_most is None else str(label.rate_most),
                "maximum": "" if label.single_max is None else str(label.single_max),
                "source": label.source,
            }
            for label in found
        ]
    }


@router.post("/labels")
async def let_in(request: Request, name: Annotated[str, Query(max_length=200)]) -> dict[str, str]:
    """Let a dropped sheet of labels in."""
    with tempfile.TemporaryDirectory(prefix="gladebook-") as folder:
        file = await upload(request, name=name, folder=Path(folder))
        words = await asyncio.to_thread(add_labels, shelf_of(request).path, file, day=today())
    return {"words": on_page(" ".join(words))}


@router.post("/listed")
def listed(request: Request, found: Listed) -> dict[str, str]:
    """Keep what the user found on a label."""
    seen = {} if found.was is None else {found.crop: found.was}
    words = keep_listed(
        shelf_of(request).path, found.product, crops=[found.crop], answer=found.answer, day=today(), seen=seen
    )
    return {"words": words}


@router.post("/mix")
def mix(request: Request, wanted: Wanted) -> dict[str, Any]:
    """The recipe by load, with its cautions; or, before any amount, a question about a label."""
    shelf = shelf_of(request)
    try:
        plan, notices = mix_for_plots(shelf.path, _order(wanted))
    except (Unanswered, NotListed) as error:
        return _question(error)
    header, rows = mix_cells(plan)
    document = mix_document(plan, notices=notices)
    return {
        "words": mix_words(plan),
        "header": header,
        "rows": rows,
        "stops": stop_words(plan),
        "cautions": document["cautions"],
        "notices": [on_page(notice) for notice in document["notices"]],
        "mix": document,
        "token": shelf.put_answer(lambda name: keep_mix(shelf.path, plan, name=name, notices=notices)),
    }


@router.post("/keep")
def keep(request: Request, what: Keep) -> dict[str, str]:
    """Keep an answer just as it was shown: a mix, or an application."""
    if not what.name.strip():
        raise CallError("Give it a name first.")
    return {"words": on_page(shelf_of(request).answer(what.token)(what.name))}


def _question(error: Unanswered | NotListed) -> dict[str, Any]:
    """One product and one crop at a time, so that a no can mean one thing alone."""
    crop = error.crops[0]
    refused = told(error) if isinstance(error, NotListed) else ""
    return {
        "refused": refused,
        "question": listed_question(error.product, [crop]),
        "product": error.product,
        "crop": crop,
        "was": False if refused else None,
    }


def _order(wanted: Wanted) -> Order:
    return Order(
        plots=tuple(wanted.plots),
        rate_m=parse_quantity(wanted.per_acre, kind="volume per area", what="Gallons per acre").si,
        tank_m3=parse_quantity(wanted.tank, kind="volume", what="Tank").si,
        sump_m3=parse_quantity(wanted.sump, kind="volume", what="Stays in the sump").si if wanted.sump else 0.0,
        products=tuple(_product(rate) for rate in wanted.products),
    )


def _product(rate: Rate) -> Product:
    name = " ".join(rate.name.split())
    if not name:
        raise CallError("A product has no name. Write it as on the label.")
    if not rate.rate.strip():
        raise CallError(f"{name}: has no rate. Copy it from your label.")
    most = parse_quantity(rate.maximum, kind=RATE_KINDS, what=f"{name}, the most") if rate.maximum else None
    return Product(name, parse_quantity(rate.rate, kind=RATE_KINDS, what=name), most)
