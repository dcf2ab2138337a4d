"""The case that is looked at before a spray: one plot, one day, and all that the user said."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time

from gladebook.products.label import Label
from gladebook.products.weed import Weed
from gladebook.records.growing import Growing
from gladebook.records.sprayed import InTank, Sprayed
from gladebook.units import Quantity
from gladebook.weather.reading import Reading

__all__ = ["Case", "Planned"]


@dataclass(frozen=True)
class Planned:
    """A product that is to go out.

    Attributes
    ----------
    product : as the user calls it.
    label : what the user's label says; None where it was not entered.
    county : what the county extension office's list says; None where there is none.
    rate : of product, per area or by volume; None where not said.
    listed : by the crop's name, whether the user found it, and this site, on the label; a crop that is missing was not
        looked up. For bare ground its key is "bare ground".
    """

    product: str
    label: Label | None = None
    county: Label | None = None
    rate: Quantity | None = None
    listed: Mapping[str, bool] = field(default_factory=dict)


@dataclass(frozen=True)
class Case:
    """All that is known before a spray; what is not known is None or empty, and is told as not checked.

    Attributes
    ----------
    day : of the spray.
    plot : its name.
    growing : stand and plans of the plot.
    planned : products, all in one tank.
    clock : time of the spray; None where not said.
    sunset, sunrise : by the user, or worked out from where the plot lies; None where not known.
    weed, weed_height_m : what is sprayed against, and its height, m.
    history : everything sprayed before, on this plot.
    tank : what was last in it; None where not said.
    tank_new : whether the user says that nothing was in it before.
    weather : as measured or forecast.
    delta_t : whether the user asked for it.
    per_acre : spray volume; None where not said.
    area_m2 : the plot's ground, m2; None where not known.
    """

    day: date
    plot: str = ""
    growing: Growing = field(default_factory=Growing)
    planned: tuple[Planned, ...] = ()
    clock: time | None = None
    sunset: datetime | None = None
    sunrise: datetime | None = None
    weed: Weed | None = None
    weed_height_m: float | None = None
    history: tuple[Sprayed, ...] = ()
    tank: InTank | None = None
    tank_new: bool = False
    weather: Reading | None = None
    delta_t: bool = False
    per_acre: Quantity | None = None
    area_m2: float | None = None
