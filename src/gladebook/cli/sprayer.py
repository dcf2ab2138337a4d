"""What people say about their sprayer, as the nouns that the jobs take."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, Literal

from gladebook.cli.options import length_m
from gladebook.errors import CallError
from gladebook.units import parse_quantity

if TYPE_CHECKING:
    from gladebook.passes.sprayer import Sprayer

__all__ = ["SprayerWords", "sprayer_from", "sprayer_with_kept", "sprayer_words"]


@dataclass(frozen=True)
class SprayerWords:
    """The options about the sprayer, as they were typed; None where they were not."""

    boom: str | None = None
    sections: str | None = None
    one_sided: str | None = None
    behind: str | None = None
    ahead: str | None = None
    right: str | None = None
    left: str | None = None
    on_delay: str | None = None
    off_delay: str | None = None

    @property
    def any_given(self) -> bool:
        """Whether one of them was."""
        return any(text is not None for text in vars(self).values())


def sprayer_words(options: Mapping[str, Any]) -> SprayerWords:
    """Those of a command's options that are about the sprayer, by their names."""
    return SprayerWords(**{f.name: options[f.name] for f in fields(SprayerWords)})


def sprayer_from(words: SprayerWords) -> "tuple[Sprayer, Literal['left', 'right'] | None]":
    """The sprayer, and the side on which all of its swath lies, where there is one.

    Raises
    ------
    CallError
        Where an amount cannot be read, or two options contradict each other.
    """
    one_sided = _side(words)
    width_m = length_m(words.boom, what="--boom")
    sections_m = _sections(words.sections)
    behind_m = _either(words.behind, words.ahead, names=("--behind", "--ahead"))
    right_m = _either(words.right, words.left, names=("--right", "--left"))
    on_s, off_s = _seconds(words.on_delay, what="--on-delay"), _seconds(words.off_delay, what="--off-delay")
    from gladebook.passes.sprayer import Sprayer, check_sprayer

    sprayer = Sprayer(
        width_m=width_m,
        behind_m=behind_m,
        right_m=right_m,
        on_delay_s=on_s,
        off_delay_s=off_s,
        sections_m=sections_m,
    )
    check_sprayer(sprayer)
    return sprayer, one_sided


def sprayer_with_kept(options: Mapping[str, Any]) -> "tuple[Sprayer, Literal['left', 'right'] | None]":
    """The sprayer from a command's options: the one of the property file that is named, with what is said besides.

    Raises
    ------
    CallError
        Where an amount cannot be read, options contradict each other, or the plots are no property's.
    PropertyError
        Where it keeps no such sprayer.
    """
    given, side = sprayer_from(sprayer_words(options))
    name = options.get("sprayer")
    if name is None:
        return given, side
    from gladebook.io.kinds import name_of, property_at
    from gladebook.jobs.keep import kept_sprayer, over_kept

    if not property_at(options["boundaries"]):
        raise CallError(
            f"--sprayer: names a sprayer of a property file, and {name_of(options['boundaries'])} is none. Say how "
            'wide the boom is, like --boom "12 ft".'
        )
    return over_kept(given, side=side, kept=kept_sprayer(options["boundaries"], name))


def _side(words: SprayerWords) -> Literal["left", "right"] | None:
    if words.one_sided is None:
        return None
    if words.right is not None or words.left is not None:
        raise CallError(
            "--one-sided: puts the whole swath beside the phone, so it cannot stand with --right or --left. Where "
            "the swath begins away from the phone, give --right or --left alone: how far its middle is."
        )
    match words.one_sided.strip().lower():
        case "left":
            return "left"
        case "right":
            return "right"
    raise CallError(f'--one-sided: "{words.one_sided[:40]}" is no side; write left or right, as you drive.')


def _sections(text: str | None) -> tuple[float, ...]:
    if text is None:
        return ()
    widths = [length_m(part.strip(), what="--sections") for part in text.split(",")]
    return tuple(width for width in widths if width is not None)


def _either(plus: str | None, minus: str | None, *, names: tuple[str, str]) -> float | None:
    """A length one way or the other, the first way counted above zero; None where neither is given."""
    if plus is not None and minus is not None:
        raise CallError(f"{names[0]} and {names[1]}: choose one of them; they say the same the other way round.")
    what, other = names if plus is not None else (names[1], names[0])
    text = minus if plus is None else plus
    if text is None:
        return None
    value = parse_quantity(text, kind="length", what=what).si
    if value < 0:
        raise CallError(f'{what}: "{text}" is below zero; say it with {other} "{text.strip().lstrip("-").strip()}".')
    from gladebook.passes.sprayer import Sprayer, check_sprayer

    try:
        check_sprayer(Sprayer(behind_m=value))
    except CallError:
        raise CallError(f'{what}: "{text}" is farther from the phone than any boom here. Check the unit.') from None
    return value if plus is not None else -value


def _seconds(text: str | None, *, what: str) -> float | None:
    return None if text is None else parse_quantity(text, kind="time", what=what).si
