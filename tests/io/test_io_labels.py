"""Sheets of labels: what comes in, what is told, what is refused with its line."""

from pathlib import Path

import pytest

from gladebook.errors import UnreadableFile
from gladebook.io.labels import label_sheet, read_labels
from gladebook.products.label_text import COLUMNS

HEAD = "product,ingredient,strength,rate_most,crops"
ROW = "Grass spray,clethodim,2 lb ai/gal,8 fl oz/ac,white clover; crimson clover"


def sheet(tmp_path: Path, text: str, *, coding: str = "utf-8") -> Path:
    path = tmp_path / "labels.csv"
    path.write_bytes(text.encode(coding))
    return path


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "windows-1252"])
@pytest.mark.parametrize("line", ["\n", "\r\n"])
def test_a_sheet_is_read_however_it_was_saved(tmp_path: Path, coding: str, line: str) -> None:
    """Spreadsheets save with marks, in two bytes, in Windows letters and with two line ends."""
    found = read_labels(sheet(tmp_path, line.join([HEAD, ROW, ""]), coding=coding))
    assert [label.name for label in found.labels] == ["Grass spray"]
    assert found.cells[0]["strength"] == "2 lb ai/gal"
    assert [f.name for f in found.labels[0].crops] == ["white clover", "crimson clover"]


def test_columns_may_be_written_as_people_write_them(tmp_path: Path) -> None:
    """Capitals, spaces and hyphens in the names of columns do not matter; unknown ones are told, not lost silently."""
    found = read_labels(sheet(tmp_path, "Product,Ingredient,Rate most,Price\nA,clethodim,8 fl oz/ac,30\n"))
    assert found.labels[0].rate_most is not None
    assert any("Price" in n for n in found.notices)


def test_a_semicolon_may_part_the_columns(tmp_path: Path) -> None:
    """Where semicolons part the columns, a list of crops stands in quotation marks."""
    found = read_labels(sheet(tmp_path, 'product;ingredient;crops\nA;clethodim;"oat; rye"\n'))
    assert [f.name for f in found.labels[0].crops] == ["oat", "rye"]


def test_a_county_list_is_marked_as_such(tmp_path: Path) -> None:
    """All rows of the county's list are its, whatever they say; the same name may stand in both."""
    path = sheet(tmp_path, f"{HEAD}\n{ROW}\n")
    assert read_labels(path, county=True).labels[0].whose == "county list"
    both = sheet(tmp_path, "product,ingredient,whose\nA,clethodim,label\nA,clethodim,county list\n")
    assert [label.whose for label in read_labels(both).labels] == ["label", "county list"]


BAD = {
    "": "labels.csv",
    "name,what\nA,B\n": "no column product",
    "product,ingredient\n": "names no product",
    "product,ingredient\nA,clethodim\na,clethodim\n": "line 3: a stands there twice",
    "product,ingredient,rate_most\nA,clethodim,8 oz/ac\n": "line 2, A, rate_most",
    "product,ingredient,reentry\nA,clethodim,\nB,clethodim,soon\n": "line 3, B, reentry",
    "product,ingredient\n,clethodim\n": "line 2: has no product",
    "product,ingredient\nA,\n": "line 2, A: has no active ingredient",
}


@pytest.mark.parametrize(("text", "words"), BAD.items())
def test_a_sheet_that_cannot_be_read_is_refused_with_its_line(tmp_path: Path, text: str, words: str) -> None:
    """One sentence: which file, which line, which column."""
    with pytest.raises(UnreadableFile, match=r"labels\.csv") as caught:
        read_labels(sheet(tmp_path, text))
    assert words in str(caught.value)


def test_a_missing_or_binary_or_endless_sheet_is_refused(tmp_path: Path) -> None:
    """No file, letters of no code, and more than 2 MB."""
    with pytest.raises(UnreadableFile, match="cannot be read"):
        read_labels(tmp_path / "none.csv")
    (tmp_path / "big.csv").write_bytes(b"product,ingredient\n" + b"x" * 2_000_001)
    with pytest.raises(UnreadableFile, match="larger than 2 MB"):
        read_labels(tmp_path / "big.csv")
    (tmp_path / "b.csv").write_bytes(b"product,ingredient\n\x81\x8d\n")
    with pytest.raises(UnreadableFile, match="neither UTF-8 nor"):
        read_labels(tmp_path / "b.csv")


def test_the_empty_sheet_names_every_column() -> None:
    """What the empty sheet has is what is read, in the same order."""
    assert label_sheet().strip().split(",") == list(COLUMNS)
