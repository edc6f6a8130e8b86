"""Kept results come back as they went in, and nothing in a kept file is ever run."""

from __future__ import annotations

import json

import numpy as np
import pytest

from futtock.findings import Finding, Severity
from futtock.job.keep import Keep, Unkeepable, decode, encode, key_of
from futtock.layout.placement import Bound, Layout, Placement


def layout() -> Layout:
    placement = Placement("1-P-f1", "A-01", 12.5, (1.0, -2.0), True, 0.01, 0.05)
    finding = Finding("P001", Severity.MISFIT, "does not fit")
    return Layout((placement,), ("2-S-a1",), 1, 0.5, Bound("area_m2", 1.0, 2.0), 3.0, (finding,))


def test_a_result_comes_back_equal(tmp_path):
    """What was kept is read back equal, types and all."""
    keep = Keep(tmp_path / ".futtock")
    key = key_of("lay", 1, "a", np.arange(3.0))
    keep.put(key, layout())
    assert keep.get(key) == layout()


def test_arrays_come_back_read_only(tmp_path):
    """Arrays keep their values and shape and cannot be written to."""
    keep = Keep(tmp_path)
    keep.put("k", {"a": np.arange(6.0).reshape(2, 3)})
    back = keep.get("k")["a"]
    assert np.array_equal(back, np.arange(6.0).reshape(2, 3))
    with pytest.raises(ValueError, match="read-only"):
        back[0, 0] = 1


def test_the_key_follows_the_content():
    """Equal inputs have equal keys; one changed figure changes the key."""
    assert key_of("s", np.ones(3), 1.0) == key_of("s", np.ones(3), 1.0)
    assert key_of("s", np.ones(3), 1.0) != key_of("s", np.ones(3), 1.0000001)
    assert key_of("s", np.ones(3)) != key_of("s", np.ones((3, 1)))
    assert key_of("s", 1) != key_of("s", 1.0)


def test_a_foreign_type_is_never_made():
    """A kept file cannot name a type from outside the package, nor one that is not data."""
    for tag in ("os:system", "pathlib:Path", "futtock.job.keep:Keep", "futtock.progress:quiet"):
        with pytest.raises(Unkeepable):
            decode({"@": tag, "v": {}}, [])
    with pytest.raises(Unkeepable):
        encode(object(), [])


@pytest.mark.parametrize("spoil", [b"", b"PK\x03\x04 not a zip", b"\x93NUMPY"])
def test_a_spoiled_file_is_as_good_as_none(tmp_path, spoil):
    """A truncated or foreign kept file is passed over and made again."""
    keep = Keep(tmp_path)
    keep.put("k", layout())
    (tmp_path / "k.npz").write_bytes(spoil)
    assert keep.get("k") is None
    whole = keep.made("step", (1,), layout)
    assert whole == layout()


def test_a_step_is_made_once(tmp_path):
    """The second time a step is asked for with the same inputs it is not made again."""
    calls: list[int] = []
    keep = Keep(tmp_path)

    def make() -> Layout:
        calls.append(1)
        return layout()

    assert keep.made("lay", (7,), make) == keep.made("lay", (7,), make) == layout()
    assert calls == [1]
    keep.made("lay", (8,), make)
    assert calls == [1, 1]


def test_the_skeleton_is_plain_json():
    """The skeleton holds only JSON values."""
    arrays: list[np.ndarray] = []
    text = json.dumps(encode(layout(), arrays))
    assert decode(json.loads(text), arrays) == layout()
