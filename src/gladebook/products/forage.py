"""What is grown for deer, and of which family it is, as labels speak of families as well as of crops."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, get_args

from gladebook.errors import CallError

__all__ = ["FORAGES", "Family", "Forage", "forage_from", "forages_from", "same_crop"]

Family = Literal[
    "clover", "alfalfa", "small grain", "ryegrass", "corn", "sorghum and millet", "pea", "vigna bean", "soybean",
    "other legume", "brassica", "other broadleaf",
]  # fmt: skip
FAMILIES: Final[tuple[Family, ...]] = get_args(Family)
_LEGUMES: Final = {"clover", "alfalfa", "pea", "vigna bean", "soybean", "other legume"}
_GRASSES: Final = {"small grain", "ryegrass", "corn", "sorghum and millet"}


@dataclass(frozen=True)
class Forage:
    """A plant that is grown for deer.

    Attributes
    ----------
    name : as growers call it.
    family : as labels group it.
    """

    name: str
    family: Family

    @property
    def legume(self) -> bool:
        """Whether it is a legume, which growth regulators injure."""
        return self.family in _LEGUMES

    @property
    def grass(self) -> bool:
        """Whether it is a grass, which a grass-selective spray takes out."""
        return self.family in _GRASSES


# Botanical families as any flora has them; from memory. Southern pea is a Vigna bean for labels, not a pea: Univ. of
# Florida IFAS, EDIS HS188, as the reference tables quote it.
_BY_FAMILY: Final[dict[Family, tuple[str, ...]]] = {
    "clover": ("clover", "white clover", "ladino clover", "red clover", "crimson clover", "arrowleaf clover",
               "berseem clover", "subterranean clover", "balansa clover"),
    "alfalfa": ("alfalfa",),
    "small grain": ("oat", "wheat", "rye", "barley", "triticale", "small grain"),
    "ryegrass": ("annual ryegrass",),
    "corn": ("corn",),
    "sorghum and millet": ("grain sorghum", "millet"),
    "pea": ("pea", "winter pea"),
    "vigna bean": ("cowpea",),
    "soybean": ("soybean",),
    "other legume": ("vetch", "lablab", "jointvetch", "alyceclover", "birdsfoot trefoil", "sunn hemp", "lespedeza"),
    "brassica": ("brassica", "rape", "kale", "turnip", "radish"),
    "other broadleaf": ("chicory", "buckwheat", "sunflower", "chufa"),
}  # fmt: skip
# Other words for the same plant.
_SPELLINGS: Final = {
    "clovers": "clover", "oats": "oat", "ladino": "ladino clover", "crimson": "crimson clover",
    "arrowleaf": "arrowleaf clover", "cowpeas": "cowpea", "southern pea": "cowpea", "southern peas": "cowpea",
    "soybeans": "soybean", "soya": "soybean",
    "cereal rye": "rye", "winter wheat": "wheat", "cereal": "small grain", "cereals": "small grain",
    "small grains": "small grain", "cereal grain": "small grain", "winter peas": "winter pea",
    "field pea": "pea", "peas": "pea", "austrian winter pea": "winter pea", "turnips": "turnip",
    "radishes": "radish", "brassicas": "brassica", "canola": "rape",
    "sorghum": "grain sorghum", "milo": "grain sorghum",
    "ryegrass": "annual ryegrass", "lucerne": "alfalfa", "trefoil": "birdsfoot trefoil", "sunflowers": "sunflower",
    "vetches": "vetch", "american jointvetch": "jointvetch", "millets": "millet", "sub clover": "subterranean clover",
}  # fmt: skip
FORAGES: Final = {name: Forage(name, family) for family, names in _BY_FAMILY.items() for name in names}
_OWN: Final = re.compile(r"(?P<name>[^()]+)\((?P<family>[^()]+)\)\s*$")


def forage_from(text: str, *, what: str = "--forage") -> Forage:
    """The forage of a name; of one that is not known here, with its family: ``sainfoin (other legume)``.

    Raises
    ------
    CallError
        Where it is not known and no family is said.
    """
    plain = " ".join(text.lower().split())
    own = _OWN.match(plain)
    if own is not None and own["family"].strip() in FAMILIES:
        return Forage(own["name"].strip(), own["family"].strip())  # type: ignore[arg-type]  # it is one of them
    found = FORAGES.get(_SPELLINGS.get(plain, plain))
    if found is None:
        raise CallError(
            f'{what}: "{text.strip()[:40]}" is no forage that is known here. Known are {", ".join(FORAGES)}. For '
            f'another say its family, like "{(own["name"].strip() if own else plain)[:30] or "sainfoin"} (other '
            f'legume)"; families are {", ".join(FAMILIES)}.'
        )
    return found


def forages_from(text: str, *, what: str = "--forage") -> tuple[Forage, ...]:
    """The forages of a mix from a list: ``white clover, oat``; ``+``, ``and`` and semicolons part them as well.

    Raises
    ------
    CallError
        Where one of them is not known, or there is none.
    """
    parts = [part for part in re.split(r"\s*[,;+&]\s*|\s+and\s+(?!millet)", text.strip()) if part]
    if not parts:
        raise CallError(f'{what}: names no forage; write it like "white clover, oat".')
    return tuple(dict.fromkeys(forage_from(part, what=what) for part in parts))


def same_crop(listed: Sequence[Forage], forage: Forage) -> bool:
    """Whether a list names a forage, or the word for its whole family, such as ``clover`` or ``small grain``."""
    whole = {"clover", "small grain", "brassica"}
    return any(f == forage or (f.family == forage.family and f.name in whole) for f in listed)
