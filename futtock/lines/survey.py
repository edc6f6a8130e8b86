"""Survey points of a standing hull, read from CSV or XYZ, PLY, LAS and DXF.

Axes are the vessel's: x aft of the forward perpendicular, y to starboard, z up. Rows of a CSV may
name the line they lie on (``keel``, ``sheer``, ``rabbet``, ``stem rabbet``, ``post rabbet``,
``transom edge``); in a DXF the layer does. Points without a name are of the hull's side. Whatever
is wrong comes back as findings; a file is never read beyond ``most`` points.
"""

from __future__ import annotations

import csv
import struct
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.lines import kinds

if TYPE_CHECKING:
    from ezdxf.entities.dxfentity import DXFEntity

Array = NDArray[np.float64]
Point = tuple[float, float, float]
LINES = (
    "keel",
    "sheer",
    "rabbet",
    "stem rabbet",
    "post rabbet",
    "sheer forward",
    "sheer aft",
    "transom edge",
)
MOST = 20_000_000
LEAST = 200
PER = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}


@dataclass(frozen=True)
class Survey:
    """Points taken off a hull, in millimetres.

    Attributes
    ----------
    points : (n, 3)
        Of the side or sides; y is negative to port.
    lines
        Points (m, 3) of named lines.
    file
        Where they came from.
    """

    points: Array
    lines: dict[str, Array] = field(default_factory=dict)
    file: str = ""

    @property
    def both_sides(self) -> bool:
        """True where a tenth or more of the points lies on the lesser side."""
        port = float((self.points[:, 1] < 0).mean()) if len(self.points) else 0.0
        return min(port, 1 - port) > 0.1


def read_survey(
    path: Path | str, unit: str = "mm", most: int = MOST
) -> tuple[Survey | None, tuple[Finding, ...]]:
    """Read survey points.

    Parameters
    ----------
    path
        ``.csv``, ``.xyz``, ``.txt``, ``.pts``, ``.ply``, ``.las``, ``.laz`` or ``.dxf``.
    unit
        Of the file's numbers: ``mm``, ``cm``, ``m``, ``in`` or ``ft``.
    most
        Points beyond which a file is refused.

    Returns
    -------
    survey, findings
        None where nothing could be used; the findings say why.
    """
    path = Path(path)
    name = path.name
    readers = {
        ".ply": _from_ply,
        ".las": _from_las,
        ".laz": _from_las,
        ".dxf": _from_dxf,
        ".csv": _from_text,
        ".xyz": _from_text,
        ".txt": _from_text,
        ".pts": _from_text,
    }
    reader = readers.get(path.suffix.lower())
    if reader is None:
        said = f"'{name}' is no kind of point file that can be read."
        expected = ", ".join(sorted(readers))
        return None, (kinds.NO_POINTS.found(said, file=name, read=path.suffix, expected=expected),)
    if not path.is_file():
        return None, (kinds.NO_POINTS.found(f"There is no '{name}'.", file=name),)
    notes: list[Finding] = []
    read = reader(path, most, notes)
    if read is None:
        return None, tuple(notes)
    points, lines = read
    scale = PER[unit]
    good = np.isfinite(points).all(axis=1)
    if not good.all():
        said = f"{int((~good).sum())} points have a coordinate that is no number; passed over."
        notes.append(kinds.BAD_POINTS.found(said, file=name))
    survey = Survey(
        np.ascontiguousarray(points[good]) * scale,
        {k: v[np.isfinite(v).all(axis=1)] * scale for k, v in lines.items() if len(v)},
        name,
    )
    notes += _sized(survey, unit)
    if len(survey.points) < LEAST:
        said = f"'{name}' gives {len(survey.points)} points of the side; {LEAST} are needed."
        return None, (*notes, kinds.NO_POINTS.found(said, file=name))
    return survey, tuple(notes)


