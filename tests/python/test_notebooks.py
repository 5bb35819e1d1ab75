"""Every notebook of the guide runs from top to bottom without an error or a warning, and none is committed with its
outputs.
"""

from __future__ import annotations

from pathlib import Path

import nbformat
import pytest
from jupyter_client.manager import AsyncKernelManager
from nbclient import NotebookClient

FOLDER = Path(__file__).parents[2] / "docs"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
MOST_CELLS = 12


def opened(path: Path) -> nbformat.NotebookNode:
    return nbformat.read(path, as_version=4)  # type: ignore[no-untyped-call, no-any-return]


def test_there_is_a_notebook() -> None:
    assert "first_brew.ipynb" in [path.name for path in NOTEBOOKS]


def test_two_kettles_go_from_files_to_a_figure_in_under_15_lines() -> None:
    cells = opened(FOLDER / "two_kettles.ipynb").cells
    code = [cell.source for cell in cells if cell.cell_type == "code"]
    figure = next(place for place, source in enumerate(code) if "plot_comparison" in source)
    assert sum(len([line for line in source.split("\n") if line]) for source in code[: figure + 1]) < 15


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_no_output_is_committed(path: Path) -> None:
    cells = opened(path).cells
    assert len(cells) < MOST_CELLS
    for cell in cells:
        assert not cell.get("outputs")
        assert cell.get("execution_count") is None


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
# What the notebook's own machinery warns of is not about this library; what a cell warns of is among its outputs.
@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_it_runs_without_error_or_warning(path: Path, tmp_path: Path, this_python: type[AsyncKernelManager]) -> None:
    notebook = opened(path)
    where = {"metadata": {"path": str(tmp_path)}}
    done = NotebookClient(notebook, timeout=120, kernel_manager_class=this_python, resources=where).execute()
    outputs = [output for cell in done.cells for output in cell.get("outputs", [])]
    assert [output.text for output in outputs if output.output_type == "stream" and output.name == "stderr"] == []
    kinds = {kind for output in outputs for kind in output.get("data", {})}
    assert {"text/html", "image/png"} <= kinds
