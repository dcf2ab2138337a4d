"""The server as a process of its own, as the command starts it."""

import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["Serving", "served", "start"]

_RUN = "from gladebook.cli import main; main()"


class Serving:
    """A running server: its process and its address."""

    def __init__(self, process: subprocess.Popen[str], address: str) -> None:
        self.process, self.address = process, address

    def kill(self) -> None:
        """Kill it without a word (SIGKILL on systems that have it)."""
        self.process.kill()
        self.process.communicate()


def start(home: Path, *options: str) -> Serving:
    """Start the command, and wait for its address."""
    process = subprocess.Popen(
        [sys.executable, "-c", _RUN, "serve", str(home), "--no-browser", *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    began = time.monotonic()
    while time.monotonic() - began < 30:
        line = process.stdout.readline()
        if line.startswith("http://"):
            return Serving(process, line.strip())
        if not line and process.poll() is not None:
            break
    assert process.stderr is not None
    raise AssertionError(process.stderr.read())


@contextmanager
def served(home: Path, *options: str) -> Iterator[str]:
    """The address of a server that ends with the block."""
    serving = start(home, *options)
    try:
        yield serving.address
    finally:
        serving.process.terminate()
        try:
            serving.process.communicate(timeout=15)
        except subprocess.TimeoutExpired:
            serving.kill()
