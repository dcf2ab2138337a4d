"""The whole job on the invented property of ``sample_maps/``."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from gladebook.errors import OutputError, UnreadableFile
from gladebook.io.write import as_geojson, as_json, write_text
from gladebook.jobs.application import Application, Drives, GroundFiles, Spray, check_application
from gladebook.passes.sprayer import Sprayer
from gladebook.spraying.mix import RATE_KINDS, plan_mix
from gladebook.spraying.recipe import Mix, Product
from gladebook.units import ACRE_M2, FT_M, GAL_M3, parse_quantity
from gladebook.view.documents import coverage_document, measure_document, mix_document
from gladebook.view.page import map_page
from gladebook.view.shapes import coverage_features
from gladebook.view.skips import strip_lines
from gladebook.view.tables import coverage_table, measure_table, mix_table
from gladebook.view.words import CANNOT_SEE, coverage_words, measure_words, mix_words

__all__ = ["Answers", "Demo", "demo_answers", "run_demo", "sample_folder"]

_TITLE = "Fernhollow: grass-selective spray on the fall plots"
_BOOM_M = 12 * FT_M
_RATE_M = 15 * GAL_M3 / ACRE_M2
_USED_M3 = 107 * GAL_M3
_TANK_M3 = 25 * GAL_M3
_PRODUCTS = (("clethodim", "8 fl oz/ac"), ("crop oil", "1 %"), ("ammonium sulfate", "8.5 lb/100 gal"))
_EXAMPLE = (
    "The product rates here are examples for the arithmetic (clethodim 0.125 lb ai per acre as 2 lb per gallon, "
    "1 % crop oil and 8.5 lb ammonium sulfate per 100 gal, printed for other crops and another region in the "
    "Pacific Northwest Weed Management Handbook), not advice: check your label."
)


@dataclass(frozen=True)
class Answers:
    """The documents of ``--json`` for the sample, and what they were made from."""

    measure: dict[str, Any]
    coverage: dict[str, Any]
    mix: dict[str, Any]
    application: Application
    plan: Mix


@dataclass(frozen=True)
class Demo:
    """What the demo prints, and where its map is."""

    text: str
    map_file: Path


def sample_folder() -> Path:
    """Where the sample lies: beside the installed package, or at the top of a checkout.

    Raises
    ------
    UnreadableFile
        Where it is in neither place.
    """
    here = Path(__file__).resolve()
    for folder in (here.parents[1] / "sample_maps", here.parents[3] / "sample_maps"):
        if (folder / "plots.geojson").is_file():
            return folder
    raise UnreadableFile(
        "sample_maps: is not beside the program. Install gladebook again, or run it from its checkout."
    )


def demo_answers(folder: Path, *, progress: Callable[[str, float], None] | None = None) -> Answers:
    """Measure, check and mix on the sample."""
    files = GroundFiles(boundaries=folder / "plots.geojson", obstacles=folder / "ponds.geojson")
    done = check_application(
        files,
        Drives((folder / "sprayed.csv", folder / "firebreak.gpx"), sprayer=Sprayer(width_m=_BOOM_M)),
        spray=Spray(used_m3=_USED_M3, rate_m=_RATE_M),
        progress=progress,
    )
    plan = plan_mix(
        [(p.name, p.net_m2) for p in done.measured.plots],
        rate_m=_RATE_M,
        tank_m3=_TANK_M3,
        products=[Product(n, parse_quantity(r, kind=RATE_KINDS, what=n)) for n, r in _PRODUCTS],
    )
    return Answers(
        measure=measure_document(done.measured),
        coverage=coverage_document(done.coverage, gallons=done.gallons),
        mix=mix_document(plan, notices=(_EXAMPLE,)),
        application=done,
        plan=plan,
    )


def run_demo(out: Path, *, progress: Callable[[str, float], None] | None = None) -> Demo:
    """Run the whole job on the sample; write the map, the shapes and the answers to a folder.

    Raises
    ------
    UnreadableFile
        Where the sample is missing.
    OutputError
        Where the folder cannot be written to.
    """
    answers = demo_answers(sample_folder(), progress=progress)
    done = answers.application
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{out}: cannot be made a folder ({error.strerror}). Name another place.") from None
    page = map_page(done.measured, title=_TITLE, coverage=done.coverage, gallons=done.gallons, reentry=done.reentry)
    map_file = write_text(out / "map.html", page)
    write_text(out / "ground.geojson", as_geojson(coverage_features(done.coverage)))
    for name in ("measure", "coverage", "mix"):
        write_text(out / f"{name}.json", as_json(getattr(answers, name)))
    return Demo(text=_text(answers), map_file=map_file)


def _text(answers: Answers) -> str:
    done, plan = answers.application, answers.plan
    parts = [
        "HOW MANY ACRES",
        *measure_words(done.measured),
        measure_table(done.measured),
        "HOW THE APPLICATION WENT",
        *coverage_words(done.coverage, gallons_check=done.gallons),
        "",
        *strip_lines(done.coverage, reentry=done.reentry),
        "",
        coverage_table(done.coverage),
        CANNOT_SEE,
        "",
        "WHAT GOES IN THE TANK",
        *mix_words(plan),
        mix_table(plan),
        _EXAMPLE,
        "Cautions:",
        *(f"- {c}" for c in plan.cautions),
        "",
    ]
    return "\n".join(parts)
