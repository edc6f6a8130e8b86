"""When she will be framed: order, calendar, learned pace, and simulated dates that hold."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from math import exp, log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from futtock.errors import Interrupted, Misused
from futtock.vessel.workshop import Yard
from futtock.yard import Entry, YardPlan, build_order, fold, forecast, work_left
from futtock.yard.drying import dry_on
from futtock.yard.event import made
from futtock.yard.foreman import PEOPLE, Draws, Foreman, drawn
from futtock.yard.pace import learned
from futtock.yard.plan import BY_HAND, PLANER, TILTING_SAW, WORK
from futtock.yard.stages import FRAME_STAGES, STAGES, TIMBER_STAGES

MONDAY = datetime(2031, 5, 5, 8, 0, tzinfo=UTC)


def _timbers(frames: int, each: int = 13) -> dict[int, list[str]]:
    return {
        n: [f"{n}-{'PS'[i % 2]}-{'fa'[i // 2 % 2]}{i // 4 + 1}" for i in range(each)]
        for n in range(1, frames + 1)
    }


def _journal(entries):
    """Records of (mark, word, who, when[, body]) without a database."""
    events, previous = [], "0" * 64
    for seq, (mark, word, who, when, *body) in enumerate(entries, start=1):
        event = made(Entry(mark, word, who, body[0] if body else {}), when).sealed(seq, previous)
        events.append(event)
        previous = event.hash
    return events


def _done(frames, timbers, day=MONDAY):
    return [
        *((t, "bevelled", "Ann", day) for n in frames for t in timbers[n]),
        *((str(n), w, "Ann", day) for n in frames for w in FRAME_STAGES),
    ]


# --- the plan -----------------------------------------------------------------------------------


@given(st.sets(st.integers(1, 90), min_size=1), st.integers(1, 9), st.none() | st.integers(1, 4))
def test_order_builds_every_frame_once(frames, every, out):
    """Whatever the frames, the order holds each of them once."""
    assert sorted(build_order(frames, every, out)) == sorted(frames)


@given(st.integers(1, 60), st.integers(1, 8))
def test_control_frames_come_first(count, every):
    """One frame in so many, with the first and the last, comes before all those between."""
    order = build_order(range(1, count + 1), every)
    control = set(range(1, count + 1, every)) | {count}
    assert set(order[: len(control)]) == control


@given(st.integers(1, 60), st.integers(1, 8), st.integers(1, 4))
def test_standing_hull_keeps_her_frames(count, every, out):
    """All frames of the first pass may be out together, and never more than so many adjacent."""
    order = build_order(range(1, count + 1), every, out)
    kept = set(range(out + 1, count + 1, out + 1))
    first = order[: count - len(kept)]
    assert kept.isdisjoint(first)
    runs = np.split(np.sort(first), np.flatnonzero(np.diff(np.sort(first)) > 1) + 1)
    assert max(len(run) for run in runs) <= out


def test_begun_frames_come_first():
    """What is begun is finished before anything else."""
    assert build_order(range(1, 10), 4, begun=[7, 2])[:2] == (2, 7)


def test_days():
    """Working hours fall on working days: not on Sundays, not on holidays."""
    plan = YardPlan(days=(0, 1, 2, 3, 4), hours_a_day=8, holidays=frozenset({date(2031, 5, 6)}))
    first = MONDAY.date()
    days = [plan.day_of(first, h) for h in (0, 8, 8.1, 32, 32.1)]
    assert [(d - first).days for d in days] == [0, 0, 2, 4, 7]
    with pytest.raises(Misused, match="none to work on"):
        YardPlan(days=(5,), holidays=frozenset(first + timedelta(n) for n in range(40_001))).day_of(
            first, 1
        )


def test_plan_is_what_is_stated():
    """The plan takes over every setting of [yard]."""
    yard = Yard.model_validate(
        {
            "people": 3,
            "days": ["Sat", "monday"],
            "hours": {"bored": 2},
            "spoilage_percent": 10,
            "out_at_once": 2,
            "machines": {"planer": 2},
        }
    )
    plan = YardPlan.stated(yard)
    assert (plan.people, plan.days, plan.spoilage, plan.out_at_once) == (3, (0, 5), 0.1, 2)
    assert plan.hours_of("bored") == 2
    assert plan.machine_of("bevelled") is None
    assert plan.machine_of("flattened") == PLANER
    with pytest.raises(Misused, match="no such stage"):
        YardPlan(hours={"painted": 1})


def test_by_hand_everything_takes_longer():
    """By hand each stage takes the same number of times longer."""
    hand, machine = YardPlan(pace="by hand"), YardPlan()
    assert all(hand.hours_of(s) == pytest.approx(BY_HAND * machine.hours_of(s)) for s in STAGES)


def test_work_left():
    """What is left counts timbers stage by stage; a later stage implies the earlier ones."""
    timbers = _timbers(3, 4)
    marks = timbers[1]
    events = _journal(
        [
            (marks[0], "bevelled", "Ann", MONDAY),
            (marks[1], "roughed", "Ann", MONDAY),
            ("2", "bedded", "Ann", MONDAY),
            *_done([3], timbers),
        ]
    )
    one, two, three = work_left(fold(events), timbers)
    assert dict(one.left)["moulded"] == 2
    assert dict(one.left)["flattened"] == 3
    assert dict(one.left)["dry-fitted"] == 1
    assert two.left[0] == ("bored", 1)
    assert three.done


# --- the pace -----------------------------------------------------------------------------------


def test_nothing_known_is_what_is_reckoned():
    """Without entries every stage is expected as reckoned, in the first frames 1.6 times that."""
    pace = learned([], YardPlan())
    assert pace.factor("bored") == pytest.approx(1.0)
    assert pace.factor("bored", first=True) == pytest.approx(1.6)
    draws = np.array([pace.drawn(z) for z in np.random.default_rng(1).normal(size=(4000, 20))])
    assert draws.std(axis=0) == pytest.approx([0.5, *[0.3] * 18, 0.3], rel=0.1)


def test_posterior_of_one_observation():
    """One stated time moves the pace as the normal posterior does in closed form."""
    plan = YardPlan(learning_frames=0)
    hours = 3.0 * plan.hours_of("bored")
    pace = learned(_journal([("9", "bored", "Ann", MONDAY, {"hours": hours})]), plan)
    # Prior variance of mu + delta is 0.25 + 0.09, noise 0.35 squared (textbook: normal, one datum).
    weight = 0.34 / (0.34 + 0.35**2)
    assert log(pace.factor("bored")) == pytest.approx(weight * log(3.0), rel=1e-9)
    shared = 0.25 / (0.34 + 0.35**2)
    assert log(pace.factor("bevelled")) == pytest.approx(shared * log(3.0), rel=1e-9)


def test_pace_of_a_simulated_yard_is_found():
    """From a yard whose true pace is known, stated hours give each stage's pace."""
    rng = np.random.default_rng(3)
    plan = YardPlan()
    true = {s: exp(0.3 + 0.25 * rng.standard_normal()) for s in STAGES}
    entries = []
    for n in range(1, 41):
        for i, word in enumerate(FRAME_STAGES):
            slow = 1.8 if n <= plan.learning_frames else 1.0
            hours = plan.hours_of(word) * true[word] * slow * exp(0.25 * rng.standard_normal())
            when = MONDAY + timedelta(days=n, minutes=i)
            entries.append((str(n), word, "Ann", when, {"hours": hours}))
    pace = learned(_journal(entries), plan)
    for word in FRAME_STAGES:
        assert pace.factor(word) == pytest.approx(true[word], rel=0.15)
        assert pace.factor(word, first=True) == pytest.approx(1.8 * true[word], rel=0.2)
    assert pace.in_first == 5 * len(FRAME_STAGES)


