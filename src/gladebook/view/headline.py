"""How an application went in a few words: for a screen that is read at arm's length. Sentences are in `words`."""

from gladebook.beside.pass_count import PassCount
from gladebook.coverage.result import Coverage
from gladebook.spraying.gallons import GallonsCheck
from gladebook.view.figures import area
from gladebook.view.skips import numbered
from gladebook.view.words import ACROSS, gallons_verdict

__all__ = ["headline_words"]

_WATER_M2 = 0.1
_THIRD = 1 / 3
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def headline_words(coverage: Coverage, *, gallons_check: GallonsCheck | None = None) -> list[str]:
    """The gallons, passes, water, strips and gaps of one application, a few words each, the most telling first."""
    words = [] if gallons_check is None else [_gallons(gallons_check)]
    words += [_passes(count) for count in coverage.passes if count.gaps]
    words += [
        f"Sprayed over water: {name}" for name, water, m2 in coverage.outside.obstacles if water and m2 > _WATER_M2
    ]
    go_look, cant_tell = ([s for _, s in numbered(coverage, word)] for word in ("go look", "can't tell"))
    if go_look:
        places = f"{len(go_look)} place{'s' if len(go_look) > 1 else ''}"
        words.append(f"Go look: {places}, {area(sum(s.area_m2 for s in go_look))}")
    if cant_tell:
        words.append(f"Can't tell, {area(sum(s.area_m2 for s in cant_tell))}")
    if not go_look and not cant_tell:
        words.append("No missed strip worth a walk")
    if coverage.unknown_m2 > 0:
        words.append(f"Gaps in the track, {area(coverage.unknown_m2)}")
    return words


def _gallons(check: GallonsCheck) -> str:
    verdict = gallons_verdict(check)
    if not verdict:
        return "Gallons: matches"
    return f"Gallons: {verdict}" if check.flagged else f"Gallons: close, {verdict}"


def _passes(count: PassCount) -> str:
    """Passes that are missing in one plot, and on which side of it."""
    missing = sum(gap.missing for gap in count.gaps)
    told = _NUMBERS[missing] if missing < len(_NUMBERS) else str(missing)
    sides = list(dict.fromkeys(_sides(count)))
    return f"{count.name}: {told} pass{'es' if missing > 1 else ''} missing, {' and '.join(sides)}"


def _sides(count: PassCount) -> list[str]:
    """Where in the plot each gap lies: passes are counted towards `count.side`."""
    before, found = 0, []
    for gap in count.gaps:
        middle = (gap.after + before + gap.missing / 2) / (count.needed or 1)
        before += gap.missing
        far, near = count.side, ACROSS.get(count.side, count.side)
        found.append(near if middle < _THIRD else far if middle > 1 - _THIRD else "in the middle")
    return found
