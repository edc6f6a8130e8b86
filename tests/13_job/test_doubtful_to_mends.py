"""Doubtful figures go to a paper of their own and back as mends; the table stays as printed."""

from __future__ import annotations

import csv
from pathlib import Path

from futtock.job import verbs
from futtock.progress import quiet


def test_what_is_doubtful_is_written_mended_and_the_table_left_alone(marram_copy: Path) -> None:
    """``fair`` writes both slips with mends; put into ``mends.csv`` none is left in doubt, and
    no paper of the builder's is written over.
    """
    stated = {p.name: p.read_bytes() for p in marram_copy.iterdir() if p.is_file()}
    verbs.fair(str(marram_copy), quiet)
    rows = list(csv.DictReader((marram_copy / "doubtful.csv").read_text("utf-8").splitlines()))
    slips = (Path(__file__).parents[1] / "data/demo/slips.csv").read_text().splitlines()
    true = {(f"{r['line']} {r['at']}", r["station"]): r["true"] for r in csv.DictReader(slips)}
    assert {(r["line"], r["station"]): r["mend"] for r in rows} == true
    assert all("neighbours give" in r["why"] for r in rows)
    with (marram_copy / "mends.csv").open("w", newline="", encoding="utf-8") as file:
        out = csv.writer(file)
        out.writerow(["line", "station", "value", "why"])
        out.writerows([r["line"], r["station"], r["mend"], r["why"]] for r in rows)
    answer = verbs.fair(str(marram_copy), quiet)
    assert not [p for p in answer.document["points"] if p["doubtful"]]
    for name, content in stated.items():
        if name not in ("mends.csv", "doubtful.csv"):
            assert (marram_copy / name).read_bytes() == content, name
