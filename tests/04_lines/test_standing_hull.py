"""A worn hull: the wear undone, restored lines written out, zones kept as found."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from futtock.lines import RestoreSettings, Survey, Zone, fair_survey
from futtock.lines.cloud import fit_cloud
from futtock.lines.fair import FairSettings
from futtock.lines.heightfield import HeightField
from futtock.lines.restoring import restore
from futtock.lines.standing import StandingHull
from futtock.lines.wear import Sway, Wear

LENGTH, NEUTRAL = 10_000.0, 1100.0


def sound(x: np.ndarray, a: np.ndarray) -> np.ndarray:
    """An invented tub: sections a half ellipse rising to the ends; a from 0 (keel) to 1 (sheer)."""
    s = 2 * x / LENGTH - 1
    wide, foot = 1500 * (1 - 0.75 * s**2), 300 + 500 * s**4
    top = 2000 + 250 * s**2
    y = 60 + wide * np.sin(a * np.pi / 2) ** 1.2
    z = foot + (top - foot) * (1 - np.cos(a * np.pi / 2)) ** 0.9
    return np.column_stack([x, y, z])


def worn(p: np.ndarray) -> np.ndarray:
    """Hogged 80 mm, bent and twisted by sines: not the curves that are fitted."""
    x, y, z = p.T
    hog, slope = 320 * x / LENGTH * (1 - x / LENGTH), 320 / LENGTH * (1 - 2 * x / LENGTH)
    bend = 20 * np.sin(3.6 * x / LENGTH)
    bend1 = 20 * 3.6 / LENGTH * np.cos(3.6 * x / LENGTH)
    phi = np.radians(0.9) * (x / LENGTH - 0.4)
    up = z - NEUTRAL
    return np.column_stack(
        [
            x - up * slope - y * bend1,
            bend + y * np.cos(phi) - up * np.sin(phi),
            hog + NEUTRAL + y * np.sin(phi) + up * np.cos(phi),
        ]
    )


def survey(n: int = 6000, noise: float = 2.0, wild: float = 0.02) -> Survey:
    """Points of the worn hull, both sides, with noise, a gap and some far off."""
    rng = np.random.default_rng(4)
    p = sound(rng.uniform(100, LENGTH - 100, n), rng.uniform(0, 1, n))
    p = p[~((np.abs(p[:, 0] - 4000) < 250) & (p[:, 2] < 900))]
    p[:, 1] *= np.where(rng.random(len(p)) < 0.5, 1, -1)
    p = worn(p) + noise * rng.standard_normal(p.shape) / np.sqrt(3)
    far = rng.random(len(p)) < wild
    p[far] += rng.normal(0, 150, (int(far.sum()), 3))
    x = np.linspace(600, LENGTH - 600, 30)
    keel = worn(np.column_stack([x, 0 * x, 250 + 0 * x])) + rng.normal(0, 1, (30, 3))
    x = np.linspace(100, LENGTH - 100, 40)
    sheer = worn(sound(x, np.ones(40)))
    rabbet = worn(sound(x, np.zeros(40)))
    return Survey(p, {"keel": keel, "sheer": sheer, "rabbet": rabbet}, "scan.csv")


STATED = RestoreSettings(keel=((0.0, 250.0), (LENGTH, 250.0)), neutral_axis_mm=NEUTRAL)


@pytest.fixture(scope="module")
def standing() -> StandingHull:
    zone = Zone("midships", 4500.0, 5500.0)
    return fair_survey(survey(), FairSettings(2.0, waterline_mm=1300.0), STATED, (zone,))


@given(
    st.lists(st.floats(-60, 60), min_size=8, max_size=8),
    st.lists(st.floats(-30, 30), min_size=6, max_size=6),
    st.lists(st.floats(-0.02, 0.02), min_size=5, max_size=5),
)
def test_wear_taken_out_is_undone(hog: list[float], bend: list[float], twist: list[float]) -> None:
    """Put in and taken out again, any wear leaves each point within a twentieth of a millimetre."""
    wear = Wear(
        Sway(0, LENGTH, np.array(hog)),
        Sway(0, LENGTH, np.array(bend)),
        Sway(0, LENGTH, np.array(twist)),
        NEUTRAL,
    )
    rng = np.random.default_rng(0)
    p = sound(rng.uniform(300, LENGTH - 300, 50), rng.uniform(0, 1, 50))
    back = wear.take_out(wear.put_in(p))
    # the slopes are taken at the worn x, to first order in their change
    assert np.linalg.norm(back - p, axis=1).max() < 0.05 + 2e-4 * max(map(abs, hog + bend))


def test_restored_hull_is_the_sound_one(standing: StandingHull) -> None:
    """Hog, bend and twist out, the hull lies within a few millimetres of the sound one."""
    x, a = (g.ravel() for g in np.meshgrid(np.linspace(300, 9700, 40), np.linspace(0.05, 1, 20)))
    off, _ = standing.restoration.cloud.side.field.nearest(sound(x, a))
    assert np.sqrt((off**2).mean()) < 1.5
    assert np.percentile(np.abs(off), 98) < 5.0


def test_each_choice_shows_its_effect(standing: StandingHull) -> None:
    """Hog about 80 mm, bend about 20, twist about half a degree; the keel as stated."""
    effects = {e.choice: e for e in standing.restoration.effects}
    assert 70 < effects["hog"].moves_mm < 90
    assert 12 < effects["bend"].moves_mm < 26
    assert 0.35 < float(effects["twist"].value.split()[0]) < 0.7
    assert effects["keel's original line"].stated
    assert effects["neutral axis, were it 300 mm higher"].moves_mm > 1.0


def test_points_far_off_are_left_out(standing: StandingHull) -> None:
    """Most of the points thrown far off are counted as lying off the hull."""
    cloud = standing.restoration.cloud
    assert 0.01 < (~cloud.kept).mean() < 0.05


def test_restored_table_is_kept_and_fairs(standing: StandingHull) -> None:
    """The restored lines come as a table whose half-breadths are the sound hull's."""
    a = np.linspace(0, 1, 2001)
    for row in standing.table.rows:
        if row.what != "waterline":
            continue
        for x, y in zip(standing.table.x_mm, row.values_mm, strict=True):
            if np.isfinite(y) and 1000 < x < 9000:
                section = sound(np.full_like(a, x), a)
                # measured square to the section, for flat ones throw a half-breadth far
                gap = np.hypot(section[:, 1] - y, section[:, 2] - row.at_mm).min()
                assert gap < 5.0
    assert standing.fairing.hydrostatics is not None
    assert standing.fairing.rms_mm < 1.0


