"""Read amounts as people write them, and never mix their kinds.

``16 fl oz/ac`` is a volume per area, ``2 dry oz/ac`` a weight per area: the two cannot stand in
for each other, nor can acid equivalent for salt. An amount without a unit is asked back, never
guessed; so is a bare ``oz`` where a liquid may stand as well as a dry product.
"""

import math
import re
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final, Literal, cast

from gladebook.errors import QuantityError
from gladebook.units import factors as f

__all__ = ["Basis", "Kind", "Quantity", "amount_in", "parse_quantity"]

Basis = Literal["", "ai", "ae", "salt"]

Kind = Literal[
    "length",
    "area",
    "volume",
    "weight",
    "speed",
    "time",
    "volume per area",
    "weight per area",
    "percent of volume",
    "weight per volume",
    "percent of weight",
    "pressure",
    "volume per time",
]

# canonical name -> (kind, SI factor, other spellings); matched without regard to case
_UNITS: Final[dict[str, tuple[Kind, float, tuple[str, ...]]]] = {
    "ft": ("length", f.FT_M, ("foot", "feet", "'", "′")),
    "in": ("length", f.IN_M, ("inch", "inches", '"', "″")),
    "yd": ("length", f.YD_M, ("yard", "yards", "yds")),
    "mi": ("length", f.MI_M, ("mile", "miles")),
    "m": ("length", 1.0, ("meter", "meters", "metre", "metres")),
    "cm": ("length", 0.01, ("centimeter", "centimeters", "centimetre", "centimetres")),
    "ac": ("area", f.ACRE_M2, ("acre", "acres", "a")),
    "ha": ("area", f.HECTARE_M2, ("hectare", "hectares")),
    "sq ft": ("area", f.SQFT_M2, ("ft2", "ft²", "square foot", "square feet", "sqft")),
    "m2": ("area", 1.0, ("m²", "sq m", "square meter", "square meters", "square metres")),
    "gal": ("volume", f.GAL_M3, ("gallon", "gallons", "gals")),
    "qt": ("volume", f.QT_M3, ("quart", "quarts", "qts")),
    "pt": ("volume", f.PT_M3, ("pint", "pints", "pts")),
    "cup": ("volume", f.CUP_M3, ("cups",)),
    "fl oz": ("volume", f.FLOZ_M3, ("fluid ounce", "fluid ounces", "floz", "fl. oz", "fl. oz.", "fl oz.")),
    "tbsp": ("volume", f.TBSP_M3, ("tablespoon", "tablespoons")),
    "tsp": ("volume", f.TSP_M3, ("teaspoon", "teaspoons")),
    "L": ("volume", f.L_M3, ("l", "liter", "liters", "litre", "litres")),
    "mL": ("volume", f.L_M3 / 1000, ("ml", "milliliter", "milliliters", "millilitre", "millilitres")),
    "lb": ("weight", f.LB_KG, ("lbs", "pound", "pounds", "lb.", "lbs.")),
    "oz": ("weight", f.OZ_KG, ("ounce", "ounces", "oz.")),
    "dry oz": ("weight", f.OZ_KG, ("dry ounce", "dry ounces", "oz weight", "oz by weight", "oz wt", "oz dry")),
    "ton": ("weight", f.TON_KG, ("tons", "short ton", "short tons")),
    "kg": ("weight", 1.0, ("kilogram", "kilograms")),
    "g": ("weight", 1e-3, ("gram", "grams")),
    "mph": ("speed", f.MPH_MPS, ("mi/h", "miles per hour")),
    "km/h": ("speed", f.KMH_MPS, ("kmh", "kph", "km per hour")),
    "kn": ("speed", f.KNOT_MPS, ("kt", "kts", "knot", "knots")),
    "m/s": ("speed", 1.0, ("mps", "m per s", "meters per second")),
    "s": ("time", 1.0, ("sec", "secs", "second", "seconds")),
    "min": ("time", 60.0, ("mins", "minute", "minutes")),
    "h": ("time", 3600.0, ("hr", "hrs", "hour", "hours")),
    "psi": ("pressure", f.PSI_PA, ("lb/in2", "lb/sq in", "pounds per square inch")),
    "kPa": ("pressure", 1000.0, ("kilopascal", "kilopascals")),
    "bar": ("pressure", 1e5, ("bars",)),
}
_BY_SPELLING: Final = {
    spelling.lower(): name for name, (_, _, others) in _UNITS.items() for spelling in (name, *others)
}

