"""Each fault is a change of a component; what follows on the points is what the trade knows of it."""

from __future__ import annotations

from itertools import pairwise

import pytest

from benchtui.sim import FAULTS, Act, MainsCharacter, Simulated, make_fault, once, simulate
from benchtui.sim.receiver import COLUMNS, POINTS

QUIET = MainsCharacter(wander=0.0, flutter=0.0)


def bad(name: str, at_s: float = 120.0, seconds: float = 330.0, amount: float | None = None) -> Simulated:
    """A nominal set in which one part goes bad two minutes in."""
    fault = make_fault(name, at_s=at_s, amount=amount)
    return simulate(0, [fault], seconds, mains=QUIET, spread=0.0)


def moved(run: Simulated, point: str, at_s: float = -1.0) -> float:
    """How far a point stands from where it would stand in the healthy set."""
    row = -1 if at_s < 0 else round(at_s * 50)
    place = COLUMNS.index(point)
    return float(run.trace[row, place] - run.healthy[row, place])


@pytest.mark.parametrize("name", sorted(set(FAULTS) - {"pilot_aged", "pilot_ages"}))
def test_every_fault_is_labelled_at_its_point(name: str) -> None:
    """A fault that can be switched on leaves a label of its own, and moves its point."""
    run = bad(name, at_s=20.0 if "joint" in name and "heater" not in name else 120.0)
    own = [label for label in run.truth if label.fault == name]
    assert own
    assert own[0].point == FAULTS[name].point
    assert abs(own[0].depth) > 0.005 * abs(run.healthy[-1, COLUMNS.index(FAULTS[name].point)])


def test_a_leaky_coupling_capacitor_raises_the_cathode_and_lowers_b_plus() -> None:
    """V6's grid goes positive: it draws more, its cathode rises, B+1 falls (common practice)."""
    run = bad("coupling_leak_sudden")
    assert moved(run, "V6 cathode") > 1.0
    assert moved(run, "B+1") < -5.0


def test_a_weak_output_valve_lowers_the_cathode_and_raises_b_plus() -> None:
    """Less current through V6: its cathode falls, B+1 rises (Ohm's law)."""
    run = bad("v6_low_emission")
    assert moved(run, "V6 cathode") < -1.0
    assert moved(run, "B+1") > 5.0


def test_an_open_screen_dropper_starves_the_screens_alone() -> None:
    """The screens go to nothing; B+2, which loses a load, rises."""
    run = bad("screen_dropper_open")
    assert run.trace[-1, COLUMNS.index("screen")] < 5
    assert moved(run, "B+2") > 2


def test_an_open_rectifier_takes_b_plus_and_leaves_mains_and_heaters() -> None:
    """B+ goes to nothing with the mains and the heaters on: that is no power-off."""
    run = bad("rectifier_open")
    assert run.trace[-1, COLUMNS.index("B+1")] < 1
    assert run.trace[-1, COLUMNS.index("mains")] == pytest.approx(230)
    assert run.trace[-1, COLUMNS.index("heater")] > 6.2
    assert "power_off" not in [label.kind for label in run.truth]


def test_a_shorted_reservoir_blows_the_fuse_and_an_inrush_does_not() -> None:
    """Within seconds of the short even the heaters are without voltage; cold heaters alone never blow it."""
    run = bad("reservoir_short", seconds=140)
    heater = run.trace[:, COLUMNS.index("heater")]
    assert heater[(119 * 50)] > 6
    assert heater[-1] == 0
    assert run.trace[-1, COLUMNS.index("mains")] == pytest.approx(230)


def test_a_dried_out_reservoir_gives_ripple_more_than_sag() -> None:
    """A seventh of the capacitance: six times the ripple, and B+1 lower by a percent or so."""
    run = bad("reservoir_loss")
    ripple = COLUMNS.index("ripple")
    assert run.trace[-1, ripple] > 5 * run.healthy[-1, ripple]
    assert -0.03 * 285 < moved(run, "B+1") < -0.003 * 285


def test_half_wave_rectification_doubles_the_ripple_and_lowers_b_plus() -> None:
    """One anode open: the capacitor is filled half as often (definition)."""
    run = bad("rectifier_half")
    ripple = COLUMNS.index("ripple")
    assert run.trace[-1, ripple] / run.healthy[-1, ripple] > 1.5
    assert moved(run, "B+1") < -20


def test_a_heater_joint_acts_slowly() -> None:
    """V6 loses its heater: its current takes seconds to go, for the cathode stays hot (common practice)."""
    run = bad("v6_heater_joint")
    before = run.healthy[(119 * 50), COLUMNS.index("V6 cathode")]
    assert abs(moved(run, "V6 cathode", 121.0)) < 0.05 * before
    assert run.trace[-1, COLUMNS.index("V6 cathode")] < 0.1 * before


