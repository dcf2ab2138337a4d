"""Several processes change one property file at the same time."""

import os
import subprocess
import sys
from pathlib import Path

from gladebook.io.property.change import changing, steps_of
from gladebook.io.property.check import faults_in
from gladebook.io.property.open import connected, new_property
from gladebook.io.property.store import add_kept, kept_in

_ROOT = Path(__file__).parents[3]
_CHANGES = int(os.environ.get("GLADEBOOK_WRITES", "60"))


def test_three_writers_and_a_reader_at_once_lose_nothing(tmp_path):
    """Each change of three processes is kept, none of them nor a reader sees an error, and nothing stays beside."""
    path = tmp_path / "shared.gpkg"
    new_property(path, name="Hollow Creek")
    with connected(path) as base, changing(base, "a count") as pen:
        add_kept(pen, "records", name="count", content={"count": 0})
    runs = [
        subprocess.Popen(
            [sys.executable, "-m", "tests.io.property.writer", str(path), str(_CHANGES), who],
            cwd=_ROOT,
            env={**os.environ, "PYTHONPATH": f"{_ROOT / 'src'}{os.pathsep}{_ROOT}"},
            stderr=subprocess.PIPE,
            text=True,
        )
        for who in ("first", "second", "third", "reader")
    ]
    assert [run.communicate(timeout=500)[1] for run in runs] == [""] * 4
    assert [run.returncode for run in runs] == [0] * 4
    with connected(path) as base:
        records = kept_in(base, "records")
        assert records[0].content == {"count": 3 * _CHANGES}
        assert [r.content["count"] for r in records[1:]] == list(range(1, 3 * _CHANGES + 1))
        assert len(steps_of(base)) == 3 * _CHANGES + 1
        assert faults_in(base) == []
    assert [p.name for p in tmp_path.iterdir()] == [path.name]
