"""Nothing that was acknowledged is lost, and nothing is half there, whenever a process is killed."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.io.property.season import CHANGES, STARTS

_ROOT = Path(__file__).parents[3]
_MOMENTS = int(os.environ.get("GLADEBOOK_KILLS", "40"))
_STEP = int(os.environ.get("GLADEBOOK_LOG_STEP", "37"))


def _kill(folder: Path, *what: str) -> dict[str, Any]:
    """Run the killings in a process of their own, and give its counts."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.io.property.kills", str(folder), *what],
        cwd=_ROOT,
        env={**os.environ, "PYTHONPATH": f"{_ROOT / 'src'}{os.pathsep}{_ROOT}"},
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="skipped: this system cannot fork processes to kill")


def test_killed_at_every_statement_a_change_is_whole_or_not_there(tmp_path):
    """SIGKILL at each SQL statement of each kind of change: as before, or after; said to be done, then done."""
    counts = _kill(tmp_path, "statements")
    assert counts["bad"] == []
    assert counts["lost"] == counts["half"] == counts["faults"] == 0
    assert set(counts["by_kind"]) == {*STARTS, "migrate", "mend", "new"}
    # Each kind is killed once more right after it said that it was done.
    assert counts["acknowledged"] == len(counts["by_kind"])
    assert min(counts["by_kind"].values()) > 20, "each kind of change has that many statements"
    assert set(STARTS) <= set(CHANGES)


def test_killed_at_random_moments_nothing_acknowledged_is_lost(tmp_path):
    """Killed by the clock anywhere in a season: all that was said to be done is there, and at most one change more."""
    counts = _kill(tmp_path, "moments", str(_MOMENTS))
    assert counts["bad"] == []
    assert counts["lost"] == counts["half"] == counts["faults"] == 0
    assert counts["kills"] == _MOMENTS
    assert counts["acknowledged"] > _MOMENTS / 2


@pytest.mark.parametrize("how", ["log", "spoil"])
def test_a_log_cut_anywhere_keeps_all_earlier_changes(tmp_path, how):
    """The write-ahead log cut, or one bit of it turned, at bytes of its last change: that one is whole or not there."""
    counts = _kill(tmp_path, how, str(_STEP if how == "log" else 10 * _STEP))
    assert counts["bad"] == []
    assert counts["lost"] == counts["half"] == counts["faults"] == 0
    assert counts["kills"] > 1000 / (1 if how == "log" else 10)


def test_the_killings_notice_a_change_that_is_not_whole(tmp_path):
    """A change that commits in two steps is told to be half there, and one that is said before it is done, lost."""
    counts = _kill(tmp_path, "planted")
    assert counts["half"] > 0
    assert counts["lost"] > 0
