"""Latitudes and longitudes as people write them: ``31 12.3 N``, ``31°12'18"N``, ``N31.205``, ``-83.441``."""

import re

__all__ = ["degrees_from"]

# Between two numbers stands the mark of the first, or a blank.
_ANGLE = re.compile(
    r"""(?P<before>[NSEW])?\s*(?P<sign>[-+−])?\s*
        (?P<degrees>[0-9]{1,3}(?:\.[0-9]*)?)(?:\s*[°º])?
        (?:(?:(?<=[°º])\s*|\s+)(?P<minutes>[0-9]{1,2}(?:\.[0-9]*)?)(?:\s*['′’])?
            (?:(?:(?<=['′’])\s*|\s+)(?P<seconds>[0-9]{1,2}(?:\.[0-9]*)?)(?:\s*(?:["″”]|''))?)?
        )?
        \s*(?P<after>[NSEW])?""",
    re.VERBOSE | re.IGNORECASE,
)


def degrees_from(text: str, *, sides: str) -> float:
    """Degrees north or east, from degrees, minutes and seconds with a letter for the side.

    Parameters
    ----------
    text
        The angle. Minutes need a letter or a sign, as one who leaves both out may well mean west.
    sides
        The letter of the positive side, then that of the other: ``NS`` or ``EW``.

    Raises
    ------
    ValueError
        Where it can be read in two ways, or in none.
    """
    found = _ANGLE.fullmatch(text.strip())
    if found is None:
        raise ValueError
    letter = f"{found['before'] or ''}{found['after'] or ''}".upper()
    if letter not in ("", *sides) or (letter and found["sign"]):
        raise ValueError
    parts = [found[name] for name in ("degrees", "minutes", "seconds") if found[name] is not None]
    if len(parts) > 1 and not (letter or found["sign"]):
        raise ValueError
    if any("." in part for part in parts[:-1]) or any(float(part) >= 60 for part in parts[1:]):
        raise ValueError
    value = sum(float(part) / (1.0, 60.0, 3600.0)[power] for power, part in enumerate(parts))
    return -value if letter == sides[1] or found["sign"] in ("-", "−") else value
