"""Every broken file of the corpus, given to the command as a user would."""

import sys
from pathlib import Path
from typing import Any

import pytest

from gladebook.cli import main
from gladebook.errors import CallError
from tests.io.broken_plots import Broken
from tests.io.test_io_broken_files import ALL
from tests.sample_property import FOLDER

FLAGS = {"name_field": "--name-field", "crs": "--crs", "layer": "--layer"}
TRACK_FLAGS = {"layer": "--track-layer", "time_format": "--time-format"}


def arguments(entry: Broken, read: str, path: Path) -> list[str]:
    if read == "track":
        options = [word for k, v in entry.options.items() if k in TRACK_FLAGS for word in (TRACK_FLAGS[k], str(v))]
        return ["coverage", str(FOLDER / "plots.geojson"), str(path), "--boom", "12 ft", *options]
    options = [word for k, v in entry.options.items() if k in FLAGS for word in (FLAGS[k], str(v))]
    return ["measure", str(path), *options, *(["--repair"] if entry.options.get("repair") else [])]


@pytest.mark.parametrize(("entry", "read"), ALL)
def test_a_broken_file_ends_the_command_with_one_sentence(
    entry: Broken, read: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
):
    """A broken file is exit 3 (2 where the call is wrong), one line on standard error, and no answer anywhere."""
    (tmp_path / "in").mkdir()
    out = tmp_path / "answer.json"
    call = [*arguments(entry, read, entry.build(tmp_path / "in")), "--json", "--out", str(out)]
    monkeypatch.setattr(sys, "argv", ["gladebook", *call])
    with pytest.raises(SystemExit) as left:
        main()
    said = capsys.readouterr()
    wrong_call = issubclass(entry.error, CallError) or "--layer" in said.err.split(":")[1]
    assert left.value.code == (2 if wrong_call else 3), said.err
    assert said.out == ""
    assert said.err.startswith("gladebook: ")
    assert len(said.err.strip().splitlines()) == 1
    assert [p.name for p in tmp_path.iterdir()] == ["in"]
