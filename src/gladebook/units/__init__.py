"""Exact factors with their sources, and amounts that know their unit."""

from gladebook.units.factors import ACRE_M2, FT_M, GAL_M3, IN_M, LB_KG, MI_M, MPH_MPS
from gladebook.units.quantity import Basis, Kind, Quantity, amount_in, parse_quantity

__all__ = [
    "ACRE_M2",
    "FT_M",
    "GAL_M3",
    "IN_M",
    "LB_KG",
    "MI_M",
    "MPH_MPS",
    "Basis",
    "Kind",
    "Quantity",
    "amount_in",
    "parse_quantity",
]