def test_a_zone_as_found_follows_the_worn_hull(standing: StandingHull) -> None:
    """In the zone the surface is the measured one, far from it the restored one, told as a step."""
    hull = standing.fairing.hull
    assert [s.side for s in standing.steps] == ["starboard", "port"]
    assert min(s.rms_mm for s in standing.steps) > 20.0
    assert any(f.code == "L111" for f in standing.findings)
    points = survey().points
    worn_fit = fit_cloud(points[points[:, 1] >= 0], 2.0).side.field
    for x, limit_found, limit_restored in ((5000.0, 2.0, None), (8500.0, None, 2.0)):
        u = np.full(15, x)
        low, high = hull.trim.low(u), hull.trim.high(u)
        v = low + (high - low) * np.linspace(0.1, 0.9, 15)
        p = hull.surface.derivatives(u, v)[:, 0, :]
        if limit_found is not None:
            assert np.abs(worn_fit.nearest(p)[0]).max() < limit_found
        if limit_restored is not None:
            assert np.abs(standing.fairing.side.field.nearest(p)[0]).max() < limit_restored


def test_a_zone_differentiates_itself(standing: StandingHull) -> None:
    """First and second derivatives through the easing are those of central differences."""
    field, e = standing.fairing.hull.surface, 0.2
    u, v = np.linspace(3950, 6050, 15), np.linspace(1300, 2100, 15)
    d = field.derivatives(u, v)
    fore, aft = field.derivatives(u + e, v), field.derivatives(u - e, v)
    up, down = field.derivatives(u, v + e), field.derivatives(u, v - e)
    np.testing.assert_allclose(d[:, 1], (fore[:, 0] - aft[:, 0]) / (2 * e), atol=1e-5)
    np.testing.assert_allclose(d[:, 3], (fore[:, 1] - aft[:, 1]) / (2 * e), atol=1e-6)
    np.testing.assert_allclose(d[:, 4], (up[:, 1] - down[:, 1]) / (2 * e), atol=1e-6)
    np.testing.assert_allclose(d[:, 5], (up[:, 2] - down[:, 2]) / (2 * e), atol=1e-6)


def test_what_was_not_stated_is_told() -> None:
    """Without keel points, with one side only, and with nothing stated, the findings say so."""
    whole = survey(2500)
    half = Survey(whole.points[whole.points[:, 1] > 0], {}, "scan.csv")
    codes = [f.code for f in restore(half, 2.0, RestoreSettings()).findings]
    assert "L108" in codes
    assert "L109" in codes
    assert "L110" in codes


