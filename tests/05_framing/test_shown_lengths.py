"""What is told of lines, frames, moulds and lack of wood is told in the vessel's own measure."""

from __future__ import annotations

import ast
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
from exact_surfaces import keeled, settings
from line_tables import marram

import futtock
from futtock.findings import Finding
from futtock.framing.asbuilt import AsBuilt, astray
from futtock.framing.build import frame_hull
from futtock.framing.checks import too_wide
from futtock.lines import FairSettings, RestoreSettings, Survey, Zone, fair_survey
from futtock.lines.fair import fair

HOUSE = Path(futtock.__file__).parent
TELL = (
    *sorted((HOUSE / "lines").glob("*.py")),
    *sorted((HOUSE / "framing").glob("*.py")),
    HOUSE / "moulds" / "doubt.py",
    HOUSE / "layout" / "shortfall.py",
)
METRIC = re.compile(r"\d ?(mm|m2|m²)\b")


def unmeasured(source: str) -> list[str]:
    """Sentences that write ``mm`` after a figure, but for refusals and what a metric table says."""
    tree = ast.parse(source)
    refused = {id(s) for r in ast.walk(tree) if isinstance(r, ast.Raise) for s in ast.walk(r)}
    out = []
    for joined in ast.walk(tree):
        if not isinstance(joined, ast.JoinedStr) or id(joined) in refused:
            continue
        for figure, after in zip(joined.values, joined.values[1:], strict=False):
            said = isinstance(figure, ast.FormattedValue) and isinstance(after, ast.Constant)
            if said and re.match(r" (mm|m2|m²)\b", str(getattr(after, "value", ""))):
                out.append(ast.unparse(joined))
    return out


def test_no_sentence_has_millimetres_of_its_own() -> None:
    """Nowhere in these rooms does a sentence that is told write ``mm`` behind a figure itself."""
    for path in TELL:
        left = unmeasured(path.read_text(encoding="utf-8"))
        # a table written in millimetres has its slips told in them
        assert [s for s in left if not (path.name == "slips.py" and "step" in s)] == [], path.name


def test_the_look_at_sentences_sees_one() -> None:
    """The walk over the sentences finds one that does write them."""
    assert unmeasured("said = f'it is {x:.0f} mm long'")


def told() -> list[Finding]:
    """Findings of many kinds, of a vessel shown in feet and inches."""
    found: list[Finding] = []
    changes = (
        {"departure_mm": 0.001},
        {"longest_mm": 400.0, "shortest_mm": 350.0},
        {"widest_mm": 90.0},
        {"butt_line_mm": 900.0},
        {"heads": 4000.0},
    )
    for change in changes:
        stated = settings(**{"cants": "none", "longest_mm": 1500.0, **change})
        framing = frame_hull(keeled(), replace(stated, show="imperial"))
        found += framing.findings
    found += too_wide(framing.frames, 90.0, "imperial")
    astray_point = AsBuilt(framing.frames[0].number, "S", 99.0, 9e4, 0)
    found += astray(framing.frames, [astray_point], "imperial")
    found += fair(marram(), FairSettings(25.4 / 16, waterline_mm=-900.0, show="imperial")).findings
    rng = np.random.default_rng(2)
    x, a = rng.uniform(0, 9000, 4000), rng.uniform(0, np.pi / 2, 4000)
    side = np.where(rng.random(4000) < 0.5, -1.0, 1.0)
    wide = 1400 * (1 - (x / 4500 - 1) ** 2 * 0.8)
    p = np.column_stack([x, side * wide * np.sin(a), 1500 - 1200 * np.cos(a)])
    standing = fair_survey(
        Survey(p + rng.normal(0, 2, p.shape), {}, "scan.csv"),
        FairSettings(3.0, show="imperial"),
        RestoreSettings(show="imperial"),
        (Zone("midships", 4000.0, 5000.0),),
    )
    return [*found, *standing.findings]


def test_findings_of_an_imperial_vessel_have_no_millimetres() -> None:
    """Doubtful figures, frames that break rules and a standing hull: feet, inches and eighths."""
    found = told()
    codes = {f.code for f in found}
    assert {"L001", "L002", "L110", "L111", "F004", "F006", "F007", "F010", "F019"} <= codes
    assert [f.message for f in found if METRIC.search(f.message)] == []
