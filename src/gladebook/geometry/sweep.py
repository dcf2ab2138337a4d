"""Which engine sweeps: numpy, or the compiled one where numba is there and the job is large; both find the same."""

import sys
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from typing import Literal

import numpy as np
import numpy.typing as npt

from gladebook.geometry.scan import sweep_plain
from gladebook.geometry.scene import Scene, Swept

__all__ = ["Engine", "Wish", "choose_engine", "sweep"]

Wish = Literal["auto", "numpy", "compiled"]

_LARGE = 500_000  # points: below, numpy is done before numba has loaded
_LARGE_LOADED = 2_000
_COMPILED = ("gladebook.geometry.compiled", "gladebook.geometry.compiled_paint")


@dataclass(frozen=True)
class Engine:
    """Which engine to use, and a sentence where it is not the one that the job asked for."""

    compiled: bool
    note: str = ""


def choose_engine(points: int, *, wish: Wish = "auto") -> Engine:
    """Choose by the size of the job; numpy where numba is missing or has no folder to keep its work in.

    Parameters
    ----------
    points
        Points of all tracks.
    wish
        "auto", or the engine to use.
    """
    loaded = _COMPILED[0] in sys.modules
    large = points >= (_LARGE_LOADED if loaded else _LARGE)
    if wish == "numpy" or (wish == "auto" and not large):
        return Engine(compiled=False)
    if find_spec("numba") is None:
        # Not worth a word in an answer: it is an extra, and the numbers are the same.
        return Engine(compiled=False, note="numba is not installed" if wish == "compiled" else "")
    try:
        for name in _COMPILED:
            import_module(name)
    except (RuntimeError, OSError, ImportError):
        # numba refuses to start where it finds no folder for its cache.
        return Engine(
            compiled=False,
            note="The faster engine was left out, as its cache folder cannot be written; the answer is the same. "
            "Set NUMBA_CACHE_DIR to a folder of yours.",
        )
    return Engine(compiled=True)


def sweep(scene: Scene, *, spacing_m: float, wanted: npt.NDArray[np.bool_], engine: Engine) -> Swept:
    """Sweep a scene; see `gladebook.geometry.scan.sweep_plain`."""
    if engine.compiled:
        from gladebook.geometry.compiled import sweep_compiled

        return sweep_compiled(scene, spacing_m=spacing_m, wanted=wanted)
    return sweep_plain(scene, spacing_m=spacing_m, wanted=wanted)
