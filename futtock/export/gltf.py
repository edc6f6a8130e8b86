"""Hull and framed timbers as one glTF file, in metres with y up as the format wants.

Each timber is a node named by its piece mark; the hull is one node, both sides.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.export.solids import mesh, standing
from futtock.framing.frame import Frame
from futtock.lines.curves_on_hull import parameter_grid
from futtock.lines.surface import Hull
from futtock.moulds.mould import Mould
from futtock.progress import Progress, Report, quiet

Array = NDArray[np.float64]


def to_scene(points_mm: Array) -> Array:
    """Vessel's x aft, y starboard, z up (mm) to glTF's x right, y up, z towards (m).

    A turn without mirroring: x aft stays x, z becomes y, starboard becomes z.
    """
    p = np.asarray(points_mm, float) / 1000.0
    out: Array = np.column_stack([p[:, 0], p[:, 2], -p[:, 1]])
    return out


def hull_mesh(hull: Hull, along: int = 161, up: int = 49) -> tuple[Array, NDArray[np.int64]]:
    """Both sides of the hull: corners (m, 3) in mm and triangles (t, 3)."""
    u, v = parameter_grid(hull, along, up)
    p = np.asarray(hull.surface.derivatives(u, v)[..., 0, :])
    k = np.arange(along * up).reshape(along, up)
    a, b, c, d = k[:-1, :-1].ravel(), k[1:, :-1].ravel(), k[1:, 1:].ravel(), k[:-1, 1:].ravel()
    faces = np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    starboard = p.reshape(-1, 3)
    port = starboard * (1.0, -1.0, 1.0)
    return np.vstack([starboard, port]), np.vstack([faces, faces[:, ::-1] + along * up])


def glb(
    frames: Sequence[Frame],
    moulds: Sequence[Mould],
    hull: Hull | None = None,
    report: Report = quiet,
) -> bytes:
    """The binary file (.glb).

    Raises
    ------
    Misused
        where there is neither a hull nor a timber.
    """
    import trimesh

    if not moulds and hull is None:
        raise Misused("nothing to show: no timbers and no hull")
    clothed: Any = trimesh.visual.TextureVisuals
    scene = trimesh.Scene()
    oak = _material("oak", (214, 190, 140, 255))
    planes = {f.plane.number: f.plane for f in frames}
    for k, m in enumerate(moulds):
        if m.frame not in planes or m.place is None:
            continue
        corners, triangles = mesh(standing(m, planes[m.frame]))
        body = trimesh.Trimesh(to_scene(corners), triangles, process=False)
        body.visual = clothed(material=oak)
        scene.add_geometry(body, node_name=m.mark, geom_name=m.mark)
        report(Progress("3-D", k, len(moulds), m.mark))
    if hull is not None:
        corners, triangles = hull_mesh(hull)
        skin = trimesh.Trimesh(to_scene(corners), triangles, process=False)
        skin.visual = clothed(material=_material("planking", (230, 236, 232, 90)))
        scene.add_geometry(skin, node_name="hull", geom_name="hull")
    write: Any = trimesh.exchange.gltf.export_glb
    return bytes(write(scene))


def _material(name: str, colour: tuple[int, int, int, int]) -> Any:
    from trimesh.visual.material import PBRMaterial

    make: Any = PBRMaterial
    # without a metalness of nothing a viewer draws wood as black metal
    return make(
        name=name,
        baseColorFactor=colour,
        metallicFactor=0.0,
        roughnessFactor=0.9,
        doubleSided=True,
        alphaMode="BLEND" if colour[3] < 255 else "OPAQUE",
    )
