"""The count of passes as far as it is sure, once the strips are judged."""

from collections.abc import Sequence
from dataclasses import replace

from gladebook.beside.pass_count import PassCount, PassGap, count_words, counted_words, passes_words
from gladebook.doubt.verdict import Doubt, Verdict

__all__ = ["sure_count"]

_GIVE = ", give or take one at the edges"


def sure_count(count: PassCount, *, verdicts: Sequence[Verdict], doubt: Doubt | None) -> PassCount:
    """Say how many passes are needed only where the gaps between them are sure.

    A gap counts where a strip in it is one to go and look at, or where the record shows the boom off; so does a
    strip to go and look at that drift has narrowed so far that no pass seemed missing. With any other gap nothing is
    said. Along the plot's edges the recording's shift does not drop out: a pass more or less there cannot be told.

    Parameters
    ----------
    count
        The passes as recorded.
    verdicts
        The plot's strips.
    doubt
        How sure its answer is; None where it has no strips.
    """
    if count.needed is None or doubt is None:
        return count
    inner = [gap for gap in count.gaps if 0 < gap.after < count.found]
    if doubt.silent:
        return _untold(count, doubt.silent) if inner else _told(count, [])
    sure: list[PassGap] = []
    for gap in inner:
        mine = [v for v in verdicts if v.after == gap.after]
        if all(v.word == "can't tell" for v in mine):
            return _untold(count, "The recording drifts too far to be sure of every gap.")
        sure.append(gap)
    counted = {gap.after for gap in sure}
    for found in verdicts:
        if found.word == "go look" and found.after is not None and found.ends_m and found.after not in counted:
            counted.add(found.after)
            sure.append(PassGap(found.after, 1, count.side, *found.ends_m))
    return _told(count, sorted(sure, key=lambda gap: gap.after))


def _told(count: PassCount, gaps: list[PassGap]) -> PassCount:
    needed = count.found + sum(gap.missing for gap in gaps)
    words = count_words(count.name, needed=needed, found=count.found, gaps=gaps, give=_GIVE)
    begins = [counted_words(count.name, side=count.side)] if gaps and not count.gaps else []
    return replace(count, needed=needed, gaps=tuple(gaps), sentences=(words, *begins, *count.sentences[1:]))


def _untold(count: PassCount, why: str) -> PassCount:
    words = f"{count.name}: {passes_words(count.found)} found; how many it needs is not told. {why}"
    return replace(count, needed=None, gaps=(), spacing_m=None, why=why, sentences=(words,))
