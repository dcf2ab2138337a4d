"""What one application did, as frozen nouns. Areas are in m2, shapes in degrees on WGS 84."""

from dataclasses import dataclass, field
from typing import Any, Final

__all__ = ["CANNOT_SEE", "Coverage", "Layers", "MissedStrip", "PlotCoverage"]

CANNOT_SEE: Final = (
    "A track cannot show a plugged tip, an empty tank, wind, or a boom that was off unless the file says so. "
    "A phone drifts by several feet, more under trees: look at a strip before you spray it again."
)


@dataclass(frozen=True)
class PlotCoverage:
    """One plot: treated + missed + unknown = the plot; overlap is part of treated.

    Attributes
    ----------
    name : the plot's name.
    plot_m2 : the plot, obstacles and setback taken out.
    treated_m2 : driven over with the boom on.
    missed_m2 : the rest.
    overlap_m2 : driven over again by another trip, in another pass or later in the same one.
    unknown_m2 : ground that only a gap in the track could have covered.
    """

    name: str
    plot_m2: float
    treated_m2: float
    missed_m2: float
    overlap_m2: float
    unknown_m2: float


@dataclass(frozen=True)
class MissedStrip:
    """One connected piece of missed ground.

    Attributes
    ----------
    plot : the plot's name.
    area_m2, length_m, width_m : its size; width is area over length.
    lon_deg, lat_deg : a point inside it.
    shape : its outline.
    """

    plot: str
    area_m2: float
    length_m: float
    width_m: float
    lon_deg: float
    lat_deg: float
    shape: Any = field(repr=False)


@dataclass(frozen=True)
class Layers:
    """Shapes to draw: (multi)polygons, and the track as lines with the boom on and off."""

    treated: Any
    missed: Any
    overlap: Any
    outside: Any
    unknown: Any
    track_on: Any
    track_off: Any


@dataclass(frozen=True)
class Coverage:
    """What one application did.

    Attributes
    ----------
    plots : one entry a plot, in the order given.
    treated_m2, missed_m2, overlap_m2, unknown_m2 : over all plots, shared ground counted once.
    outside_m2 : ground outside every plot driven over with the boom on.
    driven_m2 : all trips added up, overlap and outside included.
    strips : missed strips, largest first.
    assumptions : what was not given and is assumed, as sentences.
    notices : what the reader should know, as sentences.
    layers : shapes to draw.
    """

    plots: tuple[PlotCoverage, ...]
    treated_m2: float
    missed_m2: float
    overlap_m2: float
    unknown_m2: float
    outside_m2: float
    driven_m2: float
    strips: tuple[MissedStrip, ...]
    assumptions: tuple[str, ...]
    notices: tuple[str, ...]
    layers: Layers = field(repr=False)

    @property
    def plot_m2(self) -> float:
        """All plots, shared ground counted once."""
        return self.treated_m2 + self.missed_m2 + self.unknown_m2
