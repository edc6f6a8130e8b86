"""The ground a fit works on: one thread for its linear algebra, and memory kept between fits."""

from __future__ import annotations

import ctypes
from contextlib import AbstractContextManager, suppress
from functools import cache
from typing import Any

import scipy.linalg  # noqa: F401 - libraries are looked for once: by then BLAS must be loaded
from threadpoolctl import ThreadpoolController

_TRIM, _MAP = -1, -3  # of the C library's mallopt
_KEPT = 64 << 20


def one_thread() -> AbstractContextManager[Any]:
    """A context in which BLAS keeps to one thread: a fit's matrices are too small for more."""
    limit: AbstractContextManager[Any] = _controller().limit(limits=1, user_api="blas")
    return limit


@cache
def _controller() -> ThreadpoolController:
    _keep_memory()
    return ThreadpoolController()


def _keep_memory() -> None:
    """Have the C library keep what is freed, up to 64 MB, for the next fit.

    Given back to the system and fetched again page by page, as it does by itself, the matrices cost
    a sixth of a fairing. Where the library knows no such setting nothing is done.
    """
    with suppress(AttributeError, OSError, TypeError):
        settle = ctypes.CDLL(None).mallopt
        settle(_TRIM, _KEPT)
        settle(_MAP, _KEPT // 2)
