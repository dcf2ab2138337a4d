"""The invented property: its files, its numbers, and what was planted in it."""

import json
from typing import Any

import pytest

from gladebook.units import ACRE_M2
from tests import sample_property

# Coordinates in the files are rounded to 8 decimals, about 1.1 mm: over a pass of 80 m with two edges and
# up to 16 passes that is at most 0.3 m2 of gaps and overlaps that were not planted.
ROUNDING_M2 = 0.35


def stored() -> dict[str, Any]:
    found: dict[str, Any] = json.loads((sample_property.FOLDER / "numbers.json").read_text(encoding="utf-8"))
    return found


def close(a: Any, b: Any) -> bool:
    """Equal in shape; figures to 2 in 100,000, what lines some centimetres apart leave; words exactly."""
    if isinstance(a, dict):
        return a.keys() == b.keys() and all(close(a[k], b[k]) for k in a)
    if isinstance(a, list):
        return len(a) == len(b) and all(close(x, y) for x, y in zip(a, b, strict=True))
    if isinstance(a, float | int) and not isinstance(a, bool):
        return bool(a == pytest.approx(b, rel=2e-5, abs=2e-5))
    return bool(a == b)


def test_the_folder_is_what_the_drawing_says():
    """Every input in sample_maps is exactly what its drawing writes."""
    for name, text in sample_property.files().items():
        assert (sample_property.FOLDER / name).read_text(encoding="utf-8") == text, name


def test_the_numbers_are_what_the_job_gives():
    """numbers.json equals every answer computed anew."""
    now = json.loads(json.dumps(sample_property.numbers()))
    then = stored()
    for part in ("planted_m2", "measure", "coverage", "mix"):
        assert close(now[part], then[part]), part


@pytest.mark.parametrize("plot", ["Kidney Bottom", "Long Firebreak", "Cedar Flat", "Cedar Annex"])
def test_what_was_planted_in_a_plot_comes_back(plot):
    """Planted skips, overlaps, late booms and the GPS gap come back at their closed-form size."""
    planted = sample_property.planted()[plot]
    row = next(p for p in stored()["coverage"]["plots"] if p["name"] == plot)
    for kind, m2 in planted.items():
        got = row["plot_acres" if kind == "plot" else f"{kind}_acres"] * ACRE_M2
        assert got == pytest.approx(m2, abs=ROUNDING_M2), kind


def test_what_was_planted_outside_comes_back():
    """Ground sprayed outside is the overrun, the half turn and the square ends of passes on crooked edges."""
    planted = sample_property.planted()["outside"]
    # The half turn is driven in 16 chords with headings between them: 2 % short of the true half disc of 21 m2.
    assert stored()["coverage"]["outside_acres"] * ACRE_M2 == pytest.approx(sum(planted.values()), abs=0.8)


def test_the_planted_strips_are_listed_with_their_sizes():
    """The left-out pass of Cedar Flat is a strip 80 m by 12 ft; both late booms are 6 m long."""
    strips = [s for s in stored()["coverage"]["missed_strips"] if s["plot"] == "Cedar Flat"]
    sizes = [(round(s["length_m"], 1), round(s["width_m"], 1)) for s in strips]
    assert sizes == [(80.0, 3.7), (80.0, 1.0), (6.0, 3.7), (6.0, 3.7)]


def test_the_property_has_the_shapes_that_real_ones_have():
    """Six to eight plots, among them a firebreak of 20 by 1,000 ft, a pond, two parts, and a shared edge."""
    measured = {p["name"]: p for p in stored()["measure"]["plots"]}
    assert 6 <= len(measured) <= 8
    # 20 x 1,000 ft is 0.4591 acres (20,000 / 43,560).
    assert measured["Long Firebreak"]["acres"] == pytest.approx(20_000 / 43_560, rel=2e-4)
    assert measured["Pond Patch"]["obstacle_acres"] > 0.1
    assert sample_property.ground()["Twin Clearings"].geom_type == "MultiPolygon"
    assert sample_property.ground()["Cedar Flat"].touches(sample_property.ground()["Cedar Annex"])
    assert not any("share" in n for n in stored()["measure"]["notices"])
