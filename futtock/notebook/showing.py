"""Notebooks show frames, moulds and slabs as pictures, and answers as their words."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from futtock.job.whole import Job


def show_in_notebook(job: Job) -> bool:
    """Have the notebook show things of this vessel as pictures; False outside a notebook.

    A frame or a slab alone does not know its vessel's name or units: those of the vessel last read
    are lettered. :func:`futtock.picture` is told which.
    """
    shell = _shell()
    if shell is None:
        return False
    from futtock.job.answer import Answer
    from futtock.notebook.pictures import drawn, picture

    formatters = shell.display_formatter.formatters
    for kind in drawn.registry:
        if kind is not object:
            formatters["image/svg+xml"].for_type(kind, lambda thing: picture(job, thing).svg)
            # else its thousands of figures would stand below the picture
            formatters["text/plain"].for_type(kind, lambda thing, page, _: page.text(_named(thing)))
    formatters["text/plain"].for_type(Answer, lambda answer, page, _: page.text(answer.account))
    return True


def _shell() -> Any:
    """The running IPython shell; None where there is none (it is never imported from here)."""
    there = sys.modules.get("IPython")
    return there.get_ipython() if there is not None else None


def _named(thing: Any) -> str:
    name = getattr(thing, "mark", None) or getattr(thing, "name", None) or ""
    return f"{type(thing).__name__} {name}".strip()