def test_days_without_hours_tell_the_pace_too():
    """Where nobody writes hours, full days of entries show a yard twice as slow as reckoned."""
    plan = YardPlan(learning_frames=0)
    day = plan.hours_of("bevelled")
    count = int(plan.hours_a_day / (2 * day))
    entries = [
        (f"{d + 1}-P-f{i % 90 + 1}", "bevelled", "Ann", MONDAY + timedelta(days=d, minutes=i))
        for d in range(25)
        for i in range(count)
    ]
    pace = learned(_journal(entries), plan, today=date(2031, 9, 1))
    assert pace.factor("bevelled") == pytest.approx(2.0, rel=0.1)


def test_corrected_entries_do_not_count():
    """An entry that was undone says nothing of the pace."""
    from futtock.yard.event import corrected

    plan = YardPlan()
    events = _journal([("9", "bored", "Ann", MONDAY, {"hours": 30})])
    undo = corrected(events[0], "Ann", MONDAY).sealed(2, events[0].hash)
    assert learned([*events, undo], plan).factor("bored") == pytest.approx(1.0)


# --- the forecast -------------------------------------------------------------------------------


def test_practice():
    """n frames take n/2 to n working days with machines, about n weeks by hand.

    Common practice, no source: one or two double frames a day with machines, one a week by hand.
    """
    timbers = _timbers(27)
    for people in (2, 3, 4):
        found = forecast([], timbers, YardPlan(people=people), MONDAY, runs=30, gains=False)
        assert 27 / 2 * 0.9 <= found.working_days[1] <= 27
    by_hand = forecast([], timbers, YardPlan(pace="by hand"), MONDAY, runs=30, gains=False)
    assert by_hand.working_days[1] / 5 == pytest.approx(27, rel=0.15)


