"""Many moulds' papers: the same bytes in the same order, however many processes make them."""

from __future__ import annotations

from itertools import islice

from whole_marram import HEADING, marram

from futtock.drawing.mould_papers import every_mould


def test_two_processes_write_what_one_writes() -> None:
    """Order and every byte are those of one process; a twin brings no group for the roll."""
    moulds = marram().moulds[:10]
    alone = list(every_mould(moulds, HEADING, 1))
    assert [p.mark for p in alone] == [m.mark for m in moulds]
    assert [p.group is None for p in alone] == [m.same_as is not None for m in moulds]
    both = list(every_mould(moulds, HEADING, 2))
    assert [(p.mark, p.dxf, p.svg, p.pdf) for p in both] == [
        (p.mark, p.dxf, p.svg, p.pdf) for p in alone
    ]


def test_whoever_takes_them_may_stop() -> None:
    """After three papers the rest may be left: nothing hangs, nothing is raised."""
    papers = every_mould(marram().moulds[:40], HEADING, 2)
    taken = list(islice(papers, 3))
    papers.close()
    assert [p.mark for p in taken] == [m.mark for m in marram().moulds[:3]]
