"""The order of the house: who may import whom, and which library each layer may use."""

import ast
import sys
from pathlib import Path

SRC = Path(__file__).parents[1] / "src" / "gladebook"

# layer -> (number, third-party libraries); the picture is in DEVELOPERS.md
LAYERS: dict[str, tuple[int, set[str]]] = {
    "errors": (0, set()),
    "notes": (0, set()),
    "units": (0, set()),
    "geometry": (1, {"numpy", "shapely", "pyproj", "numba"}),
    "plots": (2, {"numpy", "shapely"}),
    "passes": (2, {"numpy", "shapely"}),
    "products": (2, set()),
    "weather": (2, {"astral"}),
    "beside": (3, {"numpy", "shapely"}),
    "doubt": (4, {"numpy", "shapely", "threadpoolctl"}),
    "coverage": (5, {"numpy", "shapely"}),
    "spraying": (6, set()),
    "records": (7, set()),
    "season": (8, set()),
    "io": (9, {"numpy", "shapely", "pyproj", "pyogrio", "pyarrow", "rasterio"}),
    "view": (9, {"shapely", "rich"}),
    "jobs": (10, set()),
    "testing": (11, {"numpy", "shapely"}),
    "web": (12, {"fastapi", "starlette", "pydantic", "uvicorn"}),
    "cli": (13, {"typer", "rich"}),
}
FREE = {"errors", "notes", "units"}


def layer_of(module: str) -> str:
    return module.split(".")[1]


def wrong_imports(module: str, source: str) -> list[str]:
    """Imports of one module, inside functions too, that break the order."""
    here = layer_of(module)
    number, libraries = LAYERS[here]
    wrong = []
    for node in ast.walk(ast.parse(source)):
        names = []
        if isinstance(node, ast.Import):
            names = [a.name for a in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module or ""] if node.level == 0 else ["gladebook.<relative>"]
            if node.module == "gladebook":
                names = [f"gladebook.{a.name}" for a in node.names]
        for name in names:
            top = name.split(".")[0]
            if top == "gladebook":
                there = layer_of(f"{name}.")
                fine = there == here or there in FREE or (there in LAYERS and LAYERS[there][0] < number)
            else:
                fine = top in sys.stdlib_module_names or top in libraries
            if not fine:
                wrong.append(f"{module} imports {name}")
    return wrong


def modules() -> list[tuple[str, str]]:
    found = []
    for path in sorted(SRC.rglob("*.py")):
        dotted = ".".join(["gladebook", *path.relative_to(SRC).with_suffix("").parts]).removesuffix(".__init__")
        if dotted != "gladebook":
            found.append((dotted, path.read_text(encoding="utf-8")))
    return found


def test_every_module_keeps_the_order_of_imports():
    """A module imports only from lower layers, its own folder, errors and units, and its layer's libraries."""
    assert [w for name, source in modules() for w in wrong_imports(name, source)] == []


def test_the_order_test_catches_planted_wrong_imports():
    """An upward import, a blind sibling, a relative one and a foreign library are each caught, in functions too."""
    planted = {
        "gladebook.geometry.x": "def f():\n    from gladebook.plots.plot import Plot\n",
        "gladebook.plots.x": "import gladebook.passes.track\n",
        "gladebook.view.x": "from gladebook.io import write\n",
        "gladebook.units.x": "import numpy\n",
        "gladebook.jobs.x": "from gladebook import cli\n",
        "gladebook.coverage.x": "from . import result\n",
    }
    for module, source in planted.items():
        assert len(wrong_imports(module, source)) == 1, module


def test_every_folder_has_a_place_in_the_order():
    """No module lies outside the layers that the order knows."""
    assert {layer_of(name) for name, _ in modules()} == set(LAYERS)


def test_modules_and_functions_stay_small():
    """No module has over 350 lines, no function over 60 lines of code beside its docstring."""
    too_long = []
    for name, source in modules():
        if source.count("\n") > 350:
            too_long.append(name)
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.FunctionDef):
                words = ast.get_docstring(node, clean=False)
                lines = (node.end_lineno or 0) - node.lineno + 1 - (words.count("\n") + 1 if words else 0)
                if lines > 60:
                    too_long.append(f"{name}.{node.name} {lines}")
    assert too_long == []
