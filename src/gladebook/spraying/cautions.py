"""What stands beside every amount of herbicide."""

from typing import Final

__all__ = ["CAUTIONS"]

CAUTIONS: Final = (
    "The label is the law. Where it differs from these figures, the label wins: check product, site, crop and rate.",
    "Never go over the label's maximum for one application or for the season; covered twice means twice the rate.",
    "Wear the protective gear the label lists, for mixing as well as for spraying.",
    "Drift: keep to the label's wind and droplet limits; stop for still air at dusk or dawn, or a garden downwind.",
    "Water: keep off ponds, ditches and wells by the label's buffer, and never let a fill hose suck back.",
    "Re-entry: keep people and pets out until the label's time has passed.",
    "Some products may be used by a licensed applicator only; ask your State.",
    (
        "Slopes: a loaded tank makes a four-wheeler top-heavy and it sloshes. Keep off steep ground, do not turn "
        "across a slope, and stay within the load that the vehicle is built for."
    ),  # common practice, no source
    "Bees: keep off plants in bloom, or spray when no bee flies.",
    (
        "Rinse empty jugs three times into the tank, and lock the rest away in its own jug. Where somebody swallowed "
        "some, or "
        "has it in the eyes, ring poison control; its number stands on the label."
    ),
    "Your county extension agent knows your soil, weeds and law; this tool does not.",
)
