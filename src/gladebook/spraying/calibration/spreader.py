"""A spreader for seed, fertilizer or lime: weight over ground.

Weight per area = weight / (effective swath x length). The effective swath, from trip to trip, is narrower than the
throw.
"""

from dataclasses import dataclass

from gladebook.spraying.calibration.amounts import above_zero
from gladebook.units import FT_M

__all__ = ["Spread", "spread_rate"]

_MOST_M = 200 * FT_M


@dataclass(frozen=True)
class Spread:
    """What a spreader puts out.

    Attributes
    ----------
    weight_kg : spread on the course, kg.
    ground_m2 : the course, m2.
    rate_kg_per_m2 : weight per area of one trip.
    set_for_kg_per_m2 : what one trip should put out: the wanted rate, or half of it; None where none is wanted.
    wanted_kg_per_m2 : what the ground should get in all; None where not said.
    trips : over the same ground: 2 where it is spread crosswise at half the rate each, which doubles on purpose.
    """

    weight_kg: float
    ground_m2: float
    rate_kg_per_m2: float
    wanted_kg_per_m2: float | None
    set_for_kg_per_m2: float | None
    trips: int

    @property
    def off(self) -> float | None:
        """How far one trip is from what it should put out, as a share; None where nothing is wanted."""
        return None if self.set_for_kg_per_m2 is None else self.rate_kg_per_m2 / self.set_for_kg_per_m2 - 1


def spread_rate(
    weight_kg: float, *, swath_m: float, length_m: float, wanted_kg_per_m2: float | None = None, crosswise: bool = False
) -> Spread:
    """Weight per area from what was spread on a course: weight / (effective swath x length).

    Raises
    ------
    CallError
        Where one of them is not above zero, or the swath over 200 ft.
    """
    above_zero(weight_kg, what="--spread")
    ground = above_zero(swath_m, what="--swath", most=_MOST_M, most_words="200 ft") * above_zero(
        length_m, what="--length"
    )
    trips = 2 if crosswise else 1
    set_for = None if wanted_kg_per_m2 is None else above_zero(wanted_kg_per_m2, what="--want") / trips
    return Spread(weight_kg, ground, weight_kg / ground, wanted_kg_per_m2, set_for, trips)
