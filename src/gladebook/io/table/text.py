"""Tables as text, whatever wrote them: what parts their cells, and where their heading is."""

import csv
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from gladebook.errors import UnreadableFile
from gladebook.io.letters import head_text, lines_of, table_coding
from gladebook.notes import Note

__all__ = ["Known", "Table", "has_heading", "open_table", "wide_cells"]

# How many names in a line are known, where it may be a heading; else nought.
Known = Callable[[Sequence[str]], int]

_BLANKS, _BLANK = "  ", " "  # two and more, where columns stand under each other; one
_DELIMITERS = ("\t", ",", ";", "|", _BLANKS, _BLANK)  # among equals the first: a heading of one column has none
_GAP = re.compile(r" {2,}")
_SEPARATOR_LINE = re.compile(r"\s*sep=(.)\s*", re.IGNORECASE)  # common practice of spreadsheets, no source
_REMARK = "#%"
_HEADING_WITHIN = 30  # lines that are not blank
_LONGEST_HEADING = 20_000


@dataclass(frozen=True)
class Table:
    """A table about to be read.

    Attributes
    ----------
    heading : names of the columns.
    rows : the line on which each row ends, and its cells.
    delimiter : what parts the cells.
    notes : what was assumed or left out.
    """

    heading: tuple[str, ...]
    rows: Iterator[tuple[int, list[str]]]
    delimiter: str = ","
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True)
class _Heading:
    line: int = 0  # counted from 0
    delimiter: str = ","
    before: int = 0  # lines with text above it


def open_table(path: Path, data: bytes, *, known: Known) -> Table:
    """Find the heading of a table and get ready to read its rows.

    Where no line among the first has names that are known, the first line with text counts as heading.

    Raises
    ------
    UnreadableFile
        Where the letters cannot be told, or a line is no row; the latter while rows are read, too.
    """
    try:
        coding, assumed = table_coding(data)
    except UnicodeError:
        raise UnreadableFile(
            f"{path.name}: is text in letters that are neither UTF-8 nor Windows-1252. Save the file as UTF-8."
        ) from None
    found = _find_heading(_first_lines(lines_of(data, coding)), known=known)
    notes = [Note("assumed", path.name, assumed)] if assumed else []
    if found.before:
        words = f"lines before the heading were left out ({found.before})."
        notes.append(Note("skipped", path.name, words, count=found.before))
    rows = _rows(path, lines_of(data, coding), found)
    _, heading = next(rows, (0, []))
    return Table(tuple(cell.strip() for cell in heading), rows, found.delimiter, tuple(notes))


def has_heading(head: bytes, *, known: Known) -> bool:
    """Whether the first bytes of a file hold a heading with names that are known."""
    text = head_text(head)
    if text is None:
        return False
    found = _find_heading(_first_lines(text.splitlines(keepends=True)), known=known)
    return found.delimiter != "" and known(_split(_bare(text.splitlines()[found.line]), found.delimiter)) > 0


@contextmanager
def wide_cells(letters: int) -> Iterator[None]:
    """Let a cell hold as many letters as a boundary of many corners takes."""
    before = csv.field_size_limit(letters)
    try:
        yield
    finally:
        csv.field_size_limit(before)


def _first_lines(lines: Iterable[str]) -> list[str]:
    first: list[str] = []
    with_text = 0
    for line in lines:
        first.append(line.rstrip("\r\n"))
        with_text += bool(line.strip())
        if with_text > _HEADING_WITHIN:
            break
    return first


def _find_heading(lines: list[str], *, known: Known) -> _Heading:
    stated, before = "", 0
    fallback: _Heading | None = None
    for number, line in enumerate(lines):
        if not line.strip() or len(line) > _LONGEST_HEADING:
            continue
        said = _SEPARATOR_LINE.fullmatch(line)
        if said and not before:
            stated = said[1]
            continue
        delimiter, names = _best_delimiter(_bare(line), known=known, stated=stated)
        if names:
            following = next((text for text in lines[number + 1 :] if text.strip()), "")
            return _Heading(number, _checked(delimiter, _bare(line), following), before)
        if fallback is None:
            fallback = _Heading(number, delimiter, before)
        before += 1
    return fallback or _Heading()


def _bare(line: str) -> str:
    """A heading may stand behind the sign of a remark."""
    return line.lstrip(f"{_REMARK} ") if line.lstrip()[:1] in tuple(_REMARK) else line


def _best_delimiter(line: str, *, known: Known, stated: str) -> tuple[str, int]:
    """The delimiter that shows most names that are known, and among equals most cells; and how many are known."""
    best = ("", -1, -1)
    for delimiter in (stated,) if stated else _DELIMITERS:
        cells = _split(line, delimiter)
        names = known(cells)
        if (names, 0 if _BLANK in delimiter else len(cells)) > best[1:]:
            best = (delimiter, names, 0 if _BLANK in delimiter else len(cells))
    return best[0], best[1]


def _checked(delimiter: str, line: str, following: str) -> str:
    """Columns under each other may have a single blank between them, too, where a cell fills its column."""
    wanted = len(_split(line, delimiter))
    single = delimiter == _BLANKS and len(_split(following, _BLANKS)) < wanted <= len(_split(following, _BLANK))
    return _BLANK if single and len(_split(line, _BLANK)) == wanted else delimiter


def _split(line: str, delimiter: str) -> tuple[str, ...]:
    try:
        return tuple(cell.strip() for cell in next(_reader([line], delimiter), []))
    except csv.Error:
        return ()


def _reader(lines: Iterable[str], delimiter: str) -> Any:
    if delimiter == _BLANKS:
        return csv.reader((_GAP.sub("\t", line.lstrip(" ")) for line in lines), delimiter="\t", strict=True)
    # One blank as delimiter: those that follow it are skipped, so that any number of them parts two cells.
    return csv.reader(lines, delimiter=delimiter, strict=True, skipinitialspace=True)


def _rows(path: Path, lines: Iterable[str], found: _Heading) -> Iterator[tuple[int, list[str]]]:
    """The heading and the rows under it."""
    left = iter(lines)
    for _ in islice(left, found.line):
        pass
    first = next(left, None)
    reader = _reader(() if first is None else _then(_bare(first), left), found.delimiter)
    try:
        for cells in reader:
            yield reader.line_num + found.line, cells
    except csv.Error as error:
        line = reader.line_num + found.line
        raise UnreadableFile(
            f"{path.name}: is not a readable table: {error} at line {line}. Mend that line, or export the file again."
        ) from None


def _then(first: str, others: Iterator[str]) -> Iterator[str]:
    yield first
    yield from others
