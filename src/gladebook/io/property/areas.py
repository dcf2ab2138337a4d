"""Plots and marks of a property as areas that were checked, for whoever measures or draws them."""

from collections.abc import Sequence

from gladebook.io.limits import LIMITS, Limits
from gladebook.io.rows import Row, Rows, crs_from, plots_from
from gladebook.plots.plot import Plot
from gladebook.records.kept import KeptMark, KeptPlot

__all__ = ["plots_of_kept"]


def plots_of_kept(
    kept: Sequence[KeptPlot | KeptMark], *, source: str, repair: bool = False, limits: Limits = LIMITS
) -> list[Plot | None]:
    """Plots or marks of a property, checked as those of any file are, as another program may have drawn in it.

    Parameters
    ----------
    kept
        The plots or marks.
    source
        The file's name, for messages.
    repair, limits
        As for `gladebook.read_plots`.

    Returns
    -------
    One for each, in order; None where no area is left of it.

    Raises
    ------
    InputError
        As `gladebook.read_plots`.
    """
    areas = [bool(one.shape.area > 0) for one in kept]
    rows = [
        Row({"name": one.name}, one.shape, walked=isinstance(one, KeptPlot) and one.walked)
        for one, has_area in zip(kept, areas, strict=True)
        if has_area
    ]
    if not rows:
        return [None] * len(kept)
    whole = Rows(source=source, rows=tuple(rows), crs=crs_from("EPSG:4326", what="--crs"))
    found = iter(plots_from(whole, name_field=None, crs=None, repair=repair, limits=limits))
    return [next(found) if has_area else None for has_area in areas]
