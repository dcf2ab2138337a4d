"""Run the gladebook command as a user does: a process of its own."""

import json
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Said:
    """What a command said: exit code, standard output, standard error."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


def gladebook(*arguments: str | Path, cwd: Path | None = None) -> Said:
    """Run the command and keep what it said."""
    done = subprocess.run(
        [sys.executable, "-c", "from gladebook.cli import main; main()", *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        cwd=cwd,
    )
    return Said(done.returncode, done.stdout, done.stderr)
