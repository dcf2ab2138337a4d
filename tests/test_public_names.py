"""What `import gladebook` offers, and what importing costs."""

import statistics
import subprocess
import sys
import time

import pytest

import gladebook

NAMES = {
    "ACRE_M2", "CallError", "Coverage", "CutRules", "GallonsCheck", "GladebookError", "InputError", "Marks",
    "Measured", "Mix", "OutputError", "Plot", "PositionError", "Product", "Sprayer", "Track", "check_gallons",
    "cover_plots", "map_page", "measure_plots", "parse_quantity", "plan_mix", "read_plots", "read_track", "trim_track",
}  # fmt: skip


def run(code: str) -> str:
    return subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True).stdout


def test_the_public_names_are_exactly_these():
    """The root offers at most 25 names; adding or losing one is a decision, so it changes this test."""
    assert set(gladebook.__all__) == NAMES
    assert len(NAMES) <= 25
    for name in NAMES:
        assert getattr(gladebook, name) is not None


def test_an_unknown_name_is_an_attribute_error():
    """Asking the root for a name it lacks fails as for any module."""
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        gladebook.nothing  # noqa: B018


def test_importing_the_root_runs_nothing():
    """`import gladebook` loads no library and none of its own modules."""
    loaded = run(
        "import sys; import gladebook; "
        "print([m for m in sys.modules if m.split('.')[0] in ('numpy','shapely','pyproj','typer') "
        "or m.startswith('gladebook.')])"
    )
    assert loaded.strip() == "[]"


def test_help_loads_no_heavy_library():
    """`gladebook --help` loads neither geopandas nor folium, pandas, shapely, pyproj, pyogrio or numpy."""
    loaded = run(
        "import sys; sys.argv = ['gladebook', '--help']\n"
        "from gladebook.cli import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "heavy = {'geopandas','folium','pandas','shapely','pyproj','pyogrio','numpy'}\n"
        "print('heavy:', sorted(heavy & set(sys.modules)))"
    )
    assert "heavy: []" in loaded
    assert "measure" in loaded


def test_help_takes_less_than_half_of_importing_geopandas():
    """`gladebook --help` takes less than half the time that importing geopandas takes, in one run, in turns."""
    ours: list[float] = []
    theirs: list[float] = []
    for _ in range(5):
        for times, code in (
            (ours, "import sys; sys.argv=['gladebook','--help']; from gladebook.cli import main; main()"),
            (theirs, "import geopandas"),
        ):
            start = time.perf_counter()
            run(code)
            times.append(time.perf_counter() - start)
    assert statistics.median(ours) < 0.5 * statistics.median(theirs), (ours, theirs)