_EXAMPLES: Final[dict[Kind, str]] = {
    "length": "12 ft",
    "area": "2.3 ac",
    "volume": "25 gal",
    "weight": "10 lb",
    "speed": "4 mph",
    "time": "10 s",
    "volume per area": "15 gal/ac",
    "weight per area": "50 lb/ac",
    "percent of volume": "1 %",
    "weight per volume": "17 lb/100 gal",
    "percent of weight": "51 % by weight",
    "pressure": "40 psi",
    "volume per time": "0.4 gal/min",
}
# What a weight of an ingredient counts: without these words it is the weight of a product.
_BASIS: Final = re.compile(r"(?<=[a-z.])\s+(?P<basis>ai|a\.i\.?|ae|a\.e\.?|salt)(?=\s|/|$)")

# 12, 12.5, .5, 1/2, 1 1/2, 1-1/2
_NUMBER: Final = re.compile(
    r"""\s*(?P<number>
        [+-]?\d+\s*[-\s]\s*\d+\s*/\s*\d+
      | [+-]?\d+\s*/\s*\d+
      | [+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?
    )(?!\d)\s*(?P<unit>.*?)\s*$""",
    re.VERBOSE | re.IGNORECASE | re.DOTALL,
)
_LONGEST_TEXT: Final = 80


@dataclass(frozen=True)
class Quantity:
    """An amount as it was written, with its SI value.

    Attributes
    ----------
    value : the number as written, in `unit`.
    unit : the canonical unit, such as ``"fl oz/ac"``.
    kind : what is measured.
    si : the same amount in m, m2, m3, kg, m/s, s, Pa, m3/s, m3 per m2, kg per m2, a fraction, or kg per m3.
    basis : what a weight counts: active ingredient, acid equivalent, salt; empty for a product as it is.
    """

    value: float
    unit: str
    kind: Kind
    si: float
    basis: Basis = ""

    @property
    def amount_unit(self) -> str:
        """The unit of what is poured or weighed: ``fl oz`` for ``fl oz/ac``."""
        return self.unit.split("/")[0]

    def __add__(self, other: "Quantity") -> "Quantity":
        """The sum, in the unit of the first; only of what is of one kind and counts the same."""
        if (self.kind, self.basis) != (other.kind, other.basis):
            raise QuantityError(
                f"{self} and {other} cannot be added: the first is a {_kind_words(self)}, the second a "
                f"{_kind_words(other)}."
            )
        si = self.si + other.si
        return replace(self, value=si / _unit(self.unit)[2], si=si)

    def __str__(self) -> str:
        return f"{repr(self.value).removesuffix('.0')} {self.unit}"


def parse_quantity(text: str, *, kind: Kind | tuple[Kind, ...], what: str = "this amount") -> Quantity:
    """Read one amount such as ``12 ft``, ``1-1/2 pt/ac``, ``0.25 %`` or ``17 lb/100 gal``.

    Parameters
    ----------
    text
        A number and its unit. A decimal point, never a comma.
    kind
        The kind, or kinds, that may stand here.
    what
        What the amount is, for the message, such as ``--boom``.

    Raises
    ------
    QuantityError
        Where the number, the unit or the kind is not what is needed here.
    """
    kinds = kind if isinstance(kind, tuple) else (kind,)
    wanted = " or ".join(f'"{_EXAMPLES[k]}"' for k in kinds)
    shown = text if len(text) <= _LONGEST_TEXT else text[:_LONGEST_TEXT] + "..."
    match = _NUMBER.match(text) if len(text) <= _LONGEST_TEXT else None
    if match is None:
        raise QuantityError(f'{what}: "{shown}" does not start with a number; write it like {wanted}.')
    unit_text = match["unit"]
    if unit_text.startswith(","):
        raise QuantityError(f'{what}: "{shown}" has a comma; write 1500 or 1.5, with a unit, like {wanted}.')
    if not unit_text:
        raise QuantityError(f'{what}: "{shown}" has no unit; write it like {wanted}.')
    value = _number(match["number"], what=what, shown=shown)
    try:
        unit, found, factor, basis = _unit(unit_text)
    except LookupError as error:
        raise QuantityError(f'{what}: "{shown}" {error.args[0]}; write it like {wanted}.') from None
    _ask_back(unit, kinds=kinds, what=what, shown=shown)
    if found not in kinds:
        hint = ""
        if unit.split("/")[0] == "oz" and any(k.startswith("volume") for k in kinds):
            hint = ' ("oz" alone is a weight; a liquid is measured in "fl oz")'
        raise QuantityError(f'{what}: "{shown}" is a {found}{hint}; here it takes {wanted}.')
    if not math.isfinite(value * factor):
        raise QuantityError(f'{what}: "{shown}" is too large; write it like {wanted}.')
    return Quantity(value=value, unit=unit, kind=found, si=value * factor, basis=basis)


