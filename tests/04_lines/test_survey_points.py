"""Survey points: every kind of file read, every broken one found out and none hung upon."""

from __future__ import annotations

import builtins
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from ezdxf.filemanagement import new

from futtock.lines import read_survey
from futtock.lines.survey import Survey


def cloud(n: int = 600) -> np.ndarray:
    """Points of an invented tub, both sides, millimetres."""
    rng = np.random.default_rng(2)
    x, a = rng.uniform(0, 9000, n), rng.uniform(-1.4, 1.4, n)
    return np.column_stack([x, 1500 * np.sin(a), 1800 - 1500 * np.cos(a)])


def _read(path: Path, unit: str = "mm", most: int = 20_000_000) -> Survey:
    survey, _ = read_survey(path, unit, most)
    assert survey is not None
    return survey


def test_csv_with_header_and_lines(tmp_path: Path) -> None:
    """A CSV's columns may stand in any order, and a row may name its line."""
    p = cloud()
    rows = [f"{z:.3f},{x:.3f},{y:.3f}," for x, y, z in p]
    rows += [f"300,{x},0,keel" for x in range(500, 8000, 500)]
    (tmp_path / "a.csv").write_text("z,x,y,line\n" + "\n".join(rows) + "\n")
    survey = _read(tmp_path / "a.csv")
    np.testing.assert_allclose(survey.points, p, atol=1e-3)
    assert survey.lines["keel"].shape == (15, 3)
    assert survey.both_sides


def test_bad_rows_are_passed_over_and_told(tmp_path: Path) -> None:
    """Rows that are no three numbers, and points that are none, are counted in findings."""
    text = "\n".join(f"{x:.3f} {y:.3f} {z:.3f}" for x, y, z in cloud())
    (tmp_path / "a.xyz").write_text("# station\n" + text + "\nnothing here\n1 2\nnan 1 2\n")
    survey, notes = read_survey(tmp_path / "a.xyz")
    assert survey is not None
    assert len(survey.points) == 600
    assert [n.code for n in notes] == ["L104", "L104"]
    assert "2 lines" in notes[0].message


@pytest.mark.parametrize("encoding", ["ascii", "binary"])
def test_ply(tmp_path: Path, encoding: str) -> None:
    """Vertices of a PLY, written by another library, come back in metres as millimetres."""
    p = cloud()
    done = trimesh.exchange.ply.export_ply(trimesh.PointCloud(p / 1000), encoding=encoding)
    (tmp_path / "a.ply").write_bytes(done)
    np.testing.assert_allclose(_read(tmp_path / "a.ply", "m").points, p, atol=0.01)


def test_las(tmp_path: Path) -> None:
    """Points of a LAS file, written by laspy, come back to its scale of a tenth of a millimetre."""
    laspy = pytest.importorskip("laspy")
    header = laspy.LasHeader(point_format=3, version="1.2")
    header.scales = np.full(3, 1e-4)
    las = laspy.LasData(header)
    las.x, las.y, las.z = cloud().T / 1000
    las.write(str(tmp_path / "a.las"))
    np.testing.assert_allclose(_read(tmp_path / "a.las", "m").points, cloud(), atol=0.06)


def test_las_without_its_library_says_which_extra(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without laspy the finding names the extra to install."""
    real = builtins.__import__

    def gone(name: str, *args: Any, **kwargs: Any) -> Any:
        if name == "laspy":
            raise ImportError(name)
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", gone)
    (tmp_path / "a.las").write_bytes(b"LASF")
    survey, notes = read_survey(tmp_path / "a.las")
    assert survey is None
    assert "futtock[scan]" in str(notes[0].remedy)


def test_dxf_layers_name_lines(tmp_path: Path) -> None:
    """Points and 3-D polylines of a DXF, their layer naming the line."""
    document = new()
    space = document.modelspace()
    for p in cloud():
        space.add_point(tuple(p))
    keel = [(500.0 * k, 0.0, 300.0) for k in range(12)]
    space.add_polyline3d(keel, dxfattribs={"layer": "Keel"})
    document.saveas(tmp_path / "a.dxf")
    survey = _read(tmp_path / "a.dxf")
    np.testing.assert_allclose(survey.points, cloud(), atol=1e-6)
    np.testing.assert_allclose(survey.lines["keel"], keel)


HEAD = "ply\nformat {0} 1.0\nelement vertex {1}\n" + "".join(f"property float {c}\n" for c in "xyz")


@pytest.mark.parametrize(
    ("text", "code", "says"),
    [
        (b"hello", "L102", "header"),
        (b"ply\nformat ascii 1.0\nelement vertex 5\n", "L102", "end_header"),
        (b"ply\nformat ascii 1.0\nend_header\n", "L102", "no vertices"),
        ((HEAD.format("ascii", "many") + "end_header\n").encode(), "L102", "many"),
        (
            (HEAD.format("binary_little_endian", 5000) + "end_header\n").encode() + b"\0" * 99,
            "L102",
            "5,000",
        ),
        ((HEAD.format("ascii", 100_000_000) + "end_header\n").encode(), "L103", "100,000,000"),
    ],
)
def test_a_broken_ply_is_found_out(tmp_path: Path, text: bytes, code: str, says: str) -> None:
    """A header that is broken, promises too much, or counts a hundred million is a finding."""
    (tmp_path / "a.ply").write_bytes(text)
    survey, notes = read_survey(tmp_path / "a.ply")
    assert survey is None
    assert notes[0].code == code
    assert says in notes[0].message


@pytest.mark.parametrize("name", ["a.stl", "missing.csv", "empty.csv"])
def test_nothing_to_read(tmp_path: Path, name: str) -> None:
    """An unknown kind, a missing file and an empty one are each a clear finding."""
    if not name.startswith("missing"):
        (tmp_path / name).write_text("")
    survey, notes = read_survey(tmp_path / name)
    assert survey is None
    assert notes[-1].code == "L101"


def test_more_points_than_can_be_used(tmp_path: Path) -> None:
    """A text file longer than the most is refused before it is all read."""
    (tmp_path / "a.xyz").write_text("1 2 3\n" * 3000)
    survey, notes = read_survey(tmp_path / "a.xyz", most=500)
    assert survey is None
    assert notes[0].code == "L103"


def test_a_unit_mix_up_is_asked_about(tmp_path: Path) -> None:
    """Metres read as millimetres span nine millimetres: the finding asks whether m was meant."""
    np.savetxt(tmp_path / "a.xyz", cloud() / 1000)
    survey, notes = read_survey(tmp_path / "a.xyz")
    assert survey is not None
    assert [(n.code, n.expected) for n in notes] == [("L105", "m")]
