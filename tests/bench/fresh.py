"""What is measured in a process of its own: first calls, memory, and whole commands.

``python -m tests.bench.fresh cold|memory ENGINE FIELD [SMALL FIELD]`` prints JSON;
``python -m tests.bench.fresh peak COMMAND ...`` runs a command and prints its seconds and peak memory.
"""

import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

__all__ = ["ask", "ask_peak"]

_KIB = 1024
_LONGEST_S = 1800.0


def ask(what: str, *arguments: str | Path, cache: Path | None = None) -> dict[str, Any]:
    """Measure in a fresh process; `cache` is where numba keeps its work, if not where it is used to."""
    env = dict(os.environ) if cache is None else {**os.environ, "NUMBA_CACHE_DIR": str(cache)}
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.fresh", what, *map(str, arguments)],
        env=env,
        check=True,
        stdout=subprocess.PIPE,
        text=True,
        timeout=_LONGEST_S,
    )
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def ask_peak(*command: str | Path) -> dict[str, Any]:
    """Run a whole command: ``seconds``, ``cpu_s``, ``peak_bytes``, and its answer as ``out``."""
    return ask("peak", *command)


def _cold(wish: Any, field: str) -> dict[str, Any]:
    from tests.bench.fields import load_field
    from tests.bench.ours import job_of, run

    job = job_of(load_field(Path(field)))
    start, cpu_start = time.perf_counter(), time.process_time()
    areas = run(job, wish=wish)
    return {
        "seconds": time.perf_counter() - start,
        "cpu_s": time.process_time() - cpu_start,
        "treated_m2": areas.treated_m2,
        "missed_m2": areas.missed_m2,
    }


def _memory(wish: Any, field: str, small: str) -> dict[str, Any]:
    """Peak over what was held before; a small job first, so that loading an engine does not count."""
    from tests.bench.fields import load_field
    from tests.bench.ours import job_of, run

    run(job_of(load_field(Path(small))), wish=wish)
    job = job_of(load_field(Path(field)))
    held = _status("VmRSS") or _most()
    run(job, wish=wish)
    # On Linux getrusage's peak also holds that of the process this one was started from.
    return {"bytes": (_status("VmHWM") or _most()) - held, "points": len(job.settled.path.xy_m)}


def _most() -> int:
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most if sys.platform == "darwin" else most * _KIB


def _status(name: str) -> int:
    """A line of Linux's account of this process, bytes; 0 elsewhere."""
    account = Path("/proc/self/status")
    if not account.exists():
        return 0
    lines = [line.split() for line in account.read_text().splitlines() if line.startswith(f"{name}:")]
    return int(lines[0][1]) * _KIB if lines else 0


def _peak(*command: str) -> dict[str, Any]:
    """Nothing heavy is loaded here, as a command's peak is never told below that of what starts it."""
    start = time.perf_counter()
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    seconds = time.perf_counter() - start
    if done.returncode:
        sys.exit(f"{' '.join(command)}\n{done.stderr}")
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    most = used.ru_maxrss
    return {
        "seconds": seconds,
        "cpu_s": used.ru_utime + used.ru_stime,
        "peak_bytes": most if sys.platform == "darwin" else most * _KIB,
        "out": json.loads(done.stdout),
    }


if __name__ == "__main__":
    measures: dict[str, Callable[..., dict[str, Any]]] = {"cold": _cold, "memory": _memory, "peak": _peak}
    sys.stdout.write(json.dumps(measures[sys.argv[1]](*sys.argv[2:])) + "\n")
