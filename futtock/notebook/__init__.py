"""The whole job from a script or a notebook, in a dozen words: ``import futtock as ft``."""

from futtock.errors import FuttockError, Misused, Unreadable
from futtock.findings import Finding
from futtock.job.whole import Job
from futtock.notebook.pictures import picture
from futtock.notebook.steps import (
    check,
    did,
    enough,
    fair,
    frames,
    lay,
    mould,
    new,
    read,
    saw,
    when,
    write,
)

__all__ = [
    "Finding",
    "FuttockError",
    "Job",
    "Misused",
    "Unreadable",
    "check",
    "did",
    "enough",
    "fair",
    "frames",
    "lay",
    "mould",
    "new",
    "picture",
    "read",
    "saw",
    "when",
    "write",
]
