"""The publications that the table was filled from; none was read as a whole, only where the table quotes it."""

from typing import Final

from gladebook.products.ingredient import Region, Source

__all__ = [
    "BEAN_TRIALS",
    "CORNELL",
    "FL_TRIAL",
    "IL_BULLETIN",
    "IPM_WEST",
    "MISSISSIPPI",
    "NDSU_GAP",
    "NDSU_GRASS",
    "NEBRASKA",
    "PENN",
    "RESISTS",
    "RYEGRASS",
    "TEXAS",
    "facts",
    "north_west",
]

_PNW: Final = "Pacific Northwest Weed Management Handbook (Oregon State, Washington State, Univ. of Idaho)"

MISSISSIPPI: Final = Source(
    "Mississippi Dept. of Wildlife, Fisheries and Parks, Herbicides for food plots", "south-east"
)
CORNELL: Final = Source("Cornell Univ., field crops pages", "north-east")
IPM_WEST: Final = Source("Univ. of California IPM, alfalfa treatment table", "west")
NDSU_GRASS: Final = Source("North Dakota State Univ., Carrington crop alert, 2000", "north-central")
NDSU_GAP: Final = Source("North Dakota State Univ. Extension, 2016", "north-central")
IL_BULLETIN: Final = Source("Univ. of Illinois, Bulletin, 6 April 2012", "north-central")
PENN: Final = Source("Penn State Univ. article", "north-east", "reprint read")
RYEGRASS: Final = Source("Univ. of Georgia, Annual Ryegrass", "south-east", "reprint read")
RESISTS: Final = Source("GROW integrated weed management network, annual ryegrass, 2025", "south-east")
NEBRASKA: Final = Source(
    "Univ. of Nebraska-Lincoln, CropWatch, Removing Dicamba Residues from Your Sprayer", "anywhere"
)
TEXAS: Final = Source(
    "Texas Agricultural Experiment Station, Henbit control and forage legume tolerance, Crop Protection, 1996",
    "south-central",
)
FL_TRIAL: Final = Source("Weed Technology, 2023, sweet corn on organic soil in Florida", "south-east")
BEAN_TRIALS: Final = Source("American Journal of Plant Sciences, 2012, doi 10.4236/ajps.2012.37102", "north-central")


def north_west(page: str) -> Source:
    """A page of the north-western handbook, for its rates and crops."""
    return Source(f"{_PNW}, {page}", "north-west")


def facts(page: str) -> Source:
    """The same handbook for what holds of the chemical anywhere, such as its mode of action."""
    region: Region = "anywhere"
    return Source(f"{_PNW}, {page}", region)
