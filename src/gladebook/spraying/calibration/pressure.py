"""Pressure and flow of a hydraulic nozzle: flow goes with the square root of pressure.

Oklahoma State Univ. Ext., Calibrating a Low-Pressure Ground Sprayer: Boom-Mounted Nozzles: to double the flow, pressure
must be four times as high. The tip maker's own chart wins; fan and droplets change with pressure as well.
"""

import math

from gladebook.spraying.calibration.amounts import above_zero
from gladebook.units.factors import PSI_PA

__all__ = ["flow_at", "pressure_for"]

_MOST_PA, _MOST_WORDS = 1000 * PSI_PA, "1,000 psi"


def flow_at(flow_m3_per_s: float, *, pressure_pa: float, now_pa: float) -> float:
    """Flow at another pressure, m3/s: flow x sqrt(new pressure / old pressure).

    Raises
    ------
    CallError
        Where one of them is not above zero, or a pressure over 1,000 psi.
    """
    above_zero(flow_m3_per_s, what="--flow")
    for pressure, what in ((pressure_pa, "--pressure"), (now_pa, "--at")):
        above_zero(pressure, what=what, most=_MOST_PA, most_words=_MOST_WORDS)
    return flow_m3_per_s * math.sqrt(now_pa / pressure_pa)


def pressure_for(wanted_m3_per_s: float, *, flow_m3_per_s: float, pressure_pa: float) -> float:
    """Pressure that gives a wanted flow, Pa: pressure x (wanted / flow) squared.

    Raises
    ------
    CallError
        Where one of them is not above zero, or the pressure is over 1,000 psi.
    """
    above_zero(wanted_m3_per_s, what="--want")
    above_zero(flow_m3_per_s, what="--flow")
    above_zero(pressure_pa, what="--pressure", most=_MOST_PA, most_words=_MOST_WORDS)
    needed = pressure_pa * (wanted_m3_per_s / flow_m3_per_s) ** 2
    return above_zero(needed, what="the pressure that this takes", most=_MOST_PA, most_words=_MOST_WORDS)
