"""The user's labels and the county's list in a property: coming in, and taken out to be asked.

The cells are kept as they were typed, and read anew each time. With each label stands what its user found on it:
whether it lists the site and each crop.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from gladebook.errors import CallError, Clash, PropertyError
from gladebook.io.labels import read_labels
from gladebook.io.property.change import changing
from gladebook.io.property.open import connected
from gladebook.io.property.store import add_kept, change_kept, kept_in
from gladebook.jobs.ground import listed
from gladebook.jobs.named import same
from gladebook.products.forage import Forage
from gladebook.products.label import Label
from gladebook.products.label_text import label_from
from gladebook.records.kept import Kept

__all__ = [
    "BARE",
    "KeptLabel",
    "add_labels",
    "answers_of",
    "crop_names",
    "keep_listed",
    "labels_of",
    "listed_question",
    "own_label",
]

BARE: Final = "bare ground"


@dataclass(frozen=True)
class KeptLabel:
    """A label that a property keeps.

    Attributes
    ----------
    uid : its id.
    label : what it says.
    listed : by the crop's name, whether its user found the site and that crop on it.
    day : on which it came in, or was replaced.
    """

    uid: str
    label: Label
    listed: Mapping[str, bool] = field(default_factory=dict)
    day: str = ""


def labels_of(path: Path) -> tuple[KeptLabel, ...]:
    """All labels of a property, those of the county's list among them.

    Raises
    ------
    PropertyError
        Where what is kept of one cannot be read any more.
    """
    with connected(path, write=False) as base:
        return tuple(_label(kept, path=path) for kept in kept_in(base, "products") if "cells" in kept.content)


def _label(kept: Kept, *, path: Path) -> KeptLabel:
    try:
        cells = {**{str(k): str(v) for k, v in kept.content["cells"].items()}, "product": kept.name}
        label = label_from(cells, what=path.name)
        listed_ = {str(k): bool(v["answer"]) for k, v in dict(kept.content.get("listed") or {}).items()}
    except (AttributeError, KeyError, TypeError) as error:
        raise PropertyError(
            f'{path.name}: what is kept of the label "{kept.name}" is no label any more ({error}). Add it anew with '
            f"--replace: gladebook property labels {path.name} labels.csv"
        ) from None
    return KeptLabel(kept.uid, label, listed_, kept.day)


def add_labels(path: Path, file: Path, *, county: bool = False, replace: bool = False, day: str) -> list[str]:
    """Let all labels of a sheet in, as one change, and say so.

    Parameters
    ----------
    path
        The property file.
    file
        The sheet, CSV.
    county
        Whether it is the county extension office's list.
    replace
        Whether labels of the same names are put in place of those that are kept.
    day
        Today.

    Raises
    ------
    UnreadableFile
        Where the sheet cannot be read.
    PropertyError
        Where names are taken and are not to be replaced.
    """
    sheet = read_labels(file, county=county)
    names = [label.name for label in sheet.labels]
    what = "the county's list" if county else "labels"
    with connected(path) as base, changing(base, f"Added {what}: {listed(names)}.") as pen:
        there = kept_in(base, "products")
        dropped: list[str] = []
        for label, cells in zip(sheet.labels, sheet.cells, strict=True):
            old = _same_in(there, label)
            if old is not None and not replace:
                raise PropertyError(
                    f'{path.name}: has a label called "{old.name}" already, and nothing was added. Say --replace to '
                    "put yours in its place."
                )
            content = {"whose": label.whose, "cells": dict(cells), "listed": {}}
            if old is None:
                add_kept(pen, "products", name=label.name, content=content, day=day)
            else:
                dropped += [label.name] if old.content.get("listed") else []
                change_kept(pen, "products", old.uid, content=content)
    words = [f"Added to {path.name}: {listed(names)}. Every value is as you copied it: check your label."]
    if dropped:
        words.append(f"Whether the new label lists your crops will be asked again for {listed(dropped)}.")
    return [*words, *sheet.notices]


def _same_in(there: Sequence[Kept], label: Label) -> Kept | None:
    """A kept label of the same name and kind."""
    return next(
        (k for k in there if same(k.name, label.name) and str(k.content.get("whose", "label")) == label.whose), None
    )


def own_label(labels: Sequence[KeptLabel], name: str) -> KeptLabel | None:
    """The user's own label of a product."""
    return next((k for k in labels if k.label.whose == "label" and same(k.label.name, name)), None)


def crop_names(forages: Sequence[Forage]) -> tuple[str, ...]:
    """The crops that a label must list: those of the stand, or bare ground."""
    return tuple(f.name for f in forages) or (BARE,)


def listed_question(product: str, crops: Sequence[str]) -> str:
    """The question before any amount, in one wording everywhere."""
    stand = " and ".join(crops) if list(crops) != [BARE] else "bare ground before planting"
    return f'Does your label of "{product}" list this site (a wildlife food plot) and {stand}? Read it, then answer.'


def keep_listed(
    path: Path, product: str, *, crops: Sequence[str], answer: bool, day: str, seen: Mapping[str, bool] | None = None
) -> str:
    """Keep what the user found on the label: whether it lists the site and the crops; as a change, and say so.

    Parameters
    ----------
    path
        The property file.
    product
        Its label.
    crops
        That were looked for on it.
    answer
        Whether it lists them.
    day
        Today.
    seen
        The answers for those crops as whoever answers saw them; a crop that had none is left out. None does not ask.

    Raises
    ------
    CallError
        Where there is no crop.
    Clash
        Where the answers are not those that were seen.
    PropertyError
        Where the property keeps no label of that product.
    """
    if not crops:
        raise CallError('--crop: say which crops, like "white clover, oat", or "bare ground".')
    says = "lists" if answer else "does not list"
    told = f'Your label of "{product}" {says} this site and {" and ".join(crops)}.'
    with connected(path) as base, changing(base, told) as pen:
        there = [k for k in kept_in(base, "products") if same(k.name, product)]
        found = next((k for k in there if str(k.content.get("whose", "label")) == "label"), None)
        content: dict[str, Any] = {} if found is None else dict(found.content)
        before = {c: bool(v["answer"]) for c, v in dict(content.get("listed") or {}).items() if c in crops}
        if seen is not None and before != dict(seen):
            raise Clash(
                f"{product}: somebody else answered that in the meantime, and yours was not written. Work it out "
                f"again, "
                "and look at theirs."
            )
        answers = {**dict(content.get("listed") or {}), **{c: {"answer": answer, "day": day} for c in crops}}
        if found is None:  # of an ingredient without a label of the user's: the answer is kept all the same
            add_kept(pen, "products", name=product, content={"whose": "label", "listed": answers}, day=day)
        else:
            change_kept(pen, "products", found.uid, content={**content, "listed": answers})
    return f"Kept in {path.name}: {told}"


def answers_of(path: Path, product: str) -> dict[str, bool]:
    """What the user found on the label of a product, by the crop's name, whether or not its values are kept."""
    with connected(path, write=False) as base:
        there = [k for k in kept_in(base, "products") if same(k.name, product)]
    found = next((k for k in there if str(k.content.get("whose", "label")) == "label"), None)
    if found is None:
        return {}
    return {str(c): bool(a.get("answer")) for c, a in dict(found.content.get("listed") or {}).items()}