def test_the_regulator_s_point_rises_when_the_tube_itself_opens() -> None:
    """The tube's own pin opens: its point goes up to what the feed gives beside its load."""
    run = bad("regulator_lead_joint", at_s=20.0)
    label = next(label for label in run.truth if label.point == "regulator")
    assert label.depth > 30


def test_the_regulator_s_joint_opens_warm_and_closes_by_itself_when_it_has_cooled() -> None:
    """Left alone it comes and goes, the oftener the warmer the chassis; never in the first half minute."""
    run = bad("regulator_joint", at_s=0.0, seconds=400)
    spells = [label for label in run.truth if label.kind == "dropout" and label.point == "regulator"]
    assert len(spells) >= 5
    assert spells[0].start_s > 30
    gaps = [b.start_s - (a.end_s or 0) for a, b in pairwise(spells)]
    assert gaps[-1] < gaps[0]


def test_a_tap_closes_the_joint_for_a_while() -> None:
    """Tapped while open, the regulator is back at once and stays longer than it would have by itself."""
    alone = bad("regulator_joint", at_s=0.0, seconds=200)
    first = next(label for label in alone.truth if label.point == "regulator")
    at = first.start_s + 1.0
    script = (*once(), Act(at, "tap", "chassis"))
    tapped = simulate(0, [make_fault("regulator_joint")], 200.0, mains=QUIET, spread=0.0, script=script)
    spells = [label for label in tapped.truth if label.kind == "dropout" and label.point == "regulator"]
    others = [label for label in alone.truth if label.kind == "dropout" and label.point == "regulator"]
    assert spells[0].end_s == pytest.approx(at, abs=0.2)
    assert spells[1].start_s > others[1].start_s + 5
    assert [(m.kind, m.note) for m in tapped.marks if m.kind == "tap"] == [("tap", "chassis")]


def test_an_aged_pilot_is_lit_by_the_overshoot_and_out_as_b_plus_settles_each_time() -> None:
    """Lit at power-on, out about a minute later with its feed as it should be, lit again at power-on."""
    script = (Act(2.0, "on"), Act(150.0, "off"), Act(220.0, "on"))
    for seed in range(1, 6):
        run = simulate(seed, ["pilot_aged"], 400.0, script=script)
        lit = run.trace[:, COLUMNS.index("pilot")]
        feed = run.trace[:, COLUMNS.index("B+4")]
        assert lit[30 * 50] == 1
        assert lit[140 * 50] == 0
        assert lit[230 * 50] == 1
        assert lit[-1] == 0
        fed = [label for label in run.truth if label.kind == "fed_but_out"]
        assert len(fed) == 2
        assert 40 <= fed[0].start_s <= 95
        assert feed[round(fed[0].start_s * 50)] > 90, "it had more than any good lamp needs"


def test_a_pilot_put_right_stays_lit() -> None:
    """With a new lamp the next run has no dropout: the supply was fine."""
    script = (
        Act(2.0, "on"),
        Act(150.0, "off"),
        Act(160.0, "replace", "LP1", name="pilot_aged"),
        Act(220.0, "on"),
    )
    run = simulate(3, ["pilot_aged"], 400.0, script=script)
    outs = [label for label in run.truth if label.kind == "fed_but_out"]
    assert len(outs) == 1
    assert ("swap", "LP1") in [(m.kind, m.note) for m in run.marks]


def test_an_intermittent_blinks_within_its_bounds_and_ends() -> None:
    """Each opening lasts as long as asked, and after `until_s` there is none."""
    fault = make_fault("dropper_blinks", at_s=60, until_s=300, amount=15.0, seed=5, lasts_s=(0.4, 0.8))
    run = simulate(5, [fault], 400.0, mains=QUIET)
    spells = [label for label in run.truth if label.fault == "dropper_blinks" and label.point == "B+2"]
    assert len(spells) > 5
    assert all(s.end_s is not None and 0.38 <= s.end_s - s.start_s <= 0.86 for s in spells)
    assert spells[-1].start_s < 300


def test_a_part_that_is_put_right_reads_as_before() -> None:
    """When a change ends, every point returns to what the healthy set reads."""
    run = simulate(0, [make_fault("dropper_high", at_s=100, until_s=130)], 400.0, mains=QUIET, spread=0.0)
    for point in POINTS:
        assert moved(run, point) == pytest.approx(0.0, abs=0.02)
    assert [label.kind for label in run.truth if label.fault] == ["dropout"]


def test_an_unknown_fault_is_refused_with_the_list() -> None:
    """The error names what there is."""
    with pytest.raises(ValueError, match="pilot_aged"):
        make_fault("gremlins")
    with pytest.raises(ValueError, match="has no"):
        make_fault("dropper_high", colour=1.0)
