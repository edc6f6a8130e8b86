"""What a verb of the job answers: a document for programs, an account for people, findings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from futtock.findings import Finding


@dataclass(frozen=True)
class Answer:
    """One answer.

    Attributes
    ----------
    document
        The keys of the verb's JSON document, without ``findings``.
    account
        The same for a person to read: plain lines, every figure with its unit.
    findings
        What was noticed on the way.
    """

    document: dict[str, Any]
    account: str
    findings: tuple[Finding, ...] = ()