def test_one_task_in_closed_form():
    """With one stage left on one frame its end is lognormal, as the closed form says."""
    timbers = _timbers(1, 4)
    todo = [e for e in _done([1], timbers) if e[1] != "ribbanded"]
    hours = 200.0
    plan = YardPlan(
        hours={"ribbanded": hours}, learning_frames=0, spoilage=0.0, days=tuple(range(7))
    )
    late = _journal([(*e[:3], MONDAY - timedelta(days=90)) for e in todo])
    found = forecast(late, timbers, plan, MONDAY, runs=4000)
    # What the entries of one long past day teach is in the pace; the rest is luck of 0.25.
    pace = found.pace
    row = np.zeros(len(STAGES) + 2)
    row[0] = row[1 + STAGES.index("ribbanded")] = 1.0
    sd = float(np.hypot(np.linalg.norm(row @ pace.root), 0.25))
    for z, day in ((-1.2816, found.p10), (0.0, found.p50), (1.2816, found.p90)):
        expected = hours * pace.factor("ribbanded") * exp(z * sd) / plan.hours_a_day
        assert (day - MONDAY.date()).days == pytest.approx(expected, rel=0.05, abs=1.0)


def test_nothing_left():
    """A vessel that is framed is framed today, and nothing is held up."""
    timbers = _timbers(3)
    found = forecast(_journal(_done([1, 2, 3], timbers)), timbers, YardPlan(), MONDAY, runs=10)
    assert found.p10 == found.p90 == MONDAY.date()
    assert (found.left, found.frames, found.order, found.gains) == (0, 3, (), ())
    assert found.burn_up.past[-1] == (MONDAY.date(), 3)


def test_same_seed_same_answer():
    """The same seed gives the same forecast; another gives another."""
    timbers = _timbers(6)
    one, two, three = (
        forecast([], timbers, YardPlan(), MONDAY, runs=40, seed=s) for s in (1, 1, 2)
    )
    assert (one.working_days, one.holdups, one.gains) == (two.working_days, two.holdups, two.gains)
    assert one.working_days != three.working_days


def test_more_work_and_spoilage_take_longer():
    """More frames, more spoilage, fewer days and longer rests never bring the day nearer."""
    base = forecast([], _timbers(8), YardPlan(), MONDAY, runs=60).working_days[1]
    assert forecast([], _timbers(12), YardPlan(), MONDAY, runs=60).working_days[1] > base
    assert forecast([], _timbers(8), YardPlan(spoilage=0.4), MONDAY, runs=60).working_days[1] > base
    assert forecast([], _timbers(8), YardPlan(rest_days=30), MONDAY, runs=60).working_days[1] > base


def test_what_holds_her_up_and_what_would_gain():
    """Where the saw is the bottle-neck it is named, and one more gains most."""
    plan = YardPlan(people=6, hours={"bevelled": 1.5})
    found = forecast([], _timbers(10), plan, MONDAY, runs=60)
    assert found.holdups[0].what == TILTING_SAW
    assert found.holdups[0].use > 0.7
    gains = {g.what: g.days for g in found.gains}
    assert found.gains[0].what == TILTING_SAW
    assert gains[TILTING_SAW] > gains[PEOPLE] + 1


def test_a_hand_more_where_hands_are_short():
    """In a yard of two a third hand gains days, a second saw none."""
    found = forecast([], _timbers(20), YardPlan(), MONDAY, runs=60)
    gains = {g.what: g.days for g in found.gains}
    assert gains[PEOPLE] > 3
    assert abs(gains[TILTING_SAW]) < 1


def test_people_are_never_used_twice():
    """Hours of work done never exceed the hours there were people and machines for."""
    for people in (1, 2, 5):
        found = forecast([], _timbers(9), YardPlan(people=people), MONDAY, runs=20)
        assert all(0 <= h.use <= 1 + 1e-9 for h in found.holdups)


def test_burn_up():
    """The picture's courses rise, keep their order, and end with every frame done."""
    timbers = _timbers(9)
    events = _journal(_done([1, 2], timbers, MONDAY - timedelta(days=3)))
    burn = forecast(events, timbers, YardPlan(), MONDAY, runs=60).burn_up
    assert [n for _, n in burn.past] == [1, 2]
    for course in (burn.p10, burn.p50, burn.p90):
        assert list(course) == sorted(course)
        assert course[0] == 2
        assert course[-1] == 9
    assert all(a <= b <= c for a, b, c in zip(burn.p10, burn.p50, burn.p90, strict=True))
    assert len(burn.days) == len(burn.p50)


