"""A label from the words that its user copied off it: one row of a table, every cell as people write it.

An empty cell is not known; nothing is filled in. The cells are what is kept, and they are read anew each time.
"""

from collections.abc import Callable, Mapping
from typing import Any, Final, cast, get_args

from gladebook.errors import CallError, QuantityError
from gladebook.products.forage import forage_from, forages_from
from gladebook.products.label import Label, Strength, Timing, Whose
from gladebook.products.table.all import ingredient_called
from gladebook.products.wait import Wait, wait_from
from gladebook.products.weed import WEEDS, WeedKind
from gladebook.units import Kind, Quantity, parse_quantity
from gladebook.units.temperature import celsius_from

__all__ = ["COLUMNS", "label_from"]

_RATES: Final[tuple[Kind, ...]] = ("volume per area", "weight per area", "percent of volume", "weight per volume")
_STRENGTHS: Final[tuple[Kind, ...]] = ("weight per volume", "percent of weight")
_MOST_S = 40 * 86_400.0
_MOST_HEIGHT_M = 6.0
_MOST_WIND_MPS = 20.0
_MOST_TEXT = 500

# column -> what to copy into it
COLUMNS: Final[dict[str, str]] = {
    "product": "what you call it",
    "whose": '"label" (also where empty), or "county list"',
    "source": "which label, and of when",
    "ingredient": 'active ingredient; several parted by ";"',
    "strength": 'like "2 lb ai/gal", "3 lb ae/gal" or "51 % by weight", in the order of the ingredients',
    "rate_least": 'like "6 fl oz/ac"',
    "rate_most": 'like "8 fl oz/ac"',
    "single_max": "most for one application, of product, or like 0.25 lb ai/ac",
    "season_max": "most for a season, likewise",
    "most_applications": "a season, like 2",
    "interval": 'least time between applications, like "14 days"',
    "crops": 'that the label lists, parted by ";"',
    "tolerated": "forages that are not hurt",
    "injured": "forages that are hurt",
    "kills": "kinds of weed (grass, broadleaf, sedge, woody) or weeds by name",
    "timing": "burndown; post; pre-emerge; incorporated",
    "weed_height_least": 'like "2 in"',
    "weed_height_most": 'like "6 in"',
    "stand": "stage that the crop must have",
    "adjuvant": "what must go with it",
    "rainfast": 'dry time that it needs, like "1 h"',
    "reentry": 'like "12 h"',
    "rain_needed": 'rain that must follow, like "0.5 in"',
    "rain_within": 'and how soon, like "14 days"',
    "wind_least": 'like "3 mph"',
    "wind_most": 'like "10 mph"',
    "temperature_least": 'like "45 F"',
    "temperature_most": 'like "85 F"',
    "till_wait": 'from spraying to disking, like "7 days"',
    "plant_back": 'like "clover=30 days; corn=7 days; other=9 months"',
    "graze_wait": "for livestock, as the label has it",
    "group": "number of the mode of action on the label",
    "growth_regulator": "yes or no",
    "clean_out": "what the label says of cleaning the tank",
    "notes": "anything else",
}


