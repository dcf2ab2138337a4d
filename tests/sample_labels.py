"""Labels and weather of the sample property: jugs of nobody, with figures that are printed somewhere, or left empty.

No figure is from a label. Each row says where its figures were printed; what was read nowhere stays empty.
"""

import csv
import io

from gladebook.products.label_text import COLUMNS

__all__ = ["LABELS", "WEATHER", "labels_csv"]

_SAMPLE = "sample, no label: figures as printed"
LABELS: list[dict[str, str]] = [
    {
        "product": "Grass jug",
        "source": f"{_SAMPLE} for brassicas and cucurbits in the Pacific Northwest; grass height for another "
        f"ingredient",
        "ingredient": "clethodim",
        "strength": "2 lb ai/gal",
        "rate_least": "6 fl oz/ac",
        "rate_most": "8 fl oz/ac",
        "season_max": "0.5 lb ai/ac",
        "most_applications": "4",
        "tolerated": "clover; cowpea; jointvetch",
        "injured": "small grain",
        "kills": "grass",
        "timing": "post",
        "weed_height_least": "2 in",
        "weed_height_most": "6 in",
        "adjuvant": "crop oil 1 %",
        "rainfast": "1 h",
        "plant_back": "corn=30 days; small grain=30 days",
        "group": "1",
    },
    {
        "product": "Burndown jug",
        "source": f"{_SAMPLE} for wheat in the Pacific Northwest; re-entry for alfalfa in California",
        "ingredient": "glyphosate",
        "strength": "3 lb ae/gal",
        "rate_least": "1 pt/ac",
        "rate_most": "2 pt/ac",
        "kills": "grass; broadleaf; sedge; woody",
        "timing": "burndown",
        "reentry": "4 h",
    },
    {
        "product": "Clover broadleaf jug",
        "source": f"{_SAMPLE} for clover in Mississippi and alfalfa in the Pacific Northwest; re-entry in California",
        "ingredient": "2,4-DB",
        "strength": "2 lb ae/gal",
        "rate_least": "1 qt/ac",
        "rate_most": "3 qt/ac",
        "tolerated": "clover; alfalfa",
        "kills": "broadleaf",
        "timing": "post",
        "weed_height_most": "3 in",
        "reentry": "48 h",
    },
    {
        "product": "Pasture jug",
        "source": f"{_SAMPLE} for cereals in Mississippi; plant-back in Pennsylvania",
        "ingredient": "2,4-D",
        "rate_most": "1 qt/ac",
        "injured": "clover; alfalfa; cowpea; soybean",
        "kills": "broadleaf",
        "timing": "post",
        "plant_back": "other=30 days",
        "group": "4",
    },
]

# An invented December day.
WEATHER = """time,wind_mph,gust_mph,temperature_f,humidity_pct,rain_in,sky
2026-12-03T06:00,2,3,38,92,0,clear
2026-12-03T09:00,4,6,47,78,0,clear
2026-12-03T12:00,6,8,58,60,0,clear
2026-12-03T15:00,5,8,61,55,0,cloudy
2026-12-03T18:00,2,4,52,70,0,cloudy
2026-12-03T21:00,3,6,50,88,0.2,cloudy
2026-12-04T00:00,5,9,49,95,0.3,cloudy
"""


def labels_csv() -> str:
    """The sheet, with all columns."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n", restval="")
    writer.writeheader()
    writer.writerows(LABELS)
    return out.getvalue()
