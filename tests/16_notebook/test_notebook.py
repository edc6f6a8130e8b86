"""The example notebook runs, and shows pictures."""

from __future__ import annotations

from pathlib import Path

import pytest

NOTEBOOK = Path(__file__).parents[2] / "docs" / "notebooks" / "marram.ipynb"


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
def test_the_example_notebook_runs(tmp_path: Path) -> None:
    """Every cell runs in a fresh kernel; hull, frame, mould, layout and saw sheet are pictures,
    the answers are words.
    """
    import nbformat
    from nbclient import NotebookClient

    book = nbformat.read(NOTEBOOK, as_version=4)
    assert not any(c.get("outputs") for c in book.cells)  # kept without outputs
    NotebookClient(book, timeout=180, resources={"metadata": {"path": str(tmp_path)}}).execute()
    last = {
        c.source.splitlines()[-1]: [o.data for o in c.outputs if "data" in o]
        for c in book.cells
        if c.cell_type == "code"
    }
    for shown in (
        "hull",
        "framing.frame(13)",
        "ft.mould(job, mark)",
        "layout",
        "ft.saw(job, mark)",
    ):
        (data,) = last[shown]
        assert data["image/svg+xml"].startswith("<svg")
        assert len(data["text/plain"]) < 60
    (words,) = last["ft.when(job, runs=200)"]
    assert words["text/plain"].startswith("She will likely be framed by")
    assert (tmp_path / "papers" / "lines" / "lines-plan.pdf").is_file()
