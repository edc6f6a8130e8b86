"""The view in space in the slabs' own wood: each timber shows its part of the slab."""

from __future__ import annotations

import json
import struct
from typing import Any

import cv2
import numpy as np
from starlette.testclient import TestClient

from futtock.job.office.wood import STEP_MM, drawn


def _read(glb: bytes) -> tuple[dict[str, Any], bytes]:
    """The tree and the numbers of a binary glTF file (Khronos, glTF 2.0, 4.4)."""
    magic, version, length = struct.unpack_from("<4sII", glb)
    assert (magic, version, length) == (b"glTF", 2, len(glb))
    size, kind = struct.unpack_from("<I4s", glb, 12)
    assert kind == b"JSON"
    assert size % 4 == 0
    more, kind = struct.unpack_from("<I4s", glb, 20 + size)
    assert kind == b"BIN\0"
    return json.loads(glb[20 : 20 + size]), glb[28 + size : 28 + size + more]


def _numbers(tree: dict[str, Any], body: bytes, k: int) -> np.ndarray:
    accessor = tree["accessors"][k]
    view = tree["bufferViews"][accessor["bufferView"]]
    wide = {"VEC2": 2, "VEC3": 3}[accessor["type"]]
    start = view.get("byteOffset", 0) + accessor.get("byteOffset", 0)
    return np.frombuffer(body, "<f4", accessor["count"] * wide, start).reshape(-1, wide)


def test_a_timber_wears_the_wood_it_comes_out_of(small: TestClient) -> None:
    """For a timber laid out, the places of its corners on its slab's picture, in millimetres, are
    as far apart as the corners are in space on each face (a rigid motion, whatever the turn), and
    where the placement puts them; one that is not laid out stays plain.
    """
    office = small.app.state.office  # type: ignore[attr-defined]
    job = office.sitting().job
    mould, other = job.moulds[0], job.moulds[1]
    slab = job.rack.slabs[3]
    middle = (slab.top_mm.max(axis=0) + slab.top_mm.min(axis=0)) / 2
    shift = [round(float(v), 1) for v in middle - (300.0, 0.0)]
    laid = {
        "mark": mould.mark, "slab": slab.name, "turn_deg": 20.0, "shift_mm": shift,
        "mirrored": True, "slope_mean": 0.0, "slope_worst": 0.0,
    }  # fmt: skip
    document = {"placements": [laid], "unplaced": [], "slabs_used": 1, "yield": 0.1}
    (office.folder / "layout.json").write_text(json.dumps(document), encoding="utf-8")
    answer = small.get(f"/space/vessel.glb?wood=true&frame={mould.frame}")
    assert answer.status_code == 200
    tree, body = _read(answer.content)
    meshes = {m["name"]: m["primitives"][0] for m in tree["meshes"]}
    part = meshes[mould.mark]
    texture = tree["materials"][part["material"]]["pbrMetallicRoughness"]["baseColorTexture"]
    uri = tree["images"][tree["textures"][texture["index"]]["source"]]["uri"]
    assert "TEXCOORD_0" not in meshes[other.mark]["attributes"]
    jpeg = small.get(f"/space/{uri}")
    picture = cv2.imdecode(np.frombuffer(jpeg.content, np.uint8), cv2.IMREAD_COLOR)
    high, wide = picture.shape[:2]
    uv = _numbers(tree, body, part["attributes"]["TEXCOORD_0"]).astype(float)
    space = _numbers(tree, body, part["attributes"]["POSITION"]).astype(float) * 1000.0
    on_slab = np.column_stack([uv[:, 0] * wide, (1.0 - uv[:, 1]) * high]) * STEP_MM
    n = len(mould.edges[0].up_mm)
    pairs = np.random.default_rng(1).integers(0, n, (60, 2))
    far = np.linalg.norm(space[pairs[:, 0]] - space[pairs[:, 1]], axis=1)
    there = np.linalg.norm(on_slab[pairs[:, 0]] - on_slab[pairs[:, 1]], axis=1)
    assert np.abs(far - there).max() < 0.05
    # by hand: mirrored, then turned by 20 degrees, then shifted
    turn = np.radians(20.0)
    p = mould.edges[0].up_mm * (1.0, -1.0)
    put = p @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) + shift
    faces = [slab.top_mm, slab.bottom_mm]
    corner = np.floor((np.vstack(faces).min(axis=0) - 12.0) / STEP_MM) * STEP_MM - STEP_MM / 2
    assert np.abs(on_slab[:n] - (put - corner)).max() < 0.1
    # where the slab has a knot its picture is dark, and light beside it
    for flaw in slab.flaws[:1]:
        x, y = (flaw.outline_mm.mean(axis=0) - corner) / STEP_MM
        assert picture[int(high - y), int(x)].mean() < 110
    assert picture.mean() > 140


def test_the_wood_is_offered_where_there_is_a_layout(small: TestClient) -> None:
    """Before a layout is accepted nothing is offered, and the file with wood is the plain one."""
    assert 'id="wood-on"' not in small.get("/space").text
    plain = small.get("/space/vessel.glb?frame=1").content
    assert small.get("/space/vessel.glb?frame=1&wood=true").content == plain
    assert small.get("/space/slab.jpg?name=nobody").status_code == 422
    slab = small.app.state.office.sitting().job.rack.slabs[0]  # type: ignore[attr-defined]
    picture = small.get(f"/space/slab.jpg?name={slab.name}").content
    assert picture[:2] == b"\xff\xd8"
    assert drawn(slab) == picture  # the same bytes whenever it is drawn
