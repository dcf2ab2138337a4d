"""What goes in the tank? A mix for plots that were touched on the map."""

from typing import Annotated, Any

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field

from gladebook.errors import CallError
from gladebook.jobs.application import measure_ground
from gladebook.jobs.ground import GroundFiles
from gladebook.jobs.keep import keep_answer
from gladebook.jobs.labels import labels_of
from gladebook.jobs.listed import ask_labels, with_kept_maximum
from gladebook.jobs.property import today
from gladebook.jobs.tank import acres_from_measured
from gladebook.spraying.mix import RATE_KINDS, plan_mix
from gladebook.spraying.recipe import Product
from gladebook.units import parse_quantity
from gladebook.view.documents import mix_document
from gladebook.view.tables import mix_table
from gladebook.view.words import mix_words, stop_words
from gladebook.web.shapes import path_of

__all__ = ["router"]

router = APIRouter(prefix="/api")
Text = Annotated[str, Field(max_length=80)]


class Rate(BaseModel):
    """A product, its rate as people write it, and the most for one application."""

    name: Annotated[str, Field(max_length=120)]
    rate: Text
    maximum: Text = ""


class Order(BaseModel):
    """What is to be mixed."""

    plots: Annotated[list[Annotated[str, Field(max_length=200)]], Field(min_length=1, max_length=500)]
    per_acre: Text
    tank: Text
    sump: Text = ""
    products: Annotated[list[Rate], Field(max_length=20)] = []
    label_lists: bool | None = None
    save: Annotated[str, Field(max_length=200)] = ""


@router.get("/labels")
def labels(request: Request) -> dict[str, Any]:
    """The user's own labels: names and rates, to choose from."""
    found = [kept.label for kept in labels_of(path_of(request)) if kept.label.whose == "label"]
    return {
        "labels": [
            {
                "name": label.name,
                "rate_least": "" if label.rate_least is None else str(label.rate_least),
                "rate_most": "" if label.rate_most is None else str(label.rate_most),
            }
            for label in found
        ]
    }


@router.post("/mix")
def mix(request: Request, order: Order) -> dict[str, Any]:
    """The recipe by load, with its cautions. Refused until the labels were read for what grows there."""
    path = path_of(request)
    products = [_product(rate) for rate in order.products]
    measured = measure_ground(GroundFiles(path))
    ground = acres_from_measured(measured, order=order.plots)
    names = [product.name for product in products]
    asked = ask_labels(path, order.plots, products=names, answer=order.label_lists, day=today())
    products, taken = with_kept_maximum(path, products)
    plan = plan_mix(
        ground,
        rate_m=parse_quantity(order.per_acre, kind="volume per area", what="Gallons per acre").si,
        tank_m3=parse_quantity(order.tank, kind="volume", what="Tank").si,
        products=products,
        sump_m3=parse_quantity(order.sump, kind="volume", what="Sump").si if order.sump else 0.0,
    )
    document = mix_document(plan, notices=(*asked, *taken))
    words = [*mix_words(plan), *stop_words(plan)]
    kept = ""
    if order.save:
        content = {**document, "words": [*words, *mix_table(plan).splitlines(), "Cautions:", *plan.cautions]}
        kept = keep_answer(path, "mixes", name=order.save, content=content, day=today())
    return {"words": words, "kept": kept, "mix": document}


def _product(rate: Rate) -> Product:
    name = " ".join(rate.name.split())
    if not name:
        raise CallError("A product has no name.")
    most = parse_quantity(rate.maximum, kind=RATE_KINDS, what=f"{name}, the most") if rate.maximum else None
    return Product(name, parse_quantity(rate.rate, kind=RATE_KINDS, what=name), most)
