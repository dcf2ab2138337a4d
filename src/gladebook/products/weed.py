"""Weeds: what kind of plant each is and how long it lives, which is what decides what kills it."""

import re
from dataclasses import dataclass
from typing import Final, Literal, get_args

from gladebook.errors import CallError

__all__ = ["WEEDS", "Life", "Weed", "WeedKind", "weed_from"]

WeedKind = Literal["grass", "broadleaf", "sedge", "woody"]
Life = Literal["winter annual", "summer annual", "annual", "biennial", "perennial"]
_LIVES: Final[tuple[Life, ...]] = get_args(Life)


@dataclass(frozen=True)
class Weed:
    """A weed.

    Attributes
    ----------
    name : as growers call it.
    kind : grass, broadleaf, sedge or woody.
    life : how long it lives, and in which season.
    """

    name: str
    kind: WeedKind
    life: Life

    @property
    def annual(self) -> bool:
        """Whether it lives for one season."""
        return self.life.endswith("annual")


# Kind and life as any flora of the South-east has them; from memory, but for annual ryegrass, a winter annual: Univ. of
# Georgia, Annual Ryegrass (reprint read).
_ALL: Final[tuple[Weed, ...]] = (
    Weed("annual ryegrass", "grass", "winter annual"),
    Weed("annual bluegrass", "grass", "winter annual"),
    Weed("volunteer cereal", "grass", "winter annual"),
    Weed("cheat", "grass", "winter annual"),
    Weed("crabgrass", "grass", "summer annual"),
    Weed("goosegrass", "grass", "summer annual"),
    Weed("foxtail", "grass", "summer annual"),
    Weed("broadleaf signalgrass", "grass", "summer annual"),
    Weed("fall panicum", "grass", "summer annual"),
    Weed("johnsongrass", "grass", "perennial"),
    Weed("bermudagrass", "grass", "perennial"),
    Weed("bahiagrass", "grass", "perennial"),
    Weed("tall fescue", "grass", "perennial"),
    Weed("nutsedge", "sedge", "perennial"),
    Weed("henbit", "broadleaf", "winter annual"),
    Weed("chickweed", "broadleaf", "winter annual"),
    Weed("wild mustard", "broadleaf", "winter annual"),
    Weed("wild radish", "broadleaf", "winter annual"),
    Weed("pigweed", "broadleaf", "summer annual"),
    Weed("sicklepod", "broadleaf", "summer annual"),
    Weed("ragweed", "broadleaf", "summer annual"),
    Weed("lambsquarters", "broadleaf", "summer annual"),
    Weed("smartweed", "broadleaf", "summer annual"),
    Weed("knotweed", "broadleaf", "summer annual"),
    Weed("morningglory", "broadleaf", "summer annual"),
    Weed("thistle", "broadleaf", "biennial"),
    Weed("dock", "broadleaf", "perennial"),
    Weed("dogfennel", "broadleaf", "perennial"),
    Weed("horsenettle", "broadleaf", "perennial"),
    Weed("blackberry", "woody", "perennial"),
    Weed("sweetgum sprouts", "woody", "perennial"),
)
_SPELLINGS: Final = {
    "ryegrass": "annual ryegrass", "italian ryegrass": "annual ryegrass", "poa annua": "annual bluegrass",
    "bluegrass": "annual bluegrass", "johnson grass": "johnsongrass", "bermuda": "bermudagrass",
    "bermuda grass": "bermudagrass", "yellow nutsedge": "nutsedge", "purple nutsedge": "nutsedge",
    "giant foxtail": "foxtail", "green foxtail": "foxtail", "yellow foxtail": "foxtail", "palmer amaranth": "pigweed",
    "common ragweed": "ragweed", "common chickweed": "chickweed", "sweetgum": "sweetgum sprouts",
    "fescue": "tall fescue", "signalgrass": "broadleaf signalgrass", "brambles": "blackberry",
    "common lambsquarters": "lambsquarters",
    "volunteer wheat": "volunteer cereal", "volunteer oats": "volunteer cereal",
}  # fmt: skip
WEEDS: Final = {weed.name: weed for weed in _ALL}
_OWN: Final = re.compile(
    r"(?P<name>[^()]+)\(\s*(?P<life>winter annual|summer annual|annual|biennial|perennial)\s+"
    r"(?P<kind>grass|broadleaf|sedge|woody)\s*\)\s*$"
)


def weed_from(text: str, *, what: str = "--weed") -> Weed:
    """The weed of a name; of one that is not known here, with life and kind: ``carpetgrass (perennial grass)``.

    Raises
    ------
    CallError
        Where it is not known, and its life and kind are not said.
    """
    plain = " ".join(text.lower().split())
    own = _OWN.match(plain)
    if own is not None:
        return Weed(own["name"].strip(), own["kind"], own["life"])  # type: ignore[arg-type]  # the pattern has them
    found = WEEDS.get(_SPELLINGS.get(plain, plain))
    if found is None:
        raise CallError(
            f'{what}: "{text.strip()[:40]}" is no weed that is known here. Known are {", ".join(WEEDS)}. For another '
            f'say how long it lives and its kind, like "carpetgrass (perennial grass)": {", ".join(_LIVES)}; grass, '
            "broadleaf, sedge or woody."
        )
    return found
