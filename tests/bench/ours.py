"""The engine on a field: from points in memory to areas by count."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from gladebook.coverage.boom import Settled
from gladebook.coverage.ground import Ground, Marks, part_ground
from gladebook.coverage.tally import tally_ground
from gladebook.geometry.sweep import Wish
from gladebook.passes.path import Path
from gladebook.passes.sprayer import Lanes
from tests.bench.fields import BOOM_M, FRAME, Field

__all__ = ["Areas", "Job", "job_of", "run"]


@dataclass(frozen=True)
class Areas:
    """What an engine found in the plot, m2; not a number where it does not tell."""

    treated_m2: float
    missed_m2: float
    overlap_m2: float = float("nan")
    spacing_m: float = float("nan")


@dataclass(frozen=True, eq=False)
class Job:
    """What the engine is handed: the ground, the track on the plane, and the pass of each of its steps."""

    ground: Ground
    settled: Settled
    number: npt.NDArray[np.int64]


def job_of(field: Field) -> Job:
    """Lay a field out as the engine takes it; none of this is timed."""
    n = len(field)
    path = Path(
        name="drive",
        xy_m=field.xy_m,
        time_s=np.linspace(0.0, 0.25 * (n - 1), n),
        speed_mps=np.full(n, np.nan),
        boom_on=field.on.astype(np.int8),
        width_m=np.full(n, BOOM_M),
        cut=np.zeros(n - 1, dtype=bool),
        backwards=np.zeros(n - 1, dtype=bool),
        top_mps=10.0,
    )
    half_m = np.full((1, n), BOOM_M / 2)
    lanes = Lanes(on=field.on[None, :], left_m=half_m, right_m=-half_m, behind_m=0.0)
    ground = part_ground([field.plot], whole=field.plot, marks=Marks(), frame=FRAME, edge_m=BOOM_M / 2)
    return Job(ground, Settled(path, lanes, (), ()), field.number)


def run(job: Job, *, wish: Wish) -> Areas:
    """Paint, turn, space and sweep, as `gladebook.coverage.tally` does it.

    Raises
    ------
    RuntimeError
        Where the compiled engine was asked for and is not there.
    """
    tally = tally_ground(job.ground, settled=[job.settled], passes=[job.number], progress=_silent, wish=wish)
    if tally.engine.compiled != (wish == "compiled"):
        raise RuntimeError(f"asked for {wish}, got the other engine: {tally.engine.note}")
    count: Any = tally.area_m2[1].sum(axis=1)
    return Areas(
        treated_m2=float(count[1:].sum()),
        missed_m2=float(count[0]),
        overlap_m2=float(count[2:].sum()),
        spacing_m=tally.spacing_m,
    )


def _silent(_: float) -> None:
    pass
