"""The command line as the tests run it: a process of its own."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any

FINDING = {"code", "severity", "file", "line", "column", "read", "expected", "remedy"}


def futtock(*words: str, code: int | tuple[int, ...] = 0) -> subprocess.CompletedProcess[str]:
    """Run the command line and check its exit code."""
    done = subprocess.run(
        [sys.executable, "-m", "futtock", *words], capture_output=True, text=True, check=False
    )
    codes = (code,) if isinstance(code, int) else code
    assert done.returncode in codes, (words, done.returncode, done.stdout[-800:], done.stderr)
    return done


def document(*words: str, code: int | tuple[int, ...] = 0) -> dict[str, Any]:
    """What a verb prints with --json: one document, with findings of the fixed keys."""
    done = futtock(*words, "--json", code=code)
    whole: dict[str, Any] = json.loads(done.stdout)
    assert all(set(f) >= FINDING for f in whole["findings"])
    return whole
