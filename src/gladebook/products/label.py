"""A label as its user has copied it: nothing in it is known from elsewhere, and all of it may be empty.

The same noun holds a row of the county extension office's list, which stands behind the user's own label.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from gladebook.products.forage import FORAGES, Forage, same_crop
from gladebook.products.wait import Wait
from gladebook.units import Quantity

__all__ = ["Label", "Strength", "Timing", "Whose", "plant_back_of"]

Whose = Literal["label", "county list"]
Timing = Literal["burndown", "post", "pre-emerge", "incorporated"]


@dataclass(frozen=True)
class Strength:
    """An ingredient of a product, and how much of it there is: lb ai or ae per gallon, or % by weight.

    `strength` is None where the user has not said it.
    """

    ingredient: str
    strength: Quantity | None = None


@dataclass(frozen=True)
class Label:
    """What a user's label, or the county's list, says of one product.

    Attributes
    ----------
    name : the product as the user calls it.
    whose : the user's label, or the county extension office's list.
    source : which label and of when, in the user's words.
    ingredients : what is in it; never empty.
    rate_least, rate_most : of product, per area or by volume.
    single_max : most for one application: of product, or of ingredient (its basis is then "ai" or "ae").
    season_max : most for a season, likewise.
    most_applications : a season.
    interval : least time between applications.
    crops : that the label lists.
    tolerated, injured : forages, as the label or list says.
    kills : kinds or names of weeds.
    timing : when it is used.
    weed_height_least_m, weed_height_most_m : size of the weed, m.
    stand : stage that the crop must have, in the label's words.
    adjuvant : what must go with it, in the label's words.
    rainfast_s : dry time that it needs after spraying, s.
    reentry_s : time until people may go in, s.
    rain_needed_m, rain_within : rain that must follow, m, and how soon.
    wind_least_mps, wind_most_mps : m/s.
    temperature_least_c, temperature_most_c : degrees Celsius.
    till_wait : least time from spraying to disking.
    plant_back : wait by the crop's name; "other" for all that are not named.
    graze_wait : least time to grazing, as the label has it for livestock.
    group : number of its mode of action, as printed on the label.
    growth_regulator : whether the user says that it is one; None where not said.
    clean_out : what the label says of cleaning the tank, in its words.
    notes : anything else, in the user's words.
    """

    name: str
    ingredients: tuple[Strength, ...]
    whose: Whose = "label"
    source: str = ""
    rate_least: Quantity | None = None
    rate_most: Quantity | None = None
    single_max: Quantity | None = None
    season_max: Quantity | None = None
    most_applications: int | None = None
    interval: Wait | None = None
    crops: tuple[Forage, ...] = ()
    tolerated: tuple[Forage, ...] = ()
    injured: tuple[Forage, ...] = ()
    kills: tuple[str, ...] = ()
    timing: tuple[Timing, ...] = ()
    weed_height_least_m: float | None = None
    weed_height_most_m: float | None = None
    stand: str = ""
    adjuvant: str = ""
    rainfast_s: float | None = None
    reentry_s: float | None = None
    rain_needed_m: float | None = None
    rain_within: Wait | None = None
    wind_least_mps: float | None = None
    wind_most_mps: float | None = None
    temperature_least_c: float | None = None
    temperature_most_c: float | None = None
    till_wait: Wait | None = None
    plant_back: Mapping[str, Wait] = field(default_factory=dict)
    graze_wait: Wait | None = None
    group: str = ""
    growth_regulator: bool | None = None
    clean_out: str = ""
    notes: str = ""


def plant_back_of(label: Label, crop: Forage) -> Wait | None:
    """The wait before a crop: by its name, else its family's, else that of all others; None where none is entered."""
    if crop.name in label.plant_back:
        return label.plant_back[crop.name]
    for name, wait in label.plant_back.items():
        if name in FORAGES and same_crop((FORAGES[name],), crop):
            return wait
    return label.plant_back.get("other")
