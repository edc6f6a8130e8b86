"""The whole job from a script: the steps, their pictures, and what they refuse."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

import futtock as ft
from futtock.notebook.pictures import drawn


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> ft.Job:
    return ft.new(tmp_path_factory.mktemp("notebook") / "marram", demo=True)


@pytest.fixture(scope="module")
def layout(job: ft.Job):
    return ft.lay(job, rounds=3, seed=4, accept=True)


def test_the_demo_is_sound(job: ft.Job) -> None:
    """The demo's files have nothing amiss, and her two slips are found in fairing."""
    assert ft.check(job) == ()
    assert len(ft.fair(job).doubtful) == 2


def test_a_timber_by_its_mark(job: ft.Job) -> None:
    """A mould and its saw sheet are had by the piece mark that the frame gives the timber."""
    timber = ft.frames(job).frame(13).timbers[0]
    mould, sheet = ft.mould(job, timber.mark), ft.saw(job, timber.mark)
    assert mould.mark == sheet.mark == timber.mark
    assert mould.frame == 13


@pytest.mark.parametrize("ask", [ft.mould, ft.saw])
def test_an_unknown_mark_is_refused(job: ft.Job, ask) -> None:
    """A mark that no timber has is refused by name."""
    with pytest.raises(ft.Misused, match="there is no timber 99-X"):
        ask(job, "99-X")


def test_the_accepted_layout_is_kept(job: ft.Job, layout) -> None:
    """An accepted layout is in the folder, and its timbers are told their slabs."""
    assert {p.mark: p.slab for p in layout.placements} == dict(ft.read(job.folder).slab_names)


def test_every_thing_has_its_picture(job: ft.Job, layout) -> None:
    """Each of the seven things gives an SVG that is drawn, and says what it shows."""
    mark = layout.placements[0].mark
    things = [
        ft.fair(job), ft.frames(job), ft.frames(job).frame(13), ft.mould(job, mark),
        ft.saw(job, mark), job.rack.slabs[0], layout,
    ]  # fmt: skip
    assert {type(t) for t in things} == set(drawn.registry) - {object}
    for thing in things:
        picture = ft.picture(job, thing)
        root = ET.fromstring(picture._repr_svg_())
        assert len(list(root.iter("{http://www.w3.org/2000/svg}path"))) > 5
        assert picture.about


def test_a_layout_shows_each_slab_begun(job: ft.Job, layout) -> None:
    """The picture of a layout names every slab begun and every timber placed, and no other slab."""
    said = {"".join(t.itertext()) for t in ET.fromstring(ft.picture(job, layout).svg).iter()}
    begun = {p.slab for p in layout.placements}
    assert {s.name for s in job.rack.slabs} & said == begun
    assert {p.mark for p in layout.placements} <= said


def test_no_picture_of_a_word(job: ft.Job) -> None:
    """What has no drawing is refused."""
    with pytest.raises(ft.Misused, match="no picture of a str"):
        ft.picture(job, "frame")


def test_a_picture_is_saved(job: ft.Job, tmp_path: Path) -> None:
    """A saved picture is the SVG that is shown."""
    picture = ft.picture(job, job.rack.slabs[0])
    assert picture.save(tmp_path / "slab.svg").read_text("utf-8") == picture.svg


def test_papers_are_written_by_part(job: ft.Job, tmp_path: Path) -> None:
    """Each part asked for is written into its own folder; an unknown part writes nothing."""
    files = ft.write(job, tmp_path, parts=["lines"])
    assert all(f.is_file() and f.parent == tmp_path / "lines" for f in files)
    assert tmp_path / "lines" / "lines-plan.pdf" in files
    with pytest.raises(ft.Misused, match="'plans': expected some of lines, frames"):
        ft.write(job, tmp_path / "none", parts=["plans"])
    assert not (tmp_path / "none").exists()


def test_the_yard_answers(job: ft.Job, layout) -> None:
    """What is done is entered once, and the forecast counts every frame."""
    mark = layout.placements[0].mark
    assert mark in ft.did(job, mark, "laid-out", "AB").account
    assert ft.when(job, runs=20).document["runs"] == 20


def test_no_folder_no_vessel(tmp_path: Path) -> None:
    """A folder that is not there is named."""
    with pytest.raises(ft.Misused, match="there is no folder"):
        ft.read(tmp_path / "nowhere")


def test_the_words_are_those_of_the_notebook_room() -> None:
    """The package gives exactly the public words of the notebook room, and they are few."""
    from futtock import notebook

    assert ft.__all__ == notebook.__all__
    assert all(getattr(ft, name) is getattr(notebook, name) for name in ft.__all__)
    assert set(ft.__all__) <= set(dir(ft))
    assert len(ft.__all__) <= 20
    with pytest.raises(AttributeError, match="no attribute 'plank'"):
        ft.plank  # noqa: B018
