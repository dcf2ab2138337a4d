"""What is known of one product, or one bare ingredient, about a forage and a weed: word, reason and source.

The user's own label wins over the county's list, and that over publications. A figure of another region approves
nothing; a warning counts from wherever it comes.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from gladebook.products.forage import FORAGES, Forage, same_crop
from gladebook.products.ingredient import Cell, ForageCell, Ingredient, Region, applies
from gladebook.products.label import Label
from gladebook.products.weed import Weed

__all__ = ["Candidate", "Evidence", "Word", "forage_evidence", "season_words", "weed_evidence"]

Word = Literal["yes", "some", "no", "differ", "elsewhere", "unknown"]
_TIERS: Final = {"your label": 3, "county list": 2}


@dataclass(frozen=True)
class Candidate:
    """A product of the user's, or an ingredient of the table.

    Attributes
    ----------
    name : as the user, or the table, calls it.
    ingredients : those that the table knows.
    label, county : what the user's label and the county's list say; None where there is none.
    """

    name: str
    ingredients: tuple[Ingredient, ...]
    label: Label | None = None
    county: Label | None = None


@dataclass(frozen=True)
class Evidence:
    """An answer with its ground.

    Attributes
    ----------
    word : "yes" spares the forage, or kills the weed; "no" hurts the forage, or misses the weed; "some" is in part;
    sources     "differ"; "elsewhere" holds in another region only.
    reason : one clause.
    source : who says so; empty where nobody does.
    tier : 3 for the user's label, 2 for the county's list, 1 for a publication that counts here, else 0.
    region : of the publication; empty for the user's label, the county's list, and where nobody says it.
    """

    word: Word
    reason: str
    source: str = ""
    tier: int = 0
    region: Region | Literal[""] = ""


def forage_evidence(candidate: Candidate, forage: Forage, *, region: Region | None) -> Evidence:
    """Whether a forage that is growing is spared."""
    for label in (candidate.label, candidate.county):
        found = None if label is None else _label_on_forage(label, forage)
        if found is not None:
            return found
    said = [_table_on_forage(ingredient, forage, region=region) for ingredient in candidate.ingredients]
    if not said:
        return Evidence("unknown", f"nothing with a source was found on {forage.name}")
    order: tuple[Word, ...] = ("no", "differ", "unknown", "elsewhere", "yes")
    return min(said, key=lambda e: order.index(e.word))


def _label_on_forage(label: Label, forage: Forage) -> Evidence | None:
    whose = "your label" if label.whose == "label" else "county list"
    tier = _TIERS[whose]
    if same_crop(label.injured, forage):
        return Evidence("no", f"hurts {forage.name}", whose, tier)
    if same_crop(label.tolerated, forage):
        return Evidence("yes", f"spares {forage.name}", whose, tier)
    if same_crop(label.crops, forage):
        return Evidence("yes", f"lists {forage.name}", whose, tier)
    return None


def _table_on_forage(ingredient: Ingredient, forage: Forage, *, region: Region | None) -> Evidence:
    cells = [cell for cell in ingredient.forages if _about(cell, forage)]
    hurts = [cell for cell in cells if cell.word in ("injured", "preplant only")]
    spares = [cell for cell in cells if cell.word == "tolerated"]
    here = [cell for cell in spares if applies(cell.source, region=region)]
    if hurts and spares:
        told = "; ".join(f"{_did(cell)} ({cell.source})" for cell in (*hurts[:1], *spares[:1]))
        return Evidence(
            "differ", f"sources differ on {forage.name}: {told}", str(hurts[0].source), 0, hurts[0].source.region
        )
    if hurts:
        note = f" ({hurts[0].note})" if hurts[0].note else ""
        what = "hurts" if hurts[0].word == "injured" else "is for before planting and would kill"
        return Evidence("no", f"{what} {forage.name}{note}", str(hurts[0].source), 1, hurts[0].source.region)
    derived = _by_kind(ingredient, forage)
    if derived is not None:
        return derived
    if here:
        stage = f", at {here[0].stage}" if here[0].stage else ""
        return Evidence("yes", f"spares {forage.name}{stage}", str(here[0].source), 1, here[0].source.region)
    if spares:
        where = spares[0].source.region
        return Evidence(
            "elsewhere",
            f"said to spare {forage.name} in the {where}: not for here",
            str(spares[0].source),
            0,
            spares[0].source.region,
        )
    return Evidence("unknown", f"nothing with a source was found on {forage.name}")


def _did(cell: ForageCell) -> str:
    return f"{cell.word} {cell.note}".strip()


def _about(cell: ForageCell, forage: Forage) -> bool:
    """Whether a cell names the forage, or the whole family, such as ``clover``."""
    named = FORAGES.get(cell.forage)
    return cell.forage == forage.name or (named is not None and same_crop((named,), forage))


def _by_kind(ingredient: Ingredient, forage: Forage) -> Evidence | None:
    """What follows from what it kills: a grass-selective spray takes out every grass, also one that was sown."""
    grass, broadleaf = ingredient.kills.get("grass"), ingredient.kills.get("broadleaf")
    if forage.grass and grass is not None and grass.value == "yes":
        only = broadleaf is not None and broadleaf.value == "no"
        told = f"kills grasses, and {forage.name} is one" if only else f"kills grasses such as {forage.name}"
        named = any(cell.word == "tolerated" and _about(cell, forage) for cell in ingredient.forages)
        return None if named else Evidence("no", told, str(grass.source), 1, grass.source.region)
    everything = [ingredient.kills.get(kind) for kind in ("grass", "broadleaf", "sedge", "woody")]
    if grass is not None and all(cell is not None and cell.value == "yes" for cell in everything):
        return Evidence(
            "no", f"kills whatever is green, {forage.name} as well", str(grass.source), 1, grass.source.region
        )
    return None


def weed_evidence(candidate: Candidate, weed: Weed, *, up: bool | None, region: Region | None) -> Evidence:
    """Whether a weed is killed; `up` says whether it stands above the ground already."""
    for label in (candidate.label, candidate.county):
        found = None if label is None else _label_on_weed(label, weed, up=up)
        if found is not None:
            return found
    said = [_table_on_weed(ingredient, weed, up=up, region=region) for ingredient in candidate.ingredients]
    if not said:
        return Evidence("unknown", f"nothing with a source was found on {weed.name}")
    order: tuple[Word, ...] = ("yes", "some", "differ", "elsewhere", "unknown", "no")
    return min(said, key=lambda e: order.index(e.word))


def _label_on_weed(label: Label, weed: Weed, *, up: bool | None) -> Evidence | None:
    whose = "your label" if label.whose == "label" else "county list"
    if up and label.timing and not {"post", "burndown"} & set(label.timing):
        return Evidence("no", "goes on before weeds are up, and these are up", whose, _TIERS[whose])
    if not label.kills:
        return None
    if weed.name in label.kills or weed.kind in label.kills:
        return Evidence("yes", f"kills {weed.name if weed.name in label.kills else _kind(weed)}", whose, _TIERS[whose])
    return Evidence("no", f"names {', '.join(label.kills)}, not {weed.name}", whose, _TIERS[whose])


def _table_on_weed(ingredient: Ingredient, weed: Weed, *, up: bool | None, region: Region | None) -> Evidence:
    timing = {cell.value for cell in ingredient.timing}
    if up is not False and timing and not {"post", "burndown"} & timing:
        if up is None:
            return Evidence("unknown", "goes on before weeds are up: say how tall yours are (--weed-height)")
        return Evidence(
            "no",
            "goes on before weeds are up, and these are up",
            str(ingredient.timing[0].source),
            1,
            ingredient.timing[0].source.region,
        )
    named = [cell for name, cell in ingredient.weeds if name == weed.name]
    if len({cell.value for cell in named}) > 1:
        told = "; ".join(f"{_hits(cell)} ({cell.source})" for cell in named)
        return Evidence(
            "differ", f"sources differ on {weed.name}: {told}", str(named[0].source), 0, named[0].source.region
        )
    if named:
        return _judged(named[0], weed.name, region=region)
    return _by_weed_kind(ingredient, weed, region=region)


def _by_weed_kind(ingredient: Ingredient, weed: Weed, *, region: Region | None) -> Evidence:
    """What follows from the kind of weed; on a perennial grass or broadleaf only with a source on perennial ones."""
    by_kind = ingredient.kills.get(weed.kind)
    if by_kind is None:
        return Evidence("unknown", f"nothing with a source was found on {weed.name}")
    lasting = weed.life == "perennial" and weed.kind in ("grass", "broadleaf")
    if lasting and by_kind.value != "no":
        if "annual" in by_kind.note:
            told = f"kills annual ones, and {weed.name} is perennial"
            return Evidence("no", told, str(by_kind.source), 1, by_kind.source.region)
        if "perennial" not in ingredient.lives:
            told = f"kills {_kind(weed)}, but on perennial ones such as {weed.name} nothing with a source was found"
            return Evidence("unknown", told)
    return _judged(by_kind, _kind(weed), region=region)


def _judged(cell: Cell, what: str, *, region: Region | None) -> Evidence:
    note = f" ({cell.note})" if cell.note and not cell.note.startswith("some ") else ""
    word: Word = {"yes": "yes", "no": "no"}.get(cell.value, "some")  # type: ignore[assignment]  # they are words
    verb = {"yes": "kills", "no": "misses", "some": "kills some"}[word]
    if word != "no" and not applies(cell.source, region=region):
        where = cell.source.region
        return Evidence(
            "elsewhere",
            f"{verb} {what} by a source of the {where}: not for here",
            str(cell.source),
            0,
            cell.source.region,
        )
    return Evidence(word, f"{verb} {what}{note}", str(cell.source), 1, cell.source.region)


def _hits(cell: Cell) -> str:
    return "kills it" if cell.value == "yes" else "misses it"


def _kind(weed: Weed) -> str:
    return {"grass": "grasses", "broadleaf": "broadleaf weeds", "sedge": "sedges", "woody": "woody plants"}[weed.kind]


def season_words(weed: Weed, *, month: int) -> str:
    """What a weed of its life does in a month, in the South; common practice, no source."""
    winter = {
        (9, 10, 11): "comes up now, and is smallest and easiest to kill from now to midwinter",
        (12, 1, 2): "is small now, and slow in the cold",
        (3, 4, 5): "grows tall and heads now; it is late, and what heads seeds itself",
        (6, 7, 8): "is dead or lies as seed now, and comes up in autumn",
    }
    summer = {
        (3, 4, 5): "comes up now, and is smallest and easiest to kill",
        (6, 7, 8): "grows fast now, and is soon too tall",
        (9, 10, 11): "heads and dies now; it is late",
        (12, 1, 2): "lies as seed now, and comes up in spring",
    }
    table = {"winter annual": winter, "summer annual": summer}.get(weed.life, {})
    told = next((words for months, words in table.items() if month in months), "")
    return (
        f"{weed.name[:1].upper()}{weed.name[1:]} is a {weed.life}: it {told} (common practice, no source)."
        if told
        else ""
    )


def known_ingredients(names: Sequence[str]) -> tuple[Ingredient, ...]:
    """Those of some ingredients that the table knows."""
    from gladebook.products.table.all import ingredient_called

    return tuple(i for i in map(ingredient_called, names) if i is not None)
