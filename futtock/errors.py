"""The error tree: one sentence each, every leaf also a built-in.

::

    FuttockError
    ├── Unreadable (ValueError)       a file or a notation cannot be read; carries findings
    ├── Unwritable (OSError)          what was to be kept could not be put on disk; carries findings
    ├── Misused (ValueError)          a function or command was asked for what it cannot mean
    ├── Unsolvable (ArithmeticError)  the geometry asked for does not exist (a plane misses her)
    ├── Interrupted (RuntimeError)    the caller said stop before there was anything to give
    └── Unavailable (ImportError)     an optional library that this needs is not installed
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from futtock.findings import Finding


class FuttockError(Exception):
    """Root of every error raised on purpose."""


class Unreadable(FuttockError, ValueError):
    """A file, a cell or a notation cannot be read.

    Parameters
    ----------
    message
        What was expected and what came.
    findings
        The numbered findings behind it, each with its place; may be empty.
    """

    def __init__(self, message: str, findings: Sequence[Finding] = ()) -> None:
        super().__init__(message)
        self.findings: tuple[Finding, ...] = tuple(findings)


class Unwritable(FuttockError, OSError):
    """What was to be kept could not be put on disk or sent to the database; nothing was changed.

    Parameters
    ----------
    message
        What could not be written and why.
    findings
        The numbered findings behind it; may be empty.
    """

    def __init__(self, message: str, findings: Sequence[Finding] = ()) -> None:
        super().__init__(message)
        self.findings: tuple[Finding, ...] = tuple(findings)


class Misused(FuttockError, ValueError):
    """Something was asked for that has no meaning (an unknown name, a negative spacing)."""


class Unsolvable(FuttockError, ArithmeticError):
    """The geometry asked for does not exist on this hull."""


class Interrupted(FuttockError, RuntimeError):
    """The caller asked to stop before there was anything worth giving back."""


class Unavailable(FuttockError, ImportError):
    """An optional library is needed and is not installed; the message says which extra."""
