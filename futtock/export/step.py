"""Every timber as a solid in a STEP file, with its true bevelled edges (extra ``cad``).

A sawn edge is the ruled surface between a spline through the up face's points and one through the
matched points of the far face; butts and heels are ruled between straight lines.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused, Unavailable
from futtock.export.solids import StandingTimber, heels, standing
from futtock.framing.frame import Frame
from futtock.moulds.mould import Mould
from futtock.progress import Progress, Report, quiet

Array = NDArray[np.float64]


def available() -> bool:
    """True where the ``cad`` extra is installed."""
    try:
        import OCP.gp  # noqa: F401
    except ImportError:
        return False
    return True


def _need() -> None:
    if not available():
        raise Unavailable("STEP needs the extra 'cad': pip install 'futtock[cad]'")


def solid(timber: StandingTimber) -> Any:
    """The timber as a closed solid of the kernel.

    Raises
    ------
    Unavailable
        Without the ``cad`` extra.
    """
    _need()
    from OCP.BRepBuilderAPI import (
        BRepBuilderAPI_MakeFace,
        BRepBuilderAPI_MakeSolid,
        BRepBuilderAPI_Sewing,
    )
    from OCP.BRepFill import BRepFill
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps
    from OCP.TopAbs import TopAbs_SHELL
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    t = timber
    run = _parameters(t.up_outer, t.up_inner)
    heel_up, heel_down = heels(t)
    cuts = (
        _corners(t.up_outer, t.down_outer),
        _corners(t.up_inner, t.down_inner),
    )
    up = _ring(t.up_outer, t.up_inner, heel_up, run, cuts)
    down = _ring(t.down_outer, t.down_inner, heel_down, run, cuts)
    sewing = BRepBuilderAPI_Sewing(1e-4)
    for ring in (up, down):
        sewing.Add(BRepBuilderAPI_MakeFace(_wire(ring), True).Face())
    for a, b in zip(up, down, strict=True):
        if a.edge is not None and b.edge is not None:
            sewing.Add(BRepFill.Face_s(a.edge, b.edge))
        elif a.edge is not None or b.edge is not None:
            # a corner of one face that is ruled to both ends of a piece of the other
            corners = [a.start, a.end, b.end] if b.edge is None else [a.start, b.end, b.start]
            ends = [*corners, corners[0]]
            sides = [_line(p, q) for p, q in pairwise(ends)]
            sewing.Add(BRepBuilderAPI_MakeFace(_wire(sides), True).Face())
    sewing.Perform()
    shells = TopExp_Explorer(sewing.SewedShape(), TopAbs_SHELL)
    if not shells.More():
        raise Misused(f"{t.mark}: the timber's faces do not close")
    maker = BRepBuilderAPI_MakeSolid(TopoDS.Shell(shells.Current()))
    made = maker.Solid()
    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(made, props)
    if props.Mass() < 0:
        made.Reverse()
    return made


def volume_mm3(shape: Any) -> float:
    """Volume of a solid of the kernel."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, props, 1e-9)
    return float(props.Mass())


def _parameters(outer: Array, inner: Array) -> Array:
    """One parameter for all four edges, by the mean chord length, from 0 to 1."""
    step = (
        np.linalg.norm(np.diff(outer, axis=0), axis=1)
        + np.linalg.norm(np.diff(inner, axis=0), axis=1)
    ) / 2
    run = np.concatenate([[0.0], np.cumsum(np.maximum(step, 1e-9))])
    out: Array = run / run[-1]
    return out


@dataclass(frozen=True)
class _Piece:
    """A piece of a face's outline: the kernel's edge, None where it has no length, and its ends."""

    edge: Any
    start: Array
    end: Array


_NO_LENGTH_MM = 1e-4


def _ring(
    outer: Array, inner: Array, heel: Array, run: Array, cuts: tuple[list[int], list[int]]
) -> list[_Piece]:
    """Edges round a face: outer edge, head butt, inner edge, heel (each one piece or more)."""
    edges = [_spline(outer[a : b + 1], run[a : b + 1]) for a, b in pairwise(cuts[0])]
    edges.append(_line(outer[-1], inner[-1]))
    # a wire is joined edge to edge, so the inner edge goes on from the head
    back = list(pairwise(cuts[1]))[::-1]
    edges += [_spline(inner[a : b + 1], run[a : b + 1]) for a, b in back]
    edges += [_line(a, b) for a, b in pairwise(heel)]
    return edges


def _corners(up: Array, down: Array, least_deg: float = 6.0) -> list[int]:
    """Indices where an edge has a corner on either face, ends included.

    A spline is carried through points of one smooth run only: through a corner it would swing out.
    A turn counts as a corner where it is far more than is usual along the edge.
    """
    n = len(up)
    sharp = np.zeros(n, bool)
    for line in (up, down):
        d = np.diff(line, axis=0)
        d = d / np.maximum(np.linalg.norm(d, axis=1), 1e-12)[:, None]
        turn = np.degrees(np.arccos(np.clip((d[:-1] * d[1:]).sum(axis=1), -1.0, 1.0)))
        sharp[1:-1] |= turn > max(least_deg, 4.0 * float(np.median(turn)))
    return [0, *np.flatnonzero(sharp).tolist(), n - 1]


