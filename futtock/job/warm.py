"""``python -m futtock.job.warm``: compile what is compiled, so that the first run need not wait."""

from __future__ import annotations


def warm() -> None:
    """Call every room that keeps compiled code."""
    from futtock.layout.lay import warm as layout
    from futtock.lines.warming import warm as lines

    lines()
    layout()


if __name__ == "__main__":
    warm()
