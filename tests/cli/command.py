"""Run the gladebook command as a user does: a process of its own."""

import json
import re
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


def documented(command: str) -> set[str]:
    """The keys of a command's JSON as DEVELOPERS.md lists them; a list that says "as" another takes all of them in."""
    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    lines = [
        line
        for line in text.split("\n## What `--json` prints", 1)[1].split("\n## ")[0].splitlines()
        if line[:2] == "- "
    ]
    own = next(line for line in lines if f"`{command}`" in line.split(":")[0])
    found = set(re.findall(r"`([a-z_]+)`", own))
    if "as a catch" in own or "as above" in own:
        for other in lines[:2]:
            found |= set(re.findall(r"`([a-z_]+)`", other))
    return found