def _spline(points: Array, run: Array) -> _Piece:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge
    from OCP.collections import HArray1_double, HArray1_gp_Pnt
    from OCP.GeomAPI import GeomAPI_Interpolate
    from OCP.gp import gp_Pnt

    n = len(points)
    if n == 2:
        return _line(points[0], points[1])
    places, at = HArray1_gp_Pnt(1, n), HArray1_double(1, n)
    for k in range(n):
        places.SetValue(k + 1, gp_Pnt(*map(float, points[k])))
        at.SetValue(k + 1, float(run[k]))
    made = GeomAPI_Interpolate(places, at, False, 1e-7)
    made.Perform()
    return _Piece(BRepBuilderAPI_MakeEdge(made.Curve()).Edge(), points[0], points[-1])


def _line(a: Array, b: Array) -> _Piece:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge
    from OCP.gp import gp_Pnt

    if np.linalg.norm(b - a) < _NO_LENGTH_MM:
        return _Piece(None, a, b)
    return _Piece(
        BRepBuilderAPI_MakeEdge(gp_Pnt(*map(float, a)), gp_Pnt(*map(float, b))).Edge(), a, b
    )


def _wire(pieces: list[_Piece]) -> Any:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeWire

    wire = BRepBuilderAPI_MakeWire()
    for piece in pieces:
        if piece.edge is not None:
            wire.Add(piece.edge)
    return wire.Wire()


def step(
    frames: Sequence[Frame],
    moulds: Sequence[Mould],
    *,
    vessel: str = "",
    date: str = "",
    report: Report = quiet,
) -> bytes:
    """The timbers as solids named by their piece marks, in the vessel's millimetres.

    Parameters
    ----------
    date
        Written into the file's head in place of the hour at which it was made.

    Raises
    ------
    Unavailable
        Without the ``cad`` extra.
    Misused
        Where no mould has a frame behind it, or a timber makes no solid (it is named).
    """
    _need()
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.Standard import Standard_Failure
    from OCP.STEPCAFControl import STEPCAFControl_Writer
    from OCP.STEPControl import STEPControl_AsIs
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    planes = {f.plane.number: f.plane for f in frames}
    placed = [m for m in moulds if m.place is not None and m.frame in planes]
    if not placed:
        raise Misused("no timber has a frame behind it; there is no solid to write")
    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    for k, m in enumerate(placed):
        if not report(Progress("STEP", k, len(placed), m.mark)):
            break
        assert m.frame is not None
        try:
            made = solid(standing(m, planes[m.frame]))
        except Standard_Failure as error:
            raise Misused(f"{m.mark}: the timber makes no solid ({error})") from error
        label = shapes.AddShape(made, False)
        TDataStd_Name.Set_s(label, TCollection_ExtendedString(m.mark, True))
    writer = STEPCAFControl_Writer()
    writer.SetNameMode(True)
    with _silent():
        writer.Transfer(document, STEPControl_AsIs)
    with _silent(), tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "timbers.step"
        if writer.Write(str(file)) != IFSelect_RetDone:
            raise Misused("the solids could not be written")
        text = file.read_text(encoding="latin-1")
    return _dated(text, vessel, date).encode("latin-1", "replace")


@contextmanager
def _silent() -> Iterator[None]:
    """Keep the kernel's chatter off standard output, which may be a JSON document."""
    from OCP.Message import Message

    messenger = Message.DefaultMessenger_s()
    printers = list(messenger.Printers())
    for printer in printers:
        messenger.RemovePrinter(printer)
    try:
        yield
    finally:
        for printer in printers:
            messenger.AddPrinter(printer)


def _dated(text: str, vessel: str, date: str) -> str:
    """The file with its own name and date in its head, so that the same timbers give the same."""
    plain = re.sub(r"[^ -~]|'", " ", vessel) or "timbers"
    stamp = date if re.fullmatch(r"\d{4}-\d{2}-\d{2}", date) else "1970-01-01"
    head = f"FILE_NAME('{plain}','{stamp}T00:00:00',('Futtock'),(''),'Futtock','Futtock','');"
    return re.sub(r"FILE_NAME\(.*?\);", lambda _: head, text, count=1, flags=re.DOTALL)


def read_volumes(data: bytes) -> list[float]:
    """Volumes (mm3) of the solids in a STEP file, as the kernel reads them back."""
    _need()
    from OCP.STEPControl import STEPControl_Reader
    from OCP.TopAbs import TopAbs_SOLID
    from OCP.TopExp import TopExp_Explorer

    with _silent(), tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "timbers.step"
        file.write_bytes(data)
        reader = STEPControl_Reader()
        reader.ReadFile(str(file))
        reader.TransferRoots()
        whole = reader.OneShape()
    found = TopExp_Explorer(whole, TopAbs_SOLID)
    out = []
    while found.More():
        out.append(volume_mm3(found.Current()))
        found.Next()
    return out