def label_from(cells: Mapping[str, str], *, what: str) -> Label:
    """Read one row.

    Parameters
    ----------
    cells
        Text by column; columns that are not in `COLUMNS` are passed by.
    what
        Which row, for the message.

    Raises
    ------
    CallError
        Where a cell cannot be read, or two of them contradict each other.
    """
    row = _Row(cells, what)
    name = row.text("product")
    if not name:
        raise CallError(f"{what}: has no product. Write what you call it in the column product.")
    row.what = f"{what}, {name}"
    cells_read: dict[str, Any] = {
        "whose": _whose(row),
        "source": row.text("source"),
        "most_applications": _count(row),
        "kills": _kills(row),
        "timing": _timing(row),
        "growth_regulator": _yes_no(row),
        "plant_back": _plant_back(row),
        **{name: row.rate(name) for name in ("rate_least", "rate_most", "single_max", "season_max")},
        **{name: row.wait(name) for name in ("interval", "rain_within", "till_wait", "graze_wait")},
        **{name: row.read(name, forages_from, ()) for name in ("crops", "tolerated", "injured")},
        **{name: row.text(name) for name in ("stand", "adjuvant", "group", "clean_out", "notes")},
        **{f"{name}_m": row.amount(name, "length", _MOST_HEIGHT_M) for name in _LENGTHS},
        **{f"{name}_s": row.amount(name, "time", _MOST_S) for name in ("rainfast", "reentry")},
        **{f"{name}_mps": row.amount(name, "speed", _MOST_WIND_MPS) for name in ("wind_least", "wind_most")},
        **{f"{name}_c": row.read(name, celsius_from, None) for name in ("temperature_least", "temperature_most")},
    }
    label = Label(name, _ingredients(row), **cells_read)
    _refuse_contradictions(label, what=row.what)
    return label


_LENGTHS: Final = ("weed_height_least", "weed_height_most", "rain_needed")


class _Row:
    """The cells of one row, and how each is read."""

    def __init__(self, cells: Mapping[str, str], what: str) -> None:
        self.cells, self.what = cells, what

    def text(self, column: str) -> str:
        text = " ".join((self.cells.get(column) or "").split())
        if len(text) > _MOST_TEXT:
            raise CallError(f"{self.what}: {column} is longer than {_MOST_TEXT} letters. Shorten it.")
        return text

    def read(self, column: str, reader: Callable[..., Any], empty: Any) -> Any:
        text = self.text(column)
        return reader(text, what=f"{self.what}, {column}") if text else empty

    def rate(self, column: str) -> Quantity | None:
        def reader(text: str, *, what: str) -> Quantity:
            found = parse_quantity(text, kind=_RATES, what=what)
            if found.si <= 0:
                raise CallError(f'{what}: "{text}" must be above zero.')
            if found.basis and column.startswith("rate"):
                raise CallError(f'{what}: "{text}" counts the ingredient. Give the rate of the product.')
            return found

        return cast("Quantity | None", self.read(column, reader, None))

    def wait(self, column: str) -> Wait | None:
        return cast("Wait | None", self.read(column, wait_from, None))

    def amount(self, column: str, kind: Kind, most: float) -> float | None:
        def reader(text: str, *, what: str) -> float:
            found = parse_quantity(text, kind=kind, what=what).si
            if not 0 <= found <= most:
                raise CallError(f'{what}: "{text}" cannot be. Check figure and unit.')
            return found

        return cast("float | None", self.read(column, reader, None))


def _whose(row: _Row) -> Whose:
    text = row.text("whose").lower() or "label"
    if text not in get_args(Whose):
        raise CallError(f'{row.what}: whose is "{text[:40]}"; write "label" or "county list".')
    return cast("Whose", text)


def _ingredients(row: _Row) -> tuple[Strength, ...]:
    names = [part.strip() for part in row.text("ingredient").split(";") if part.strip()]
    if not names:
        raise CallError(f"{row.what}: has no active ingredient. It stands on the front of the label.")
    texts = [part.strip() for part in row.text("strength").split(";")] if row.text("strength") else []
    if texts and len(texts) != len(names):
        raise CallError(f"{row.what}: {len(names)} ingredients and {len(texts)} strengths. Give one for each.")
    found = []
    for name, text in zip(names, texts or [""] * len(names), strict=True):
        strength = parse_quantity(text, kind=_STRENGTHS, what=f"{row.what}, strength") if text else None
        if strength is not None:
            _refuse_strength(strength, what=f"{row.what}, strength")
        known = ingredient_called(name)
        found.append(Strength(name.lower() if known is None else known.name, strength))
    return tuple(found)