def _sized(survey: Survey, unit: str) -> Iterator[Finding]:
    """Whether the size speaks for another unit."""
    if len(survey.points) < 3:
        return
    low, high = np.percentile(survey.points[:, 0], [1, 99])
    length = high - low
    if 1500.0 <= length <= 120_000.0:
        return
    right = next((u for u, k in PER.items() if 4000 <= length / PER[unit] * k <= 60_000), None)
    said = f"The points span {length / 1000:.3g} m along x" + (
        f": were they measured in {right}?" if right else "."
    )
    yield kinds.ODD_SIZE.found(said, file=survey.file, read=unit, expected=right)


_Read = tuple[Array, dict[str, Array]] | None


def _parted(points: Array, names: list[str]) -> tuple[Array, dict[str, Array]]:
    named = np.array([n.strip().lower() for n in names])
    lines = {n: points[named == n] for n in LINES if (named == n).any()}
    rest = ~np.isin(named, list(lines))
    return points[rest], lines


def _from_text(path: Path, most: int, notes: list[Finding]) -> _Read:
    points: list[tuple[float, float, float]] = []
    names: list[str] = []
    bad: list[int] = []
    with path.open(encoding="utf-8", errors="replace", newline="") as file:
        sample = file.readline()
        file.seek(0)
        mark = next((c for c in ",;\t" if c in sample), None)
        rows: Iterator[list[str]]
        rows = csv.reader(file, delimiter=mark) if mark else (line.split() for line in file)
        order = (0, 1, 2)
        label: int | None = None
        for number, row in enumerate(islice(rows, most + 1000), start=1):
            cells = [c.strip() for c in row]
            if not any(cells) or cells[0].startswith("#"):
                continue
            if not points and not bad:
                head = [c.lower() for c in cells]
                if {"x", "y", "z"} <= set(head):
                    order = (head.index("x"), head.index("y"), head.index("z"))
                    label = head.index("line") if "line" in head else None
                    continue
            try:
                points.append(
                    (float(cells[order[0]]), float(cells[order[1]]), float(cells[order[2]]))
                )
            except (ValueError, IndexError):
                bad.append(number)
                continue
            if label is not None:
                names.append(cells[label] if label < len(cells) else "")
        if next(rows, None) is not None:
            notes.append(_too_many(path, f"more than {most:,}", most))
            return None
    if bad:
        said = f"{len(bad)} lines are no three numbers; passed over."
        notes.append(kinds.BAD_POINTS.found(said, file=path.name, line=bad[0], expected="x, y, z"))
    array = np.array(points, float).reshape(-1, 3)
    return _parted(array, names) if names else (array, {})


def _too_many(path: Path, count: str, most: int) -> Finding:
    said = f"'{path.name}' holds {count} points."
    return kinds.TOO_MANY.found(said, file=path.name, read=count, expected=f"at most {most:,}")


def _from_ply(path: Path, most: int, notes: list[Finding]) -> _Read:
    said = _ply_fault(path, most)
    if said is not None:
        notes.append(said)
        return None
    import trimesh

    try:
        loaded = trimesh.load(path, process=False)
        vertices: Array = np.asarray(getattr(loaded, "vertices", ()), dtype=np.float64)
    except Exception as error:  # trimesh raises what its parsers raise
        notes.append(_broken(path, f"{type(error).__name__}: {error}"))
        return None
    return vertices.reshape(-1, 3), {}


def _broken(path: Path, why: str) -> Finding:
    return kinds.BROKEN_POINTS.found(f"'{path.name}' cannot be read: {why}", file=path.name)


_PLY_BYTES = {
    "char": 1, "uchar": 1, "int8": 1, "uint8": 1, "short": 2, "ushort": 2, "int16": 2,
    "uint16": 2, "int": 4, "uint": 4, "int32": 4, "uint32": 4, "float": 4, "float32": 4,
    "double": 8, "float64": 8,
}  # fmt: skip


