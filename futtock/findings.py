"""Findings: what the tool noticed, as data with a code, a place and a remedy.

A :class:`Kind` is declared once by the room that can notice it (``futtock/<room>/kinds.py``) and
makes :class:`Finding` values. Severities: ``fault`` stops the step (exit 1), ``misfit`` is done but
something does not fit (exit 3), ``doubt`` is a question for the builder, ``note`` is information.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any


class Severity(StrEnum):
    """How much a finding matters, greatest first."""

    FAULT = "fault"
    MISFIT = "misfit"
    DOUBT = "doubt"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed.

    Attributes
    ----------
    code
        Stable code: the room's letter and three digits, as ``L104``.
    severity
        See :class:`Severity`.
    message
        One sentence a shipwright can act on, with its figures and their units.
    file, line, column
        Where in the shipwright's own paper; ``line`` is a line number or the name of a row,
        ``column`` a column number, a station or a key. ``None`` where there is no such place.
    read, expected
        What was found there and what was looked for, as text.
    remedy
        What to do about it.
    """

    code: str
    severity: Severity
    message: str
    file: str | None = None
    line: str | int | None = None
    column: str | int | None = None
    read: str | None = None
    expected: str | None = None
    remedy: str | None = None

    def as_json(self) -> dict[str, Any]:
        """The finding as the ``--json`` documents carry it."""
        return {key: str(v) if isinstance(v, StrEnum) else v for key, v in asdict(self).items()}

    def __str__(self) -> str:
        place = ", ".join(str(p) for p in (self.file, self.line, self.column) if p is not None)
        text = f"{self.code} {self.severity}: " + (f"{place}: " if place else "") + self.message
        if self.remedy:
            text += f" {self.remedy}"
        return text


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of finding: its code, how much it matters, what it means and what to do about it."""

    code: str
    severity: Severity
    title: str
    remedy: str | None = None

    def found(
        self,
        message: str,
        *,
        file: str | None = None,
        line: str | int | None = None,
        column: str | int | None = None,
        read: str | None = None,
        expected: str | None = None,
        remedy: str | None = None,
    ) -> Finding:
        """A finding of this kind."""
        return Finding(
            self.code,
            self.severity,
            message,
            file,
            line,
            column,
            read,
            expected,
            remedy or self.remedy,
        )


def worst(findings: Iterable[Finding]) -> Severity | None:
    """The greatest severity among findings, or None where there are none."""
    order = list(Severity)
    found = {f.severity for f in findings}
    return next((s for s in order if s in found), None)
