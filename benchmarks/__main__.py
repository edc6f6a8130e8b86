"""``python -m benchmarks [NAME ...]``: run the benchmarks one after another, each on its own.

Each prints its table; what is worth keeping is written into RESULTS.md by hand or by the script
itself, with the machine and the seeds. Those that take an hour are run only when named.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
USUAL = ("framing", "lines", "layout", "growth", "targets")
BESIDE = {"__main__", "__init__", "record", "invented_hulls", "outside_check", "yard_instance"}


def names() -> list[str]:
    """Every benchmark that can be run."""
    return sorted(p.stem for p in HERE.glob("*.py") if p.stem not in BESIDE)


def main() -> int:
    """Run those named, else the usual ones; the exit code is that of the worst."""
    asked = sys.argv[1:] or [n for n in USUAL if n in names()]
    unknown = set(asked) - set(names())
    if unknown:
        print(f"No benchmark {', '.join(sorted(unknown))}; there are {', '.join(names())}.")
        return 2
    worst = 0
    for name in asked:
        print(f"== {name}", flush=True)
        done = subprocess.run([sys.executable, "-m", f"benchmarks.{name}"], cwd=HERE.parent)
        worst = max(worst, done.returncode)
    return worst


if __name__ == "__main__":
    sys.exit(main())