def test_trusting_one_side_leaves_the_other_out() -> None:
    """With port bulged by 30 mm and starboard trusted, the surface is starboard's."""
    rng = np.random.default_rng(7)
    p = sound(rng.uniform(100, LENGTH - 100, 5000), rng.uniform(0, 1, 5000))
    side = np.where(rng.random(5000) < 0.5, -1.0, 1.0)
    bulge = 30 * np.exp(-(((p[:, 0] - 5000) / 900) ** 2)) * (side < 0)
    points = p.copy()
    points[:, 1] = (points[:, 1] + bulge) * side
    still = RestoreSettings(hog=False, bend=False, twist=False, trust="starboard")
    done = restore(Survey(points), 1.0, still)
    look = sound(np.full(12, 5000.0), np.linspace(0.1, 0.95, 12))
    assert np.abs(done.cloud.side.field.nearest(look)[0]).max() < 2.0
    assert done.side_off_mm[0] > done.side_off_mm[1]


def test_port_and_starboard_are_kept_apart_where_they_stay() -> None:
    """A port bulge in a zone as found stays on port; starboard, and port elsewhere, is restored."""
    rng = np.random.default_rng(9)
    p = sound(rng.uniform(100, LENGTH - 100, 8000), rng.uniform(0, 1, 8000))
    port = rng.random(8000) < 0.5

    def bulge(x: np.ndarray) -> np.ndarray:
        return 30 * np.exp(-(((x - 5000) / 900) ** 2))

    p[port, 1] = -(p[port, 1] + bulge(p[port, 0]))
    still = RestoreSettings(hog=False, bend=False, twist=False, trust="starboard")
    zones = (Zone("clamp", 4600.0, 5400.0), Zone("deck", 8000.0, 8400.0, side="starboard"))
    got = fair_survey(Survey(p), FairSettings(1.0), still, zones)
    assert [(s.zone, s.side) for s in got.steps] == [
        ("clamp", "starboard"),
        ("deck", "starboard"),
        ("clamp", "port"),
    ]
    by_side = {s.side: s for s in got.steps if s.zone == "clamp"}
    assert by_side["port"].most_mm > 18.0
    assert max(abs(by_side["starboard"].most_mm), abs(by_side["starboard"].least_mm)) < 3.0
    assert got.port is not None
    a = np.linspace(0.1, 0.9, 12)
    look = sound(np.full(12, 5000.0), a)
    bulged = look + np.array([0.0, 30.0, 0.0])
    afar = sound(np.full(12, 7000.0), a)
    for hull, points in ((got.fairing.hull, look), (got.port, bulged), (got.port, afar)):
        field = hull.surface
        assert isinstance(field, HeightField)
        assert np.abs(field.nearest(points)[0]).max() < 3.0


def test_the_doubt_of_a_survey_is_the_doubt_of_its_points() -> None:
    """The true side lies within two stated standard errors of the faired one at 80 of 100 places.

    A hull without wear, her points with noise and a fiftieth of them far off. Doubt was told from
    the table taken off the fitted surface alone, and half as many places lay within it.
    """
    rng = np.random.default_rng(7)
    p = sound(rng.uniform(100, LENGTH - 100, 5000), rng.uniform(0, 1, 5000))
    p[:, 1] *= np.where(rng.random(len(p)) < 0.5, 1, -1)
    p += 2.0 * rng.standard_normal(p.shape)
    far = rng.random(len(p)) < 0.02
    p[far] += rng.normal(0, 150, (int(far.sum()), 3))
    kept = RestoreSettings(hog=False, bend=False, twist=False)
    fairing = fair_survey(Survey(p, {}, "scan.csv"), FairSettings(2.0), kept).fairing
    x, a = np.meshgrid(np.linspace(400, LENGTH - 400, 40), np.linspace(0.05, 0.95, 15))
    true = sound(x.ravel(), a.ravel())
    off = np.abs(fairing.side.field.nearest(true)[0])
    said = fairing.side.spread(true)[0]
    assert (off < 2 * said).mean() > 0.8
    assert np.sqrt((off**2).mean()) < 1.5 * np.sqrt((said**2).mean())
    assert np.sqrt((said**2).mean()) < 1.5
    by_place = fairing.hull.spread
    assert by_place is not None
    uv = fairing.side.field.nearest(true)[1]
    assert np.allclose(by_place(uv[:, 0], uv[:, 1])[0], said, rtol=0.05, atol=0.05)
