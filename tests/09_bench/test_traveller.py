"""Travellers: check measurements against closed forms, and what each page holds."""

from dataclasses import replace

import numpy as np
import pytest
from exact_frames import cone_frame

from futtock.bench.fastening import FasteningSettings
from futtock.bench.holes import lay_holes, with_holes
from futtock.bench.traveller import CAUTION_OF_STAGE, frame_checks, travellers
from futtock.bench.weights import weigh
from futtock.errors import Misused
from futtock.framing.frame import FramePlane
from futtock.moulds.flat import moulds
from futtock.moulds.settings import MouldSettings

MARKS = [("A", "sirmark", 0.4), ("sheer", "sheer", 1.0)]


def test_checks_of_a_cone_frame():
    """Breadths, diagonals and heights are chords of the joint's circle."""
    frame = cone_frame(12.0, angles_deg=(15, 115), marks=MARKS)
    r = 4000 * np.tan(np.radians(12.0))
    checks = {c.name: c for c in frame_checks(frame, cross_spall_mm=100.0)}
    head, sirmark = np.radians([115, 15 + 40])
    assert checks["breadth at the sheer"].mm == pytest.approx(2 * r * np.sin(head))
    assert checks["breadth at sirmark A"].mm == pytest.approx(2 * r * np.sin(sirmark))
    # chord between angles -55 and 115 of one circle
    across = checks["sirmark A to the other side's sheer, both ways"]
    assert across.mm == pytest.approx(2 * r * np.sin((head + sirmark) / 2))
    assert checks["sheer above heel, on the centreline"].mm == pytest.approx(
        r * (np.cos(np.radians(15)) - np.cos(head))
    )
    spall = checks["cross spall, outside to outside"]
    assert spall.mm == pytest.approx(2 * np.sqrt(r**2 - 100.0**2), abs=0.05)
    assert {c.tolerance_mm for c in checks.values()} == {3.0}
    with pytest.raises(Misused):
        frame_checks(frame, 0.0)


def test_checks_of_a_cant_are_in_the_vessels_space():
    """A canted frame's breadth is less than its plane's by the cosine of the cant."""
    square = cone_frame(12.0, marks=MARKS)
    cant = replace(square, plane=FramePlane(1, 4000.0, 30.0, 0.0, 50.0))
    for a, b in zip(frame_checks(square), frame_checks(cant), strict=True):
        if a.kind == "breadth":
            assert b.mm == pytest.approx(a.mm * np.cos(np.radians(30)))
        elif a.kind == "height":
            assert b.mm == pytest.approx(a.mm)


def test_a_page_a_side():
    """Each side's page has its timbers with slab and weight, holes, checks and cautions."""
    frames = [cone_frame(12.0, number=k, marks=MARKS) for k in (4, 5)]
    rule = FasteningSettings()
    holes = lay_holes(frames, rule)
    made = with_holes(moulds(frames, MouldSettings()), holes)
    weights = weigh(frames, made)
    slabs = {"5-S-f1": "A-07"}
    port, starboard = travellers(frames[1], made, holes[1], weights, rule, slabs=slabs)
    assert (port.code, starboard.code) == ("5-P", "5-S")
    assert [t.mark for t in starboard.timbers] == [m.mark for m in made if "5-S" in m.mark]
    assert {t.mark: t.slab for t in starboard.timbers}["5-S-f1"] == "A-07"
    assert {t.slab for t in port.timbers} == {None}
    assert port.holes == starboard.holes == len(holes[1].holes)
    # each hole goes through one timber of each layer
    assert sum(t.holes for t in port.timbers) == 2 * port.holes
    assert port.wedges == 2 * port.holes
    assert port.mass_kg + starboard.mass_kg == pytest.approx(weights.frames[1].mass_kg)
    said = dict(port.cautions)
    assert set(said) == set(CAUTION_OF_STAGE)
    assert all(said[stage] for stage in said)
