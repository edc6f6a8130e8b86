"""Workbook, glTF and STEP read back by libraries that did not write them, or by geometry."""

from __future__ import annotations

import io
import zipfile

import numpy as np
import pytest
import trimesh
from exact_frames import cone_frame, shape_of
from openpyxl import load_workbook
from whole_marram import HEADING, marram

from futtock.errors import Misused
from futtock.export import step
from futtock.export.gltf import glb, to_scene
from futtock.export.solids import mesh, standing, volume_mm3
from futtock.export.workbook import workbook

needs_cad = pytest.mark.skipif(not step.available(), reason="the extra 'cad' is not installed")


def _planes():
    return {f.plane.number: f.plane for f in marram().framing.frames}


def test_a_timber_stands_on_the_hulls_frames() -> None:
    """Corners of every standing timber are points of its frame's faces, port mirrored."""
    for mould in marram().moulds[::23]:
        frame = next(f for f in marram().framing.frames if f.plane.number == mould.frame)
        t = standing(mould, frame.plane)
        _, out, up = frame.plane.axes()
        mirror = np.array([1.0, -1.0 if mould.side == "P" else 1.0, 1.0])
        joint = (frame.plane.origin(0.0) + frame.joint.edge_mm @ np.array([out, up])) * mirror
        line = t.up_outer if (mould.up == "aft") == (mould.layer == "f") else t.down_outer
        inner = line[(len(line) // 10) : -(len(line) // 10)]
        far = np.array([np.linalg.norm(joint - p, axis=1).min() for p in inner])
        step_mm = np.linalg.norm(np.diff(joint, axis=0), axis=1).max()
        assert far.max() < step_mm
        assert np.all(np.sign(line[:, 1]) == mirror[1])


def test_meshes_are_closed_and_hold_the_moulds_volume() -> None:
    """Each timber's mesh is watertight, and its volume is the mould's within 0.05 %.

    The mesh cuts each twisted quadrilateral of a sawn edge into two flat triangles, which is what
    the tolerance allows for; the solids of the STEP file are held to 0.01 %.
    """
    for mould in marram().moulds[::9]:
        corners, triangles = mesh(standing(mould, _planes()[mould.frame]))
        body = trimesh.Trimesh(corners, triangles)
        assert body.is_watertight
        assert volume_mm3(corners, triangles) * 1e-9 == pytest.approx(mould.volume_m3, rel=5e-4)


def test_gltf_reads_back() -> None:
    """Another scene loader finds every timber by name, in metres, where it stands."""
    moulds = marram().moulds[:12]
    data = glb(marram().framing.frames, moulds, marram().fairing.hull)
    scene = trimesh.load(io.BytesIO(data), file_type="glb")
    assert set(scene.geometry) >= {m.mark for m in moulds} | {"hull"}
    for m in moulds:
        corners, _ = mesh(standing(m, _planes()[m.frame]))
        want = to_scene(corners)
        got = scene.geometry[m.mark].vertices
        assert got.min(axis=0) == pytest.approx(want.min(axis=0), abs=1e-5)
        assert got.max(axis=0) == pytest.approx(want.max(axis=0), abs=1e-5)
    hull = scene.geometry["hull"].bounds
    assert hull[1][0] - hull[0][0] > 11.0
    assert hull[0][2] == pytest.approx(-hull[1][2], abs=1e-5)


def test_the_scene_is_turned_not_mirrored() -> None:
    """From the vessel's axes to glTF's is a turn: its determinant is one thousandth cubed."""
    axes = to_scene(np.eye(3))
    assert np.linalg.det(axes) == pytest.approx(1e-9)


def test_nothing_to_show_is_refused() -> None:
    """Without a hull and timbers there is no scene, and without frames no solid."""
    with pytest.raises(Misused):
        glb((), ())
    from dataclasses import replace

    loose = replace(marram().moulds[0], place=None)
    with pytest.raises(Misused, match="without a frame"):
        standing(loose, _planes()[1])


@needs_cad
def test_step_volumes_are_the_moulds() -> None:
    """Volumes of the solids, read back from the file, are the moulds' within 0.01 %.

    The timbers of the last frames, whose heels and throats have the most corners, are among them.
    """
    moulds = [*marram().moulds[::25], *(m for m in marram().moulds if m.mark[:4] == "27-S")]
    data = step.step(marram().framing.frames, moulds, vessel="Marram", date="2026-03-14")
    volumes = step.read_volumes(data)
    assert len(volumes) == len(moulds)
    for got, mould in zip(volumes, moulds, strict=True):
        assert got * 1e-9 == pytest.approx(mould.volume_m3, rel=1e-4)


@needs_cad
@pytest.mark.slow
def test_every_timber_is_a_solid_of_its_moulds_volume() -> None:
    """Every timber of the demo closes to a solid with its mould's volume within 0.01 %."""
    for mould in marram().moulds:
        if mould.same_as is None:
            made = step.solid(standing(mould, _planes()[mould.frame]))
            assert step.volume_mm3(made) * 1e-9 == pytest.approx(mould.volume_m3, rel=1e-4)


@needs_cad
def test_step_solid_of_a_cone_frame() -> None:
    """A timber of a cone's frame has the closed form's volume within 0.01 %.

    Between planes x0 and x1 and radii R = x tan g and R - m, over the angle a:
    V = a / 2 * integral of (R^2 - (R - m)^2) dx = a m / 2 * integral of (2 x tan g - m) dx.
    """
    from futtock.moulds.flat import lay_flat
    from futtock.moulds.settings import MouldSettings

    g, x1, sided, m = np.radians(12.0), 4000.0, 50.0, 100.0
    frame = cone_frame(12.0, x_mm=x1, sided_mm=sided, moulded_mm=m, count=321)
    timber = next(t for t in frame.timbers if t.mark == "1-S-a2")
    mould = lay_flat(shape_of(frame, timber), frame, timber, MouldSettings())
    got = step.volume_mm3(step.solid(standing(mould, frame.plane)))
    a = np.radians(100.0) * 0.5
    x2 = x1 + sided
    want = a * m / 2 * ((x2**2 - x1**2) * np.tan(g) - m * sided)
    assert got == pytest.approx(want, rel=1e-4)


@needs_cad
def test_step_is_named_quiet_and_the_same_twice(capfd) -> None:
    """Piece marks name the solids, nothing is printed, the same timbers give the same bytes."""
    moulds = marram().moulds[:3]
    one = step.step(marram().framing.frames, moulds, vessel="Marram", date="2026-03-14")
    two = step.step(marram().framing.frames, moulds, vessel="Marram", date="2026-03-14")
    assert one == two
    assert b"2026-03-14T00:00:00" in one
    assert all(m.mark.encode() in one for m in moulds)
    assert capfd.readouterr().out == ""


def test_the_workbook_reads_back() -> None:
    """Numbers are numbers, one row a thing, and the same data give the same bytes."""
    job = marram()
    holes = {h.frame: h for h in job.holes}
    data = workbook(job.framing.frames, job.moulds, HEADING, holes=holes)
    few = (job.framing.frames[:2], job.moulds[:9], HEADING)
    assert workbook(*few) == workbook(*few)
    book = load_workbook(io.BytesIO(data))
    assert book.sheetnames == ["framing", "bevels", "timbers", "moulds", "marks", "holes"]
    rows = list(book["framing"].iter_rows(values_only=True))
    assert len(rows) == len(job.framing.frames) + 1
    at = rows[0].index("joint face aft of FP, mm")
    for row, frame in zip(rows[1:], job.framing.frames, strict=True):
        assert row[0] == frame.plane.number
        assert row[at] == pytest.approx(frame.plane.x_mm, abs=1e-3)
    assert book["timbers"].max_row == len(job.framing.timbers) + 1
    masses = [r[-3] for r in book["moulds"].iter_rows(min_row=2, values_only=True)]
    assert sum(masses) == pytest.approx(sum(m.mass_kg for m in job.moulds), rel=1e-4)
    assert book["marks"].max_row == sum(len(m.marks) for m in job.moulds) + 1


def test_the_workbook_holds_no_formula() -> None:
    """No cell is a formula, so that a name beginning with = cannot become one."""
    from dataclasses import replace

    moulds = [replace(marram().moulds[0], mark="=1+1")]
    data = workbook(marram().framing.frames[:1], moulds, HEADING)
    book = load_workbook(io.BytesIO(data))
    cells = [c for s in book for row in s.iter_rows() for c in row]
    assert not [c for c in cells if c.data_type == "f"]
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert archive.testzip() is None
