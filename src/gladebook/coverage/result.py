"""What one application did, as frozen nouns. Areas are in m2, shapes in degrees on WGS 84."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final

from gladebook.beside.pass_count import PassCount
from gladebook.doubt.verdict import Doubt, Verdict
from gladebook.passes.clean import Cleaning

__all__ = ["CANNOT_SEE", "Coverage", "Layers", "MissedStrip", "Outside", "PlotCoverage"]

CANNOT_SEE: Final = (
    "A track cannot show a plugged tip, an empty tank, wind, or a boom that was off unless the file says so. "
    "A phone drifts by several feet, more under trees: look at a strip before you spray it again."
)


@dataclass(frozen=True)
class PlotCoverage:
    """One plot: treated + missed + unknown + left on purpose = the plot; overlap is part of treated.

    Attributes
    ----------
    name : the plot's name.
    plot_m2 : the plot, obstacles and setback taken out.
    treated_m2 : driven over with the boom on.
    missed_m2 : the rest.
    overlap_m2 : driven over again by another trip, in another pass or later in the same one.
    unknown_m2 : ground that only a gap in the track could have covered.
    left_m2 : left unsprayed on purpose.
    left_sprayed_m2 : the part of it that was sprayed all the same.
    count_m2 : ground driven over 0, 1, 2, and 3 or more times, without what was left on purpose.
    """

    name: str
    plot_m2: float
    treated_m2: float
    missed_m2: float
    overlap_m2: float
    unknown_m2: float
    left_m2: float
    left_sprayed_m2: float
    count_m2: tuple[float, float, float, float]


@dataclass(frozen=True)
class MissedStrip:
    """One connected piece of missed ground.

    Attributes
    ----------
    plot : the plot's name.
    area_m2, length_m, width_m : its size; width is area over length.
    lon_deg, lat_deg : a point inside it.
    shape : its outline.
    verdict : whether it is real, and where it lies.
    """

    plot: str
    area_m2: float
    length_m: float
    width_m: float
    lon_deg: float
    lat_deg: float
    shape: Any = field(repr=False)
    verdict: Verdict = field(default_factory=lambda: Verdict("can't tell"))


@dataclass(frozen=True)
class Outside:
    """Ground outside every plot that was driven over with the boom on.

    Attributes
    ----------
    edge_m2 : within half a boom of a plot's edge.
    elsewhere_m2 : farther away.
    obstacles : name, whether its name says water, and m2, of each obstacle that was sprayed; water first.
    """

    edge_m2: float
    elsewhere_m2: float
    obstacles: tuple[tuple[str, bool, float], ...]

    @property
    def obstacles_m2(self) -> float:
        """All obstacles together."""
        return float(sum(area_m2 for _, _, area_m2 in self.obstacles))

    @property
    def total_m2(self) -> float:
        """All of it."""
        return self.edge_m2 + self.elsewhere_m2 + self.obstacles_m2


@dataclass(frozen=True)
class Layers:
    """Shapes to draw: (multi)polygons, and the track as lines with the boom on and off."""

    treated: Any
    missed: Any
    overlap: Any
    outside: Any
    unknown: Any
    left: Any
    track_on: Any
    track_off: Any


@dataclass(frozen=True, eq=False)
class Coverage:
    """What one application did.

    Attributes
    ----------
    plots : one entry a plot, in the order given.
    treated_m2, missed_m2, overlap_m2, unknown_m2, left_m2 : over all plots, shared ground counted once.
    outside : ground outside every plot driven over with the boom on.
    driven_m2 : all trips added up, overlap and outside included.
    strips : missed strips, largest first.
    doubts : how sure the answer is, for each plot with strips.
    pass_overlaps : pairs of passes that share ground, and m2, largest first; a pass with itself is ground that it
        covered again, and pass 0 is all turns.
    passes : passes found and needed, by plot.
    cleaning : what was taken out of the tracks, counted.
    assumptions : what was not given and is assumed, as sentences.
    notices : what the reader should know, as sentences.
    spacing_m : between the lines that the ground was swept along; shapes are good to about that.
    draw : makes the shapes to draw.
    """

    plots: tuple[PlotCoverage, ...]
    treated_m2: float
    missed_m2: float
    overlap_m2: float
    unknown_m2: float
    left_m2: float
    outside: Outside
    driven_m2: float
    strips: tuple[MissedStrip, ...]
    doubts: tuple[Doubt, ...]
    pass_overlaps: tuple[tuple[int, int, float], ...]
    passes: tuple[PassCount, ...]
    cleaning: Cleaning
    assumptions: tuple[str, ...]
    notices: tuple[str, ...]
    spacing_m: float
    draw: Callable[[], Layers] = field(repr=False)

    @property
    def plot_m2(self) -> float:
        """All plots, shared ground counted once."""
        return self.treated_m2 + self.missed_m2 + self.unknown_m2 + self.left_m2

    @property
    def outside_m2(self) -> float:
        """Ground outside every plot driven over with the boom on."""
        return self.outside.total_m2

    @cached_property
    def layers(self) -> Layers:
        """Shapes to draw, made when first asked for."""
        return self.draw()
