"""Exact factors, each with its source.

The foot is the international one (0.3048 m exactly: 85 FR 62698, 5 October 2020, which also
ends the United States survey foot from 2023 on). An acre is 43,560 square feet, so the
international acre is exactly 4046.8564224 m2; the survey acre, 4 parts in a million larger,
is kept only so that tests can tell the two apart.
"""

from typing import Final

FT_M: Final = 0.3048  # 85 FR 62698
SURVEY_FT_M: Final = 1200 / 3937  # 39.37 in = 1 m exactly, the older definition
IN_M: Final = FT_M / 12
YD_M: Final = FT_M * 3
MI_M: Final = FT_M * 5280

ACRE_M2: Final = 4046.8564224  # 43,560 international square feet
SURVEY_ACRE_M2: Final = 43560 * SURVEY_FT_M**2
HECTARE_M2: Final = 10_000.0
SQFT_M2: Final = FT_M**2

GAL_M3: Final = 231 * IN_M**3  # the US gallon is 231 cubic inches (NIST Handbook 44, App. C; from memory)
QT_M3: Final = GAL_M3 / 4
PT_M3: Final = GAL_M3 / 8
CUP_M3: Final = GAL_M3 / 16
FLOZ_M3: Final = GAL_M3 / 128
TBSP_M3: Final = GAL_M3 / 256
TSP_M3: Final = GAL_M3 / 768
L_M3: Final = 1e-3

LB_KG: Final = 0.45359237  # the international pound of 1959 (NIST Handbook 44, App. C; from memory)
OZ_KG: Final = LB_KG / 16
TON_KG: Final = LB_KG * 2000

MPH_MPS: Final = MI_M / 3600
# A knot is a nautical mile per hour, and the nautical mile is 1852 m exactly (First International Extraordinary
# Hydrographic Conference, Monaco, 1929, as the SI Brochure of the BIPM has it among non-SI units).
KNOT_MPS: Final = 1852 / 3600
KMH_MPS: Final = 1 / 3.6

PSI_PA: Final = LB_KG * 9.80665 / IN_M**2  # one pound-force, at standard gravity (CGPM 1901), on a square inch
