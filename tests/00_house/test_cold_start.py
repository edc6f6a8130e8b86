"""The command line starts without the heavy libraries."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

HEAVY = [
    "numpy", "scipy", "numba", "sqlalchemy", "shapely", "cv2", "trimesh", "ortools", "pandas",
    "ezdxf", "reportlab", "openpyxl", "fastapi", "simpy",
]  # fmt: skip

ASK = """
import contextlib, io, json, sys
{ask}
print(json.dumps(sorted(m for m in {heavy!r} if m in sys.modules)))
"""

HELP = """
sys.argv = ["futtock", "--help"]
from futtock.cli import main
with contextlib.redirect_stdout(io.StringIO()) as said:
    try:
        main()
    except SystemExit as left:
        assert not left.code, left.code
assert "futtock" in said.getvalue().lower(), said.getvalue()
"""


def _loaded(ask: str) -> list[str]:
    words = [sys.executable, "-c", ASK.format(ask=ask, heavy=HEAVY)]
    done = subprocess.run(words, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    loaded: list[str] = json.loads(done.stdout.splitlines()[-1])
    return loaded


def test_the_probe_sees_a_heavy_library() -> None:
    """The probe below would notice: asked to import numpy, it says so."""
    assert _loaded("import numpy") == ["numpy"]


def test_help_loads_nothing_heavy() -> None:
    """``futtock --help`` loads no library that takes long to load."""
    assert _loaded(HELP) == []


@pytest.mark.parametrize(
    "module", ["futtock", "errors", "findings", "progress", "measure", "reference", "cli"]
)
def test_light_rooms_load_nothing_heavy(module: str) -> None:
    """The rooms that the command line starts with load no heavy library either."""
    name = module if module == "futtock" else f"futtock.{module}"
    assert _loaded(f"import {name}") == []