def test_stopped_early():
    """A forecast stopped midway rests on the runs it has; one stopped at once is interrupted."""
    timbers = _timbers(4)
    found = forecast([], timbers, YardPlan(), MONDAY, runs=50, report=lambda p: p.done < 20)
    assert found.runs == 20
    assert found.gains == ()
    with pytest.raises(Interrupted):
        forecast([], timbers, YardPlan(), MONDAY, runs=50, report=lambda _: False)


def test_stated_start_is_waited_for():
    """Work does not begin before the day that is stated."""
    plan = YardPlan(start=date(2031, 8, 1))
    found = forecast([], _timbers(1), plan, MONDAY, runs=20)
    assert found.p10 >= date(2031, 8, 1)


def test_wet_slabs_are_waited_for():
    """A frame whose slabs are not yet dry is not roughed out before they are."""
    base = forecast([], _timbers(3), YardPlan(), MONDAY, runs=20)
    dry = {2: MONDAY.date() + timedelta(days=70)}
    found = forecast([], _timbers(3), YardPlan(), MONDAY, runs=20, dry=dry)
    assert found.p10 > dry[2] > base.p90
    assert found.working_days[0] > 50


def test_drying():
    """Moisture falls by the same share each day: a slab's readings give the day in closed form."""
    first = date(2031, 1, 1)
    # From 40 % towards 12 % it halves its distance every 30 days: 26, 19; then 15.5 after 90.
    readings = [(first, 40.0), (first + timedelta(30), 26.0), (first + timedelta(60), 19.0)]
    assert dry_on(readings, 15.5, 12.0, 50.0) == first + timedelta(90)
    assert dry_on(readings[::-1], 15.6, 12.0, 50.0) == first + timedelta(89)
    assert dry_on(readings, 19.0, 12.0, 50.0) == first + timedelta(60)
    assert dry_on(readings, 12.0, 12.0, 50.0) is None
    assert dry_on([], 15.0, 12.0, 50.0) is None
    assert dry_on([(first, 20.0), (first + timedelta(9), 22.0)], 15.0, 12.0, 50.0) is None


def test_drying_by_practice():
    """With one reading a slab dries at an inch a year (common practice, no source)."""
    first = date(2031, 1, 1)
    days = (dry_on([(first, 72.0)], 15.0, 12.0, 50.8) - first).days
    assert days == 2 * 365
    assert (dry_on([(first, 72.0)], 15.0, 12.0, 25.4) - first).days == 365


@pytest.mark.slow
def test_forecasts_hold():
    """Over simulated yards of unknown pace the 10, 50 and 90 % days are met about so often.

    Each yard's true pace is drawn from what is held beforehand and its first frames' hours are
    entered; the true end comes from one more run of the same rules with the true pace.
    """
    rng = np.random.default_rng(11)
    timbers = _timbers(8, 6)
    plan = YardPlan(spoilage=0.05)
    met = np.zeros(3)
    yards = 45
    for y in range(yards):
        prior = learned([], plan)
        truth = prior.drawn(rng.standard_normal(prior.mean.size))
        entries = []
        for n in (1, 2, 3):
            for i, word in enumerate(STAGES):
                marks = timbers[n] if word in TIMBER_STAGES else [str(n)]
                for mark in marks:
                    factor = exp(truth[0] + truth[1 + STAGES.index(word)] + truth[-1])
                    hours = plan.hours_of(word) * factor * exp(0.35 * rng.standard_normal())
                    when = MONDAY - timedelta(days=40 - n, minutes=-i)
                    entries.append((mark, word, "Ann", when, {"hours": min(hours, 900)}))
        events = _journal(entries)
        found = forecast(events, timbers, plan, MONDAY, runs=50, seed=y, gains=False)
        queue = [f for f in work_left(fold(events), timbers) if not f.done]
        queue = [next(f for f in queue if f.number == n) for n in found.order]
        luck = drawn(10_000 + y, 0, prior, queue)
        true_run = Foreman(plan, queue, prior, 3, Draws(truth, luck.luck, luck.spoils)).run()
        met += [true_run.finish / plan.hours_a_day <= days for days in found.working_days]
    # Within three standard deviations of sampling.
    for share, stated in zip(met / yards, (0.1, 0.5, 0.9), strict=True):
        assert abs(share - stated) <= 3 * (stated * (1 - stated) / yards) ** 0.5


def test_every_stage_has_its_work():
    """Each stage has hours, people and no unknown machine."""
    assert set(WORK) == set(STAGES)
    assert all(w.hours > 0 and w.people in (1, 2) for w in WORK.values())
    assert {w.machine for w in WORK.values()} == {None, PLANER, TILTING_SAW}
    assert WORK["bevelled"].people == 2
