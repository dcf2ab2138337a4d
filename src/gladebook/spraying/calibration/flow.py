"""Flow, speed, width and gallons per acre: any three give the fourth.

A nozzle that travels at a speed and serves a width covers speed x width of ground each second, so
volume per area = flow / (speed x width). In field units that is gal/ac = 5940 x gal/min / (mph x in), and 495 with feet
(Univ. of Florida IFAS, Calibration of Herbicide Applicators, EDIS WG013, Eq. 1; Mesa County, Colorado, Stationary
calibration method). 5940 and 495 are exact: 43,560 / (88 / 12) and 43,560 / 88.
"""

from dataclasses import dataclass
from typing import Final

from gladebook.errors import CallError
from gladebook.spraying.calibration.amounts import above_zero
from gladebook.units import FT_M, GAL_M3, MPH_MPS

__all__ = ["OFF_SHARE", "Output", "difference_from", "output_of", "rate_at_speed"]

OFF_SHARE: Final = 0.05  # adjust where actual gallons per acre are further off (Ohio State Univ. Ext.; reprint read)
_MOST_MPS, _MOST_M, _MOST_FLOW = 30 * MPH_MPS, 200 * FT_M, 100 * GAL_M3 / 60
_MOST_RATE_M = 0.1  # a tenth of a metre of water


@dataclass(frozen=True)
class Output:
    """What one nozzle, or a boomless one, puts out.

    Attributes
    ----------
    flow_m3_per_s : of all nozzles that serve the width, m3/s.
    speed_mps : m/s.
    width_m : nozzle spacing, or effective swath, m.
    rate_m : volume per area, m3 per m2.
    answered : which of the four was worked out.
    """

    flow_m3_per_s: float
    speed_mps: float
    width_m: float
    rate_m: float
    answered: str


def output_of(
    *,
    flow_m3_per_s: float | None = None,
    speed_mps: float | None = None,
    width_m: float | None = None,
    rate_m: float | None = None,
) -> Output:
    """Work out the one of four that is not given: rate = flow / (speed x width).

    Parameters
    ----------
    flow_m3_per_s
        Flow of the nozzle or nozzles that serve `width_m`, m3/s.
    speed_mps
        Ground speed, m/s.
    width_m
        Spacing of nozzles, or effective swath, m.
    rate_m
        Volume per area, m3 per m2.

    Raises
    ------
    CallError
        Where not exactly three are given, or one makes no sense.
    """
    given = {"flow": flow_m3_per_s, "speed": speed_mps, "width": width_m, "gallons per acre": rate_m}
    missing = [name for name, value in given.items() if value is None]
    if len(missing) != 1:
        raise CallError("Give three of flow, speed, width and gallons per acre; the fourth is worked out.")
    limits = {
        "flow": (_MOST_FLOW, "100 gal/min"),
        "speed": (_MOST_MPS, "30 mph"),
        "width": (_MOST_M, "200 ft"),
        "gallons per acre": (_MOST_RATE_M, "100,000 gal/ac"),
    }
    known = {
        name: above_zero(value, what=name, most=limits[name][0], most_words=limits[name][1])
        for name, value in given.items()
        if value is not None
    }
    flow, speed = known.get("flow", 0.0), known.get("speed", 0.0)
    width, rate = known.get("width", 0.0), known.get("gallons per acre", 0.0)
    match missing[0]:
        case "flow":
            flow = rate * speed * width
        case "speed":
            speed = flow / (rate * width)
        case "width":
            width = flow / (rate * speed)
        case _:
            rate = flow / (speed * width)
    return Output(flow, speed, width, rate, missing[0])


def rate_at_speed(rate_m: float, *, speed_mps: float, now_mps: float) -> float:
    """Volume per area at another speed and the same pressure: it goes with 1 / speed, as the flow stays.

    Raises
    ------
    CallError
        Where one of them is not above zero.
    """
    above_zero(rate_m, what="gallons per acre")
    return rate_m * above_zero(speed_mps, what="speed") / above_zero(now_mps, what="speed")


def difference_from(actual_m: float, *, wanted_m: float) -> tuple[float, bool]:
    """How far actual volume per area is from the wanted, as a share of it, and whether to adjust (over 5 %).

    Raises
    ------
    CallError
        Where one of them is not above zero.
    """
    share = above_zero(actual_m, what="gallons per acre") / above_zero(wanted_m, what="wanted gallons per acre") - 1
    return share, abs(share) > OFF_SHARE + 1e-9
