"""What the journal says reaches the forecast, the next entry and the layout."""

from __future__ import annotations

import json
import shutil
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
import shapely

from futtock.job import marks, yard
from futtock.job.drying import drying
from futtock.job.pile import Pile
from futtock.job.whole import Job
from futtock.progress import quiet
from futtock.stock.moisture import equilibrium_percent
from futtock.yard import Entry, Journal, YardState
from futtock.yard.drying import dry_on

ROOT = Path(__file__).resolve().parents[2]
TODAY = date(2031, 5, 5)
NOW = datetime(2031, 5, 5, 9, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def laid_out(tmp_path_factory) -> Path:
    """Marram with four frames and ten slabs, some timbers laid out on them."""
    folder = tmp_path_factory.mktemp("few") / "marram"
    shutil.copytree(ROOT / "futtock" / "demo", folder, ignore=shutil.ignore_patterns(".futtock"))
    stated = (folder / "vessel.toml").read_text("utf-8")
    few = stated.replace('first = "2-9-0"', 'first = "14-0-0"').replace("count = 27", "count = 4")
    few += "\n[yard]\ndry_to_percent = 16\nair_temperature_c = 12\nair_humidity_percent = 70\n"
    (folder / "vessel.toml").write_text(few, "utf-8")
    slabs = json.loads((folder / "slabs.json").read_text("utf-8"))
    (folder / "slabs.json").write_text(json.dumps(slabs[:10]), "utf-8")
    pile = Pile(Job(folder))
    pile.accept(pile.lay(seed=1, rounds=1))
    return folder


@pytest.fixture
def folder(laid_out, tmp_path) -> Path:
    """A copy of it to write in."""
    copy = tmp_path / "marram"
    shutil.copytree(laid_out, copy)
    return copy


def _metered(folder: Path, **by_name: tuple[float | None, str | None]) -> None:
    """Every slab without a reading but these."""
    slabs = json.loads((folder / "slabs.json").read_text("utf-8"))
    for slab in slabs:
        percent, day = by_name.get(slab["name"].replace("-", "_"), (None, None))
        slab["moisture_percent"] = percent
        if day:
            slab["moisture_date"] = day
    (folder / "slabs.json").write_text(json.dumps(slabs), "utf-8")


def test_a_frame_waits_for_the_last_of_its_slabs(folder):
    """Only frames with a timber on the wet slab wait, until the day that drying gives for it."""
    on = {p.mark: p.slab for p in Pile(Job(folder)).accepted}
    wet = max(set(on.values()), key=list(on.values()).count)
    frames = {int(m.split("-")[0]) for m, s in on.items() if s == wet}
    _metered(folder, **{wet.replace("-", "_"): (30.0, "2031-04-05")})
    job = Job(folder)
    air = equilibrium_percent(12.0, 70.0)
    day = dry_on([(date(2031, 4, 5), 30.0)], 16.0, air, job.rack[wet].thickness_mm)
    found = drying(job, YardState(), TODAY)
    assert found.dry == dict.fromkeys(sorted(frames), day)
    assert {w.slab for w in found.waits} == {wet}
    assert found.findings == ()


def test_a_timber_already_roughed_waits_no_longer(folder):
    """What is roughed out waits no more; a reading in the journal counts beside the rack's."""
    on = {p.mark: p.slab for p in Pile(Job(folder)).accepted}
    wet = max(set(on.values()), key=list(on.values()).count)
    _metered(folder, **{wet.replace("-", "_"): (30.0, "2031-04-05")})
    with Journal(folder / "journal.sqlite") as journal:
        for mark in (m for m, s in on.items() if s == wet):
            journal.enter(Entry(mark, "roughed", "Ann", {"because": "try"}), NOW)
        assert drying(Job(folder), journal.state(), TODAY).waits == ()
        journal.undo("Ann", NOW)
        assert len(drying(Job(folder), journal.state(), TODAY).waits) == 1
        journal.enter(Entry(wet, "measured", "Ann", {"moisture_percent": 15.5}), NOW)
        assert drying(Job(folder), journal.state(), TODAY).waits == ()


def test_a_slab_that_never_dries_is_told(folder):
    """A slab that gets wetter holds no frame back for ever: it is told by name."""
    on = {p.mark: p.slab for p in Pile(Job(folder)).accepted}
    wet = next(iter(on.values()))
    _metered(folder, **{wet.replace("-", "_"): (20.0, "2031-04-05")})
    with Journal(folder / "journal.sqlite") as journal:
        journal.enter(Entry(wet, "measured", "Ann", {"moisture_percent": 24.0}), NOW)
        found = drying(Job(folder), journal.state(), TODAY)
    assert found.waits == ()
    assert [f.code for f in found.findings] == ["Y050"]
    assert found.findings[0].message.startswith(wet)


def test_when_waits_for_slabs_to_dry(folder):
    """The forecast of a yard with wet slabs ends after they are dry, and says what it waits for."""
    on = {p.mark: p.slab for p in Pile(Job(folder)).accepted}
    wet = next(iter(on.values()))
    _metered(folder)
    before = yard.when(str(folder), quiet, runs=20, seed=1)
    dry, dry_account = before.document, before.account
    _metered(folder, **{wet.replace("-", "_"): (40.0, datetime.now(UTC).date().isoformat())})
    answer = yard.when(str(folder), quiet, runs=20, seed=1)
    late = answer.document["drying"][-1]
    assert dry["drying"] == []
    assert dry["p90"] < late["dry_on"] < answer.document["p10"]
    assert f"slab {wet} until" in answer.account
    held = {h["what"]: h["waited_hours"] for h in answer.document["holdups"]}
    assert held["slabs to dry"] > 100
    assert f"slabs to dry {held['slabs to dry']:.0f}" in answer.account
    assert "One more hand would gain" in dry_account


def test_an_entry_is_tried_against_the_vessels_marks(folder):
    """Once her frames are known, did tells of a mark she has not; after a change no longer."""
    job = Job(folder)
    own = job.framing.frames[0].timbers[0].mark
    codes = [f.code for f in yard.did(str(folder), "99-P-f1", "moulded", "Ann").findings]
    assert codes == ["Y006"]
    assert yard.did(str(folder), own, "moulded", "Ann").findings == ()
    assert marks.known(folder) == tuple(t.mark for f in job.framing.frames for t in f.timbers)
    with (folder / "vessel.toml").open("a") as stated:
        stated.write("people = 3\n")
    assert marks.known(folder) is None
    assert yard.did(str(folder), "99-P-f2", "moulded", "Ann").findings == ()


def _wood(pile: Pile, placement) -> shapely.Polygon:
    """The blank of a placement, as it lies in its slab."""
    mould = next(m for m in pile.job.moulds if m.mark == placement.mark)
    rings = (mould.outline_up_mm, mould.outline_down_mm)
    return shapely.union_all([shapely.Polygon(placement.lay(r)) for r in rings])


def test_a_spoiled_timber_gets_another_place(folder):
    """Spoiled in the journal, a timber is laid anew clear of the wood it spoiled, and once only;
    and no later layout comes back to that wood.
    """
    before = {p.mark: p for p in Pile(Job(folder)).accepted}
    slabs = [p.slab for p in before.values()]
    mark = next(m for m, p in before.items() if p.slab == max(set(slabs), key=slabs.count))
    for word in ("roughed", "spoiled"):
        yard.did(str(folder), mark, word, "Ann", body={"because": "a shake"})
    pile = Pile(Job(folder))
    assert pile.shown.spoiled == (mark,)
    healing = pile.heal()
    assert [c.mark for c in healing.changes][:1] == [mark]
    pile.accept(healing.layout)
    healed = Pile(Job(folder))
    assert healed.shown.spoiled == ()
    assert list(healed.spent.values()) == [before[mark]]
    again = healed.lay(seed=3, rounds=1)
    gone = _wood(healed, before[mark])
    beside = [p for p in healed.accepted if p.slab == before[mark].slab]
    assert beside
    for p in (*beside, *again.placements):
        if p.slab == before[mark].slab:
            assert _wood(healed, p).distance(gone) >= healed.settings.kerf_mm - 0.01
    # nor is it to be had by hand
    faults = {f.what for f in healed.judge(before[mark]).faults}
    assert faults == {"gap"}
    for place in healed.best_places(mark, 6):
        if place.placement.slab == before[mark].slab:
            assert _wood(healed, place.placement).distance(gone) >= healed.settings.kerf_mm - 0.01
    healed.accept(again)
    assert list(Pile(Job(folder)).spent.values()) == [before[mark]]


def test_what_is_cut_stays_when_all_is_laid_again(folder):
    """A timber roughed out keeps its place in a new layout, though nobody locked it."""
    before = {p.mark: p for p in Pile(Job(folder)).accepted}
    mark = next(iter(before))
    yard.did(str(folder), mark, "roughed", "Ann")
    again = {p.mark: p for p in Pile(Job(folder)).lay(seed=5, rounds=1).placements}
    for key in ("slab", "turn_deg", "shift_mm", "mirrored"):
        assert getattr(again[mark], key) == getattr(before[mark], key)


def test_planing_learns_its_time_from_the_journal(folder):
    """Entries of planing with their hours give the thicknessing its time: first faces by what was
    flattened, second by what was thicknessed, a frame's entry for all its timbers.
    """
    job = Job(folder)
    assert job.thicknessing.minutes is None
    frame = job.framing.frames[0].number
    plan = {p.name: p for p in job.thicknessing.pieces}
    size = {m.mark: m.length_mm * m.wide_mm * 1e-6 for m in job.moulds}
    own = [m for m in plan if m.startswith(f"{frame}-")]
    for word, face, mark, those in (
        ("flattened", "first", str(frame), own),
        ("thicknessed", "second", own[0], own[:1]),
    ):
        area = sum(size[m] * sum(c.face == face for c in plan[m].passes) for m in those)
        body = {"hours": 5.0 * area / 60.0, "because": "try"}
        yard.did(str(folder), mark, word, "Ann", body=body)
    told = Job(folder).thicknessing
    assert told.shown == 2
    assert told.minutes == pytest.approx(
        sum(5.0 * size[p.name] * len(p.passes) for p in plan.values())
    )
    yard.undo(str(folder), "Ann")
    assert Job(folder).thicknessing.shown == 1


def test_wet_days_are_ahead(folder):
    """A reading without a date is taken as of today, so the day to wait for lies ahead."""
    on = {p.mark: p.slab for p in Pile(Job(folder)).accepted}
    wet = next(iter(on.values()))
    _metered(folder, **{wet.replace("-", "_"): (22.0, None)})
    one, later = (
        drying(Job(folder), YardState(), d).waits[0].dry_on
        for d in (TODAY, TODAY + timedelta(days=9))
    )
    assert TODAY < one == later - timedelta(days=9)