def amount_in(si: float, *, unit: str) -> float:
    """Turn an SI amount into a unit such as ``fl oz``, ``lb``, ``ft``, ``gal/ac`` or ``lb ae/ac``."""
    return si / (_UNITS[unit][1] if unit in _UNITS else _unit(unit)[2])


def _ask_back(unit: str, *, kinds: tuple[Kind, ...], what: str, shown: str) -> None:
    """Refuse ounces where they may be meant as a volume as well as a weight."""
    both = {"volume", "weight"} <= set(kinds) or {"volume per area", "weight per area"} <= set(kinds)
    if both and unit.split("/", maxsplit=1)[0] == "oz":
        rest = unit.removeprefix("oz")
        raise QuantityError(
            f'{what}: "{shown}" may mean fluid ounces or ounces by weight. Write "fl oz{rest}" for a liquid, '
            f'"dry oz{rest}" for a dry product.'
        )


def _kind_words(amount: Quantity) -> str:
    counts = {"ai": " of active ingredient", "ae": " in acid equivalent", "salt": " of salt"}
    return f"{amount.kind}{counts.get(amount.basis, '')}"


def _number(text: str, *, what: str, shown: str) -> float:
    try:
        value = _fraction(text.strip()) if "/" in text else float(text)
    except (ValueError, ZeroDivisionError, OverflowError):
        value = math.nan
    if not math.isfinite(value):
        raise QuantityError(f'{what}: "{shown}" is not a number that can be used; write it like 12 or 1-1/2.')
    return value


def _fraction(text: str) -> float:
    """The value of ``1/2``, ``1 1/2`` or ``1-1/2``; a sign holds for the whole number and its fraction alike."""
    parts = re.split(r"[-\s]+(?=\d+\s*/)", text.lstrip("+-"))
    value = float(sum((Fraction(part.replace(" ", "")) for part in parts), Fraction(0)))
    return -value if text.startswith("-") else value


def _unit(text: str) -> tuple[str, Kind, float, Basis]:
    """Name, kind, SI factor and basis of a unit; LookupError, with a clause that follows the text, for none."""
    plain = re.sub(r"\s+", " ", text.strip().lower())
    if plain in ("%", "percent", "pct", "% v/v", "% by volume"):
        return "%", "percent of volume", 0.01, ""
    if plain in ("% by weight", "% w/w", "percent by weight"):
        return "% by weight", "percent of weight", 0.01, ""
    plain = {"gpa": "gal/ac", "gal/a": "gal/ac", "gpm": "gal/min"}.get(plain, plain)
    found = _BASIS.search(plain)
    if found is None:
        return *_plain_unit(plain), ""
    basis = cast("Basis", found["basis"].replace(".", ""))
    name, kind, factor = _plain_unit(plain[: found.start()] + plain[found.end() :])
    if not kind.startswith("weight"):
        raise LookupError(f"counts {basis}, which goes with a weight such as lb")
    top, slash, below = name.partition("/")
    return f"{top} {basis}{slash}{below}", kind, factor, basis


def _plain_unit(plain: str) -> tuple[str, Kind, float]:
    if plain in _BY_SPELLING:
        name = _BY_SPELLING[plain]
        kind, factor, _ = _UNITS[name]
        return name, kind, factor
    parts = re.split(r"\s*/\s*|\s+per\s+|\s+an\s+", plain)
    if len(parts) == 2 and parts[0] in _BY_SPELLING:
        top = _BY_SPELLING[parts[0]]
        below = re.fullmatch(r"(?P<count>\d+(?:\.\d+)?)?\s*(?P<unit>.+)", parts[1])
        if below is not None and below["unit"] in _BY_SPELLING:
            return _ratio(top, float(below["count"] or 1), _BY_SPELLING[below["unit"]])
    raise LookupError("has a unit that is not known here")


def _ratio(top: str, count: float, below: str) -> tuple[str, Kind, float]:
    kind_top, factor_top, _ = _UNITS[top]
    kind_below, factor_below, _ = _UNITS[below]
    ratios: dict[tuple[Kind, Kind], Kind] = {
        ("volume", "area"): "volume per area",
        ("weight", "area"): "weight per area",
        ("weight", "volume"): "weight per volume",
        ("volume", "volume"): "percent of volume",
        ("volume", "time"): "volume per time",
    }
    found = ratios.get((kind_top, kind_below))
    if found is None or count <= 0:
        raise LookupError(f"divides {kind_top} by {kind_below}, which means nothing here")
    name = f"{top}/{below}" if count == 1 else f"{top}/{count:.15g} {below}"
    return name, found, factor_top / (count * factor_below)