def _ply_fault(path: Path, most: int) -> Finding | None:
    """What is wrong with a PLY's header, before anything is made of it."""
    with path.open("rb") as file:
        head = file.read(65536)
    end = head.find(b"end_header")
    if not head.startswith(b"ply") or end < 0:
        return _broken(path, "its header does not run from 'ply' to 'end_header'.")
    count, width, binary = -1, 0, False
    element = ""
    for line in head[:end].decode("latin-1").splitlines():
        words = line.split()
        if words[:1] == ["format"] and len(words) > 1:
            binary = words[1].startswith("binary")
        elif words[:1] == ["element"] and len(words) == 3:
            element = words[1]
            if element == "vertex":
                if not words[2].isdecimal() or len(words[2]) > 15:
                    return _broken(path, f"its header counts '{words[2]}' vertices.")
                count = int(words[2])
        elif words[:1] == ["property"] and element == "vertex" and len(words) == 3:
            width += _PLY_BYTES.get(words[1], 4)
    if count < 0:
        return _broken(path, "its header names no vertices.")
    if count > most:
        return _too_many(path, f"{count:,}", most)
    least = count * (width if binary else 6)
    if path.stat().st_size - end < least:
        return _broken(
            path, f"its header promises {count:,} vertices, and it is shorter than that."
        )
    return None


def _las_fault(path: Path) -> Finding | None:
    """What is wrong with a LAS header that would have its reader run on for hours.

    Offsets in the header by the ASPRS LAS specification 1.4 R15, table 3: records of variable
    length at 100 (each of 54 bytes at least), their extended kin at 243 (60 bytes).
    """
    with path.open("rb") as file:
        head = file.read(375)
    if not head.startswith(b"LASF") or len(head) < 227:
        return _broken(path, "it does not begin with a whole LAS header.")
    size = path.stat().st_size
    (records,) = struct.unpack_from("<I", head, 100)
    extended = struct.unpack_from("<I", head, 243)[0] if head[25] >= 4 and len(head) >= 247 else 0
    if 54 * records + 60 * extended > size:
        return _broken(path, f"its header promises {records + extended:,} records it cannot hold.")
    return None


def _from_las(path: Path, most: int, notes: list[Finding]) -> _Read:
    try:
        import laspy
    except ImportError:
        said = "Reading LAS needs the extra 'scan' (laspy)."
        notes.append(kinds.NO_POINTS.found(said, file=path.name, remedy="Install futtock[scan]."))
        return None
    fault = _las_fault(path)
    if fault is not None:
        notes.append(fault)
        return None
    try:
        with laspy.open(path) as file:
            count = file.header.point_count
            if count > most:
                notes.append(_too_many(path, f"{count:,}", most))
                return None
            las = file.read()
        return np.column_stack([las.x, las.y, las.z]).astype(float), {}
    except Exception as error:  # laspy and its decompressors raise what they like
        notes.append(_broken(path, f"{type(error).__name__}: {error}"))
        return None


def _from_dxf(path: Path, most: int, notes: list[Finding]) -> _Read:
    from ezdxf.filemanagement import readfile

    try:
        points, names = _dxf_points(readfile(path).modelspace(), most)
    except Exception as error:  # of a broken drawing ezdxf lets out what its parts raise
        notes.append(_broken(path, f"{type(error).__name__}: {error}"))
        return None
    if len(points) > most:
        notes.append(_too_many(path, f"more than {most:,}", most))
        return None
    return _parted(np.array(points, float).reshape(-1, 3), names)


def _dxf_points(space: Iterable[DXFEntity], most: int) -> tuple[list[Point], list[str]]:
    """Points and the layer of each; reading ends once there are more than so many."""
    points: list[Point] = []
    names: list[str] = []
    for entity in space:
        kind = entity.dxftype()
        found: list[Point] = []
        if kind == "POINT":
            found = [tuple(entity.dxf.location)]
        elif kind == "LINE":
            found = [tuple(entity.dxf.start), tuple(entity.dxf.end)]
        elif kind == "POLYLINE":
            found = [tuple(v.dxf.location) for v in entity.vertices]  # type: ignore[attr-defined]
        elif kind == "LWPOLYLINE":
            found = [tuple(v) for v in entity.vertices_in_wcs()]  # type: ignore[attr-defined]
        elif kind == "3DFACE":
            found = [tuple(v) for v in entity.wcs_vertices()]  # type: ignore[attr-defined]
        points += found
        names += [entity.dxf.layer] * len(found)
        if len(points) > most:
            break
    return points, names
