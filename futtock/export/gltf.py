"""Hull and framed timbers as one glTF file, in metres with y up as the format wants.

Each timber is a node named by its piece mark; the hull is one node, both sides.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping, Sequence
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
    *,
    on_wood: Mapping[str, tuple[str, Array]] | None = None,
) -> bytes:
    """The binary file (.glb).

    Parameters
    ----------
    on_wood
        By piece mark, the address of a picture of its slab, and where each corner of the timber's
        mesh lies on it (m, 2), as shares of its width and height from the lower left. The file
        refers to the pictures; they are not in it.

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
        seen = (on_wood or {}).get(m.mark)
        body.visual = clothed(material=oak) if seen is None else clothed(uv=seen[1], material=oak)
        scene.add_geometry(body, node_name=m.mark, geom_name=m.mark)
        report(Progress("3-D", k, len(moulds), m.mark))
    if hull is not None:
        corners, triangles = hull_mesh(hull)
        skin = trimesh.Trimesh(to_scene(corners), triangles, process=False)
        skin.visual = clothed(material=_material("planking", (230, 236, 232, 90)))
        scene.add_geometry(skin, node_name="hull", geom_name="hull")
    write: Any = trimesh.exchange.gltf.export_glb
    made = bytes(write(scene))
    return _with_pictures(made, {k: uri for k, (uri, _) in on_wood.items()}) if on_wood else made


def _with_pictures(made: bytes, pictures: Mapping[str, str]) -> bytes:
    """The file with a material for each picture, on the timbers that are to have it."""
    size = struct.unpack_from("<I", made, 12)[0]
    tree = json.loads(made[20 : 20 + size])
    uris = sorted(set(pictures.values()))
    first = len(tree["materials"])
    tree["images"] = [{"uri": uri} for uri in uris]
    tree["textures"] = [{"source": k} for k in range(len(uris))]
    tree["materials"] += [
        {
            "name": uri,
            "doubleSided": True,
            "pbrMetallicRoughness": {
                "baseColorTexture": {"index": k}, "metallicFactor": 0.0, "roughnessFactor": 0.9,
            },
        }
        for k, uri in enumerate(uris)
    ]  # fmt: skip
    for mesh_ in tree["meshes"]:
        uri = pictures.get(mesh_.get("name", ""))
        if uri is not None:
            for part in mesh_["primitives"]:
                part["material"] = first + uris.index(uri)
    text = json.dumps(tree, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 4)
    rest = made[20 + size :]
    head = struct.pack("<4sII", b"glTF", 2, 20 + len(text) + len(rest))
    return head + struct.pack("<I4s", len(text), b"JSON") + text + rest


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
