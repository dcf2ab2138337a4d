"""Notebooks run from the first cell to the last."""

import shutil
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

ROOT = Path(__file__).parents[1]
PRINTS = {
    "measure_and_check": ("Kidney Bottom", "ac of spray for"),
    "one_winter_in_clover": ("Wasp Waist", "NOT checked", "do not raise the rate", "label is the law"),
}


@pytest.mark.parametrize("path", sorted((ROOT / "notebooks").glob("*.ipynb")), ids=lambda p: p.stem)
def test_a_notebook_runs_and_is_stored_without_output(path: Path, tmp_path: Path):
    """Every cell runs on the sample maps; the stored notebook carries no output that could go stale."""
    shutil.copytree(ROOT / "sample_maps", tmp_path / "sample_maps")
    notebook = nbformat.read(path, as_version=4)
    assert all(not cell.get("outputs") for cell in notebook.cells)
    NotebookClient(notebook, timeout=120, resources={"metadata": {"path": str(tmp_path)}}).execute()
    printed = "".join(o.get("text", "") for c in notebook.cells if c.cell_type == "code" for o in c.outputs)
    for words in PRINTS[path.stem]:
        assert words in printed