def _refuse_strength(strength: Quantity, *, what: str) -> None:
    if strength.kind == "weight per volume" and not strength.basis:
        raise CallError(
            f'{what}: {strength} does not say of what. Write "lb ai/gal" for active ingredient, "lb ae/gal" for acid '
            'equivalent, "lb salt/gal" for salt.'
        )
    over = (
        strength.si > 1 if strength.kind == "percent of weight" else strength.si > 2000
    )  # kg per m3: heavier than any
    if strength.si <= 0 or over:
        raise CallError(f"{what}: {strength} cannot be. Check figure and unit.")


def _count(row: _Row) -> int | None:
    text = row.text("most_applications")
    if not text:
        return None
    if not text.isascii() or not text.isdigit() or not 1 <= int(text[:4]) <= 99:
        raise CallError(f'{row.what}: most_applications is "{text[:40]}"; write a whole number like 2.')
    return int(text)


def _kills(row: _Row) -> tuple[str, ...]:
    found = tuple(part.strip().lower() for part in row.text("kills").replace(",", ";").split(";") if part.strip())
    for part in found:
        if part not in get_args(WeedKind) and part not in WEEDS:
            raise CallError(
                f'{row.what}: kills has "{part[:40]}"; write grass, broadleaf, sedge, woody, or a weed that is '
                f"known here."
            )
    return found


def _timing(row: _Row) -> tuple[Timing, ...]:
    found = tuple(part.strip().lower() for part in row.text("timing").replace(",", ";").split(";") if part.strip())
    for part in found:
        if part not in get_args(Timing):
            raise CallError(f'{row.what}: timing has "{part[:40]}"; write {", ".join(get_args(Timing))}.')
    return cast("tuple[Timing, ...]", found)


def _yes_no(row: _Row) -> bool | None:
    text = row.text("growth_regulator").lower()
    if text not in ("", "yes", "no"):
        raise CallError(f'{row.what}: growth_regulator is "{text[:40]}"; write yes or no.')
    return {"yes": True, "no": False}.get(text)


def _plant_back(row: _Row) -> dict[str, Wait]:
    found: dict[str, Wait] = {}
    for part in row.text("plant_back").split(";"):
        if not part.strip():
            continue
        crop, equals, text = part.partition("=")
        if not equals:
            raise CallError(f'{row.what}: plant_back has "{part.strip()[:40]}"; write it like "clover=30 days".')
        crop = " ".join(crop.lower().split())
        name = crop if crop == "other" else forage_from(crop, what=f"{row.what}, plant_back").name
        found[name] = wait_from(text, what=f"{row.what}, plant_back of {name}")
    return found


def _refuse_contradictions(label: Label, *, what: str) -> None:
    pairs = (
        ("rate", label.rate_least, label.rate_most),
        ("wind", label.wind_least_mps, label.wind_most_mps),
        ("temperature", label.temperature_least_c, label.temperature_most_c),
        ("weed_height", label.weed_height_least_m, label.weed_height_most_m),
    )
    for name, least, most in pairs:
        if least is None or most is None:
            continue
        low, high = (v.si if isinstance(v, Quantity) else v for v in (least, most))
        if isinstance(least, Quantity) and isinstance(most, Quantity) and least.kind != most.kind:
            raise QuantityError(f"{what}: {name}_least {least} and {name}_most {most} are not of one kind.")
        if low > high * (1 + 1e-9) if high > 0 else low > high:
            raise CallError(f"{what}: {name}_least is more than {name}_most. Check both on the label.")
    top, single = label.rate_most, label.single_max
    alike = top is not None and single is not None and (top.kind, top.basis) == (single.kind, single.basis)
    if alike and top is not None and single is not None and top.si > single.si * (1 + 1e-9):
        raise CallError(f"{what}: rate_most {top} is over single_max {single}. Check both on the label.")
    both = set(label.tolerated) & set(label.injured)
    if both:
        raise CallError(f"{what}: {', '.join(f.name for f in both)} stands under tolerated and under injured.")
