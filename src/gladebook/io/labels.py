"""A table of labels: a CSV whose first line names the columns, one product a row."""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from gladebook.errors import CallError, UnreadableFile
from gladebook.io.table.text import open_table
from gladebook.products.label import Label
from gladebook.products.label_text import COLUMNS, label_from

__all__ = ["LabelFile", "label_sheet", "read_labels"]

_MOST_BYTES: Final = 2_000_000
_MOST_ROWS: Final = 2_000


@dataclass(frozen=True)
class LabelFile:
    """What a table of labels holds.

    Attributes
    ----------
    labels : one a row.
    cells : the texts that each was read from, by column; empty ones left out.
    notices : what was not read, as sentences.
    """

    labels: tuple[Label, ...]
    cells: tuple[Mapping[str, str], ...]
    notices: tuple[str, ...]


def read_labels(path: Path, *, county: bool = False) -> LabelFile:
    """Read a table of labels.

    Parameters
    ----------
    path
        CSV; its first line names columns of `gladebook.products.label_text.COLUMNS`.
    county
        Whether all rows are the county extension office's list, whatever they say.

    Raises
    ------
    UnreadableFile
        Where it is no such table, or a cell cannot be read; with the line.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise UnreadableFile(f"{path.name}: cannot be read ({error.strerror}). Check the name.") from None
    if len(data) > _MOST_BYTES:
        raise UnreadableFile(f"{path.name}: is larger than 2 MB, so it is no table of labels.")
    table = open_table(path, data, known=lambda names: sum(_plain(name) in COLUMNS for name in names))
    names = [_plain(name) for name in table.heading]
    for column in ("product", "ingredient"):
        if column not in names:
            raise UnreadableFile(
                f"{path.name}: has no column {column}. Its first line must name the columns; an empty sheet with "
                f"all of "
                "them comes from: gladebook property label-sheet labels.csv"
            )
    unknown = [name for name, plain in zip(table.heading, names, strict=True) if plain and plain not in COLUMNS]
    notices = [str(note) for note in table.notes]
    if unknown:
        notices.append(f"{path.name}: columns that are not known here were not read: {', '.join(unknown)}.")
    labels: list[Label] = []
    kept: list[Mapping[str, str]] = []
    for line, row in table.rows:
        cells = {
            n: " ".join(cell.split()) for n, cell in zip(names, row, strict=False) if n in COLUMNS and cell.strip()
        }
        if cells:
            label = _label(cells, county=county, where=f"{path.name}, line {line}")
            _refuse_twice(label, labels, where=f"{path.name}, line {line}")
            labels.append(label)
            kept.append(cells)
    if not labels:
        raise UnreadableFile(f"{path.name}: names no product.")
    return LabelFile(tuple(labels), tuple(kept), tuple(notices))


def _label(cells: dict[str, str], *, county: bool, where: str) -> Label:
    if county:
        cells["whose"] = "county list"
    try:
        return label_from(cells, what=where)
    except CallError as error:
        raise UnreadableFile(str(error)) from None


def _refuse_twice(label: Label, before: list[Label], *, where: str) -> None:
    if len(before) >= _MOST_ROWS:
        raise UnreadableFile(f"{where}: there are more than {_MOST_ROWS:,} products. Split the file.")
    for other in before:
        if other.name.casefold() == label.name.casefold() and other.whose == label.whose:
            raise UnreadableFile(f"{where}: {label.name} stands there twice. Give each product one line.")


def _plain(name: str) -> str:
    return "_".join(name.strip().lower().replace("-", " ").replace("_", " ").split())


def label_sheet() -> str:
    """An empty sheet: the line with the names of all columns."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    return out.getvalue()
