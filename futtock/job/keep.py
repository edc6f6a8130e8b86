"""Keeps results by the content they were made from, in the folder's ``.futtock/``.

A result is a tree of frozen dataclasses of this package, tuples, dicts, plain values and arrays.
It is written as one ``.npz``: a JSON skeleton and its arrays. Nothing in such a file is ever run,
so a vessel folder from a stranger is safe to open; whatever cannot be read is made again.
"""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import importlib
import json
import os
import tempfile
import zipfile
from collections.abc import Callable
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, cast

import numpy as np

T = TypeVar("T")

_TAG = "@"
_PACKAGE = "futtock"
_KEPT_AT_MOST = 60


class Unkeepable(TypeError):
    """The value holds something that is not data."""


def encode(value: Any, arrays: list[np.ndarray]) -> Any:
    """A JSON skeleton of ``value``; its arrays are appended to ``arrays``."""
    if value is None or (isinstance(value, (bool, int, float, str)) and type(value) in _PLAIN):
        return value
    if isinstance(value, np.ndarray):
        if value.dtype.hasobject:
            raise Unkeepable("an array of objects")
        arrays.append(value)
        return {_TAG: "array", "n": len(arrays) - 1}
    if isinstance(value, np.generic):
        return encode(value.item(), arrays)
    if isinstance(value, StrEnum):
        return {_TAG: _name(type(value)), "v": value.value}
    if isinstance(value, (tuple, list)):
        return {_TAG: type(value).__name__, "v": [encode(v, arrays) for v in value]}
    if isinstance(value, dict):
        return {
            _TAG: "dict",
            "v": [[encode(k, arrays), encode(v, arrays)] for k, v in value.items()],
        }
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {f.name: getattr(value, f.name) for f in dataclasses.fields(value) if f.init}
        return {_TAG: _name(type(value)), "v": {k: encode(v, arrays) for k, v in fields.items()}}
    raise Unkeepable(f"a {type(value).__qualname__}")


_PLAIN = (bool, int, float, str)


def decode(skeleton: Any, arrays: list[np.ndarray]) -> Any:
    """The value that :func:`encode` took apart; arrays come back read-only."""
    if not isinstance(skeleton, dict):
        return skeleton
    tag = skeleton[_TAG]
    inner: Any = skeleton.get("v")
    if tag == "array":
        return arrays[skeleton["n"]]
    if tag in ("tuple", "list"):
        items = [decode(v, arrays) for v in inner]
        return tuple(items) if tag == "tuple" else items
    if tag == "dict":
        return {decode(k, arrays): decode(v, arrays) for k, v in inner}
    kind = _type(tag)
    if issubclass(kind, StrEnum):
        return kind(inner)
    return kind(**{k: decode(v, arrays) for k, v in inner.items()})


def _name(kind: type) -> str:
    if kind.__module__.split(".")[0] != _PACKAGE or "." in kind.__qualname__:
        raise Unkeepable(f"a {kind.__qualname__} of {kind.__module__}")
    return f"{kind.__module__}:{kind.__qualname__}"


def _type(tag: str) -> type:
    module, _, name = tag.partition(":")
    if module.split(".")[0] != _PACKAGE:
        raise Unkeepable(tag)
    kind = getattr(importlib.import_module(module), name)
    if not (
        isinstance(kind, type) and (dataclasses.is_dataclass(kind) or issubclass(kind, StrEnum))
    ):
        raise Unkeepable(tag)
    return kind


@cache
def _source_digest() -> str:
    """A digest of this package's own source: a kept result never outlives the code behind it."""
    root = Path(__file__).resolve().parent.parent
    digest = hashlib.sha256()
    for path in sorted(root.rglob("*.py")):
        digest.update(path.relative_to(root).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


def key_of(step: str, *inputs: Any) -> str:
    """The name under which a step's result from these inputs is kept."""
    arrays: list[np.ndarray] = []
    skeleton = json.dumps(encode(inputs, arrays), sort_keys=True)
    digest = hashlib.sha256(f"{_source_digest()}\n{step}\n{skeleton}".encode())
    for array in arrays:
        digest.update(repr((array.shape, array.dtype.str)).encode())
        digest.update(np.ascontiguousarray(array).tobytes())
    return f"{step}-{digest.hexdigest()[:32]}"


class Keep:
    """A folder of kept results; beyond ``at_most`` the oldest are thrown away (None: none are)."""

    def __init__(self, folder: Path, at_most: int | None = _KEPT_AT_MOST) -> None:
        self.folder = folder
        self.at_most = at_most

    def get(self, key: str) -> Any | None:
        """The kept result, or None where there is none that can be read."""
        try:
            # opened here, so that a spoiled file is closed again whatever it holds
            path = self.folder / f"{key}.npz"
            with path.open("rb") as file, np.load(file, allow_pickle=False) as kept:
                arrays = [kept[f"a{k}"] for k in range(len(kept.files) - 1)]
                for array in arrays:
                    array.setflags(write=False)
                return decode(json.loads(kept["skeleton"].item()), arrays)
        except (OSError, ValueError, KeyError, TypeError, AttributeError, ImportError):
            return None
        except (zipfile.BadZipFile, IndexError, EOFError):
            return None

    def put(self, key: str, value: Any) -> None:
        """Keep a result, whole or not at all; a full disk or a value that is no data is no harm."""
        arrays: list[np.ndarray] = []
        try:
            skeleton = json.dumps(encode(value, arrays))
        except Unkeepable:
            return
        with contextlib.suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=self.folder, suffix=".part")
            try:
                with os.fdopen(handle, "wb") as file:
                    named = {f"a{k}": array for k, array in enumerate(arrays)}
                    np.savez(file, skeleton=np.array(skeleton), **cast("dict[str, Any]", named))
                os.replace(name, self.folder / f"{key}.npz")
            except OSError:
                with contextlib.suppress(OSError):
                    os.unlink(name)
            self._tidy()

    def made(self, step: str, inputs: tuple[Any, ...], make: Callable[[], T]) -> T:
        """The kept result of a step, or what ``make`` gives now, kept for next time."""
        try:
            key = key_of(step, *inputs)
        except Unkeepable:
            return make()
        kept = self.get(key)
        if kept is not None:
            return cast("T", kept)
        value = make()
        self.put(key, value)
        return value

    def _tidy(self) -> None:
        """Throw away the oldest results beyond the number to keep."""
        if self.at_most is None:
            return
        kept = sorted(self.folder.glob("*.npz"), key=lambda p: p.stat().st_mtime)
        for path in kept[: -self.at_most]:
            path.unlink(missing_ok=True)
