"""True acres, spray coverage and mixing for small woodland wildlife plots.

The public names, each loaded on first use (PEP 562): importing this package runs nothing.
Lengths are metres, areas m2, volumes m3; `parse_quantity` reads field units.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gladebook.coverage.compute import cover_plots
    from gladebook.coverage.ground import Marks
    from gladebook.coverage.result import Coverage
    from gladebook.errors import CallError, GladebookError, InputError, OutputError
    from gladebook.io.door import read_plots, read_track
    from gladebook.passes.path import CutRules
    from gladebook.passes.sprayer import Sprayer
    from gladebook.passes.track import Track, trim_track
    from gladebook.plots.acreage import Measured, measure_plots
    from gladebook.plots.plot import Plot
    from gladebook.plots.sureness import PositionError
    from gladebook.spraying.gallons import GallonsCheck, check_gallons
    from gladebook.spraying.mix import plan_mix
    from gladebook.spraying.recipe import Mix, Product
    from gladebook.units import ACRE_M2, parse_quantity
    from gladebook.view.page import map_page

__version__ = "0.1.0"

__all__ = [
    "ACRE_M2",
    "CallError",
    "Coverage",
    "CutRules",
    "GallonsCheck",
    "GladebookError",
    "InputError",
    "Marks",
    "Measured",
    "Mix",
    "OutputError",
    "Plot",
    "PositionError",
    "Product",
    "Sprayer",
    "Track",
    "check_gallons",
    "cover_plots",
    "map_page",
    "measure_plots",
    "parse_quantity",
    "plan_mix",
    "read_plots",
    "read_track",
    "trim_track",
]

_HOMES = {
    "ACRE_M2": "units",
    "CallError": "errors",
    "Coverage": "coverage.result",
    "CutRules": "passes.path",
    "GallonsCheck": "spraying.gallons",
    "GladebookError": "errors",
    "InputError": "errors",
    "Marks": "coverage.ground",
    "Measured": "plots.acreage",
    "Mix": "spraying.recipe",
    "OutputError": "errors",
    "Plot": "plots.plot",
    "PositionError": "plots.sureness",
    "Product": "spraying.recipe",
    "Sprayer": "passes.sprayer",
    "Track": "passes.track",
    "check_gallons": "spraying.gallons",
    "cover_plots": "coverage.compute",
    "map_page": "view.page",
    "measure_plots": "plots.acreage",
    "parse_quantity": "units",
    "plan_mix": "spraying.mix",
    "read_plots": "io.door",
    "read_track": "io.door",
    "trim_track": "passes.track",
}


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module 'gladebook' has no attribute {name!r}")
    return getattr(import_module(f"gladebook.{home}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
