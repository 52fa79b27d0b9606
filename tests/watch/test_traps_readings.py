"""Traps in the readings themselves: slipped points, true peaks, music, slow meters, an evening's mains."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart, Glow, Span
from benchtui.model.readings import Flag
from benchtui.watch.summary import summarise

from .cutting import pieces
from .shapes import away, flat, music, ramps, steps, switched, times, warm_up
from .streams import Judged, Timeline, ac, dc, ns

B1 = Chart("a set", points=(dc("B+1", 285.0, limit=350.0),))
TREE = Chart(
    "a set",
    mains=230.0,
    points=(
        ac("mains", 230.0),
        dc("B+1", 285.0),
        dc("B+2", 240.0, fed_from="B+1", through=2200.0),
        dc("screen", 185.0, fed_from="B+2", through=22e3),
        dc("tube", 150.0, 0.04, fed_from="B+1", through=1e4, follows_mains=False, current=0.005,
           glow=Glow(Span(155, 185), Span(135, 145), Span(0.005, 0.03))),
    ),
)  # fmt: skip
LEVELS = {"mains": 230.0, "B+1": 285.0, "B+2": 240.0, "screen": 185.0, "tube": 150.0}


def with_one(value: float, many: int = 1) -> Timeline:
    """B+1 at 285 V for four minutes but for one reading (or more in a row) at 200 s."""
    time = Timeline(B1, 240.0)
    time.mark(1.0, "on")
    channel = time.meter("B+1", warm_up(285.0, 1.0, over=0.1))
    time.drop(channel, 200.0, 200.0 + 0.5 * many)
    for k in range(many):
        time.at(channel, 200.05 + 0.5 * k, value)
    return time


def test_a_slipped_decimal_point_is_an_unconfirmed_limit_and_no_dropout() -> None:
    """2850 V for 285.0 once: told at that reading, unconfirmed, ten times the level; over at the next."""
    said = with_one(2850.0).judged()
    limit = said.one("limit", "B+1")
    assert (limit.start_ns, limit.found_ns) == (ns(200.05), ns(200.05))
    assert limit.end_ns == ns(200.55)
    assert limit.evidence["confirmed"] is False
    assert limit.evidence["like_slipped_point"] is True
    assert limit.evidence["peak"] == 2850.0
    assert not said.of("dropout", "step", "chatter", "outside"), said.said()


def test_a_true_peak_of_one_reading_over_the_rating_is_told_and_stays_unconfirmed() -> None:
    """362 V for one reading: no averaging hides it, and it does not look like a slipped point."""
    limit = with_one(362.0).judged().one("limit", "B+1")
    assert limit.found_ns == ns(200.05)
    assert limit.evidence["confirmed"] is False
    assert limit.evidence["like_slipped_point"] is False
    assert limit.evidence["peak"] == 362.0


def test_a_second_reading_over_the_rating_confirms_it() -> None:
    """The event of the first reading says unconfirmed, the event of the second says confirmed."""
    time = with_one(362.0, many=2)
    session = time.session()
    bank = session.bank()
    events = [e for p in pieces(session.block, [ns(200.05), ns(200.55)]) for e in bank.feed(p)]
    told = [(e.at_ns, e.act, e.patch["evidence"]["confirmed"]) for e in events
            if bank.folding.get(e.finding).kind == "limit" and "evidence" in e.patch]  # fmt: skip
    assert told == [(ns(200.05), "open", False), (ns(200.55), "amend", True)]


def test_a_single_dip_of_one_reading_is_a_dropout_and_a_slip_downwards_is_not() -> None:
    """160 V for one reading fell out; 28.5 V for one reading is 285 V with its point slipped."""
    said = with_one(160.0).judged()
    assert said.one("dropout", "B+1").start_ns == ns(200.05)
    assert not with_one(28.5).judged().wrong()


@pytest.mark.parametrize("swing", [0.05, 0.2, 0.4])
@pytest.mark.parametrize("rate", [0.5, 2.0, 10.0])
def test_music_on_an_anode_is_nothing(swing: float, rate: float) -> None:
    """A point that the chart says moves with the programme gives no finding, nor does its feed."""
    chart = Chart(
        "a set", points=(dc("B+1", 285.0), dc("anode", 120.0, 0.5, fed_from="B+1", moves="programme"))
    )
    for seed in range(3):
        time = Timeline(chart, 600.0, seed)
        time.mark(1.0, "on")
        time.meter("B+1", times(warm_up(285.0, 1.0), music(1.0, 0.0005, seed)))
        time.meter("anode", times(warm_up(120.0, 1.0), music(1.0, swing, seed)), rate=rate)
        said = time.judged()
        assert not said.ever_wrong(), said.said()


@pytest.mark.parametrize("seed", range(4))
def test_a_slow_meter_upstream_of_a_quick_one_leaves_one_fault_of_the_feed(seed: int) -> None:
    """B+1, read every 3 s, falls with B+2, read ten times a second: one finding, of B+1."""
    time = Timeline(TREE, 300.0, seed)
    time.mark(1.0, "on")
    time.meter("mains", switched(flat(230.0), 1.0), rate=2.0)
    gone = (180.0 + 0.7 * seed, 192.0 + 0.7 * seed)
    time.meter("B+1", away(warm_up(285.0, 1.0), *gone, -0.5), rate=1 / 3, window_s=3.0)
    time.meter("B+2", away(warm_up(240.0, 1.0), *gone, -0.5), rate=10.0)
    said = time.judged()
    faults = said.of("dropout", "step", "chatter")
    assert [(f.kind, f.point) for f in faults] == [("dropout", "B+1")], said.said()
    assert faults[0].evidence["also"] == ["B+2"]
    assert "first" not in str(faults[0].evidence)


@pytest.mark.parametrize("with_mains", [True, False])
@pytest.mark.parametrize("seed", range(2))
def test_an_evening_dip_of_the_mains_is_no_drift_of_any_point(with_mains: bool, seed: int) -> None:
    """Four per cent down over an hour on the mains and on all that follows it: no drift, no creep."""
    time = Timeline(TREE, 6000.0, seed)
    time.mark(1.0, "on")
    dip = ramps(flat(1.0), 1200.0, 4800.0, -0.04)
    for name, level in LEVELS.items():
        if name == "mains" and not with_mains:
            continue
        base = switched(flat(level), 1.0) if name == "mains" else warm_up(level, 1.0)
        shape = warm_up(level, 1.0, over=0.0) if name == "tube" else times(base, dip)
        time.meter(name, shape, rate=1.0)
    said = time.judged()
    assert not said.ever_wrong(), said.said()


@pytest.mark.parametrize("names", [("mains", "B+1", "B+2"), ("B+1", "B+2", "screen")])
@pytest.mark.parametrize("over_s", [600.0, 1200.0])
def test_a_mains_that_sinks_in_minutes_is_no_drift_either(names: tuple[str, ...], over_s: float) -> None:
    """Five per cent in ten or twenty minutes: quick enough to be told as a drift, were it not everywhere."""
    time = Timeline(TREE, 2400.0)
    time.mark(1.0, "on")
    dip = ramps(flat(1.0), 600.0, 600.0 + over_s, -0.05)
    for name in names:
        base = switched(flat(230.0), 1.0) if name == "mains" else warm_up(LEVELS[name], 1.0)
        time.meter(name, times(base, dip), rate=1.0)
    if "mains" in names:
        said = time.judged()
        assert not said.ever_wrong(), said.said()


@pytest.mark.parametrize("with_mains", [True, False])
@pytest.mark.parametrize("over_s", [300.0, 600.0])
def test_a_point_that_sinks_alone_drifts(with_mains: bool, over_s: float) -> None:
    """The screen falls by six per cent in minutes, its feed stands: drift or creep of the screen."""
    time = Timeline(TREE, 1800.0)
    time.mark(1.0, "on")
    for name in ("mains", "B+1", "B+2"):
        if name != "mains" or with_mains:
            base = switched(flat(230.0), 1.0) if name == "mains" else warm_up(LEVELS[name], 1.0)
            time.meter(name, base, rate=1.0)
    time.meter("screen", ramps(warm_up(185.0, 1.0), 600.0, 600.0 + over_s, -0.06), rate=1.0)
    said = time.judged()
    assert [f.point for f in said.of("drift", "creep")] == ["screen"], said.said()
    assert not said.of("dropout", "step", "chatter", "outside", "mains")


@pytest.mark.parametrize("names", [
    ("mains", "B+1"), ("B+1", "B+2"), ("B+1", "B+2", "screen"), ("mains", "B+1", "B+2", "screen"),
])  # fmt: skip
@pytest.mark.parametrize("lasts_s", [1.0, 4.0, 1e9])
def test_a_move_of_the_mains_is_told_once_and_blames_no_point(names: tuple[str, ...], lasts_s: float) -> None:
    """Seven per cent down on everything measured, with a mains meter or without: one `mains`, no fault."""
    for seed in range(3):
        time = Timeline(TREE, 400.0, seed)
        time.mark(1.0, "on")
        sag = away(flat(1.0), 200.3, 200.3 + lasts_s, -0.07)
        for name in names:
            base = switched(flat(230.0), 1.0) if name == "mains" else warm_up(LEVELS[name], 1.0)
            time.meter(name, times(base, sag), rate=5.0)
        said = time.judged()
        assert len(said.of("mains")) == 1, said.said()
        assert not said.ever_wrong(), said.said()
        assert said.one("mains").evidence["relative"] == pytest.approx(-0.07, abs=0.01)


@pytest.mark.parametrize("seed", range(3))
def test_a_regulator_that_opens_lifts_its_point_in_one_finding(seed: int) -> None:
    """Without its tube the point rises to what the feed gives: one finding, upwards, of that point."""
    time = Timeline(TREE, 400.0, seed)
    time.meter("mains", switched(flat(230.0), 1.0))
    time.meter("B+1", warm_up(285.0, 1.0))
    time.meter("B+2", warm_up(240.0, 1.0))
    time.meter("tube", steps(warm_up(150.0, 1.0, over=0.0), 200.0, 0.57))
    said = time.judged()
    moved = said.of("dropout", "step", "chatter", "drift", "creep")
    assert [f.point for f in moved] == ["tube"], said.said()
    assert moved[0].evidence["depth"] > 0
    assert moved[0].evidence["also"] == []
    others = {f.point for f in said.listed if f.severity == "fault"}
    assert others <= {"tube"}


@pytest.mark.parametrize("manner", ["overload", "half", "skip"])
@pytest.mark.parametrize("seed", range(3))
def test_a_range_change_in_mid_warm_up_is_the_meters(manner: str, seed: int) -> None:
    """Overload, a half-settled reading, or nothing for half a second, as it changes from 60 V to 600 V."""
    time = Timeline(B1, 200.0, seed)
    time.mark(1.0, "on")
    channel = time.meter("B+1", None)
    course = warm_up(285.0, 1.0, rise_s=4.0)
    reached = float(np.interp(60.0, course(np.arange(1, 10, 0.01)), np.arange(1, 10, 0.01)))
    time.reads(channel, course, 0.05, reached, step=0.01)
    if manner == "overload":
        time.add(channel, [ns(reached + 0.01), ns(reached + 0.4)], [float("nan")] * 2, flags=1)
    elif manner == "half":
        time.at(channel, reached + 0.4, 31.0)
    time.reads(channel, course, reached + 0.9, 200.0)
    said = time.judged()
    assert not said.ever_wrong(), said.said()
    assert not said.of("overload", "function", "gap", "frozen"), said.said()
    assert said.one("settled", "B+1").evidence["value"] == pytest.approx(285.0, rel=0.02)


@pytest.mark.parametrize("seed", range(3))
def test_a_range_change_of_a_settled_point_is_no_move(seed: int) -> None:
    """From five digits to four and back, with one reading at four fifths of the level: nothing of the set."""
    time = Timeline(B1, 300.0, seed)
    time.mark(1.0, "on")
    channel = time.meter("B+1", warm_up(285.0, 1.0), until_s=180.0, step=0.01, noise=2.0)
    time.at(channel, 180.6, 228.0)
    time.reads(channel, flat(285.0), 181.1, 240.0, step=1.0, noise=0.1)
    time.at(channel, 240.6, 228.0, step=0.01)
    time.reads(channel, flat(285.0), 241.1, 300.0, step=0.01, noise=2.0)
    assert not time.judged().ever_wrong()


def hidden_by_a_change_of_range(shown: list[tuple[float, float]]) -> Judged:
    """60.4 V once a second; from 200 s on what the meter shows instead: value and count, 0 for overload."""
    time = Timeline(Chart("a set", points=(dc("detector", 60.0),)), 260.0)
    time.mark(1.0, "on")
    channel = time.meter("detector", switched(flat(60.4), 1.0), rate=1.0, step=0.01, start_s=0.3)
    time.drop(channel, 200.0, 200.0 + len(shown))
    for k, (value, step) in enumerate(shown):
        flags = 0 if step else int(Flag.OVERLOAD)
        time.at(channel, 200.3 + k, value if step else 0.0, step=step or 0.01, flags=flags)
    return time.judged()


@pytest.mark.parametrize(
    ("shown", "depth"),
    [
        ([(17.037, 0.001), (0.01678, 1e-5), (0, 0), (0, 0)], -60.4),
        ([(21.055, 0.001), (0, 0)], -39.3),
        ([(58.49, 0.01), (21.055, 0.001), (0, 0)], -39.3),
    ],
)
def test_a_dropout_that_makes_the_meter_change_its_range_is_seen(
    shown: list[tuple[float, float]], depth: float
) -> None:
    """A meter that goes to a lower range and must leave it at once has seen the point low in between."""
    fell = hidden_by_a_change_of_range(shown).one("dropout", "detector")
    assert fell.evidence["depth"] == pytest.approx(depth, abs=0.3)
    assert fell.end_ns is not None
    assert fell.end_ns <= ns(203.3 + len(shown))


@pytest.mark.parametrize("shown", [[(30.2, 0.001), (60.39, 0.01)], [(59.9, 0.001), (0, 0)], [(0, 0), (0, 0)]])
def test_a_half_settled_reading_or_an_overload_at_a_change_of_range_is_no_dropout(
    shown: list[tuple[float, float]],
) -> None:
    """One reading at half the level on another range, or none at all, says nothing of the point."""
    assert not hidden_by_a_change_of_range(shown).of("dropout", "step"), shown


def test_a_heater_chain_that_warms_slowly_is_not_outside_meanwhile() -> None:
    """A tap on a chain of heaters climbs for a minute: below its band, and silent until it has settled."""
    time = Timeline(Chart("a set", points=(ac("heater tap", 18.0),)), 240.0)
    time.mark(2.0, "on")
    time.meter(
        "heater tap", lambda t: np.where(t >= 2.0, 18.0 - 9.0 * np.exp(-(t - 2.0) / 18.0), 0.0), step=0.01
    )
    said = time.judged()
    assert not said.ever_wrong(), said.said()
    assert said.of("settled", point="heater tap")


@pytest.mark.parametrize(("level", "first"), [(0.62, 0.97), (0.85, 0.93)])
def test_a_dropout_before_a_point_has_settled_is_told_once_it_is_back(level: float, first: float) -> None:
    """Forty seconds after power-on, seen at first by a reading that straddles its edge."""
    time = Timeline(B1, 200.0)
    time.mark(1.0, "on")
    shape = away(warm_up(285.0, 1.0, over=0.05), 41.0, 43.5, level - 1.0)
    channel = time.meter("B+1", shape, rate=5.0)
    time.drop(channel, 41.0, 41.1)
    time.at(channel, 41.05, 285.0 * first)
    fell = time.judged().one("dropout", "B+1")
    assert abs(fell.start_ns - ns(41.05)) <= ns(0.21)
    assert fell.end_ns is not None
    assert abs(fell.end_ns - ns(43.5)) <= ns(0.41)


@pytest.mark.parametrize("part", [-0.04, 0.045])
def test_a_slow_walk_of_four_per_cent_is_told_once_the_tail_has_faded(part: float) -> None:
    """While valves warm a few per cent are their tail; six minutes later they are not."""
    time = Timeline(TREE, 900.0)
    time.mark(1.0, "on")
    for name in ("mains", "B+1"):
        base = switched(flat(230.0), 1.0) if name == "mains" else warm_up(LEVELS[name], 1.0)
        time.meter(name, base, rate=1.0)
    time.meter("B+2", ramps(warm_up(240.0, 1.0), 300.0, 640.0, part), rate=1.0)
    said = time.judged()
    assert [f.point for f in said.of("drift", "creep")] == ["B+2"], said.said()


def test_what_does_not_change_is_no_event() -> None:
    """The log of a sag holds no two events in a row that say the same of one finding."""
    time = Timeline(TREE, 260.0)
    time.mark(1.0, "on")
    sag = away(flat(1.0), 200.0, 206.0, -0.07)
    for name in ("mains", "B+1", "B+2", "screen"):
        base = switched(flat(230.0), 1.0) if name == "mains" else warm_up(LEVELS[name], 1.0)
        time.meter(name, times(base, sag), rate=5.0)
    said: dict[int, dict[str, object]] = {}
    for event in time.judged().events:
        known = said.setdefault(event.finding, {})
        patch = {**event.patch, **event.patch.get("evidence", {})}
        if event.act == "amend":
            assert any(known.get(key) != value for key, value in patch.items() if key != "evidence"), event
        known.update(patch)


def test_a_point_that_is_warm_at_its_first_reading_is_never_called_cold() -> None:
    """A record that begins with the set on: the board does not say "cold" beside 285 V."""
    time = Timeline(B1, 10.0)
    time.meter("B+1", flat(285.0), rate=8.0)
    session = time.session()
    bank = session.bank()
    states = []
    for piece in pieces(session.block, range(0, ns(10.0), ns(0.25))):
        bank.feed(piece)
        states += [point.state for point in summarise(bank) if point.point == "B+1"]
    assert "cold" not in states, states


@pytest.mark.parametrize("seed", range(3))
def test_a_deep_fall_in_the_midst_of_the_warm_up_is_told_where_a_quick_meter_shows_it_whole(
    seed: int,
) -> None:
    """The screen falls by two fifths within a reading and stays; the load valves have yet to draw."""
    time = Timeline(TREE, 120.0, seed)
    time.meter("mains", switched(flat(230.0), 2.0))
    time.meter("B+1", warm_up(285.0, 2.0), rate=4.0)
    time.meter("screen", steps(warm_up(185.0, 2.0), 24.0, -0.4), rate=5.0)
    said = time.judged()
    [found] = said.of("dropout", "step", point="screen")
    assert found.start_ns * 1e-9 == pytest.approx(24.0, abs=0.5)
    assert found.found_ns * 1e-9 <= 30.0


@pytest.mark.parametrize("start_s", [0.3, 0.9, 1.6])
def test_a_supply_on_which_a_tube_draws_again_is_no_fault(start_s: float) -> None:
    """The tube is out for half a minute, B+1 higher meanwhile; as the tube returns B+1 falls back."""
    time = Timeline(TREE, 320.0)
    out = 200.0, 230.0
    time.meter("mains", switched(flat(230.0), 2.0), rate=0.5)
    time.meter("tube", away(switched(flat(150.0), 2.0), *out, -0.999), rate=0.5, start_s=start_s)
    time.meter("B+1", away(switched(flat(285.0), 2.0), *out, 0.05), rate=0.5)
    time.meter("screen", away(switched(flat(185.0), 2.0), *out, 0.05), rate=0.5, start_s=1.2)
    said = time.judged()
    assert {f.point for f in said.of("dropout", "step", "chatter")} == {"tube"}, said.said()


@pytest.mark.parametrize("start_s", [0.3, 0.5, 0.7, 0.9])
@pytest.mark.parametrize("lasts_s", [0.4, 0.6, 0.8])
def test_a_short_fall_that_the_feeds_slow_meter_shows_in_part_is_the_feeds(
    lasts_s: float, start_s: float
) -> None:
    """B+1 and all that it feeds lose three quarters; its meter averages over a second and shows less."""
    said = fallen(dict.fromkeys(("B+1", "B+2", "screen"), -0.75), lasts_s, start_s)
    assert [f.point for f in said.of("dropout", "step")] == ["B+1"], said.said()


@pytest.mark.parametrize("start_s", [0.3, 0.7])
def test_a_lasting_fall_that_takes_a_feed_down_by_a_quarter_is_what_fell(start_s: float) -> None:
    """B+2 is shorted, and B+1, whose meter is slow, sags under it."""
    said = fallen({"B+1": -0.25, "B+2": -0.95, "screen": -0.95}, 12.0, start_s)
    assert [f.point for f in said.of("dropout", "step")] == ["B+2"], said.said()


def fallen(parts: dict[str, float], lasts_s: float, start_s: float) -> Judged:
    """Points that fall by these parts at once; the meter of B+1 averages over its second."""
    time = Timeline(TREE, 240.0)
    time.meter("mains", switched(flat(230.0), 2.0))
    for name, part in parts.items():
        shape = away(switched(flat(LEVELS[name]), 2.0), 150.0, 150.0 + lasts_s, part)
        if name == "B+1":
            time.meter(name, shape, rate=1.0, window_s=0.95, start_s=start_s)
        else:
            time.meter(name, shape, rate=8.0)
    return time.judged()


def test_a_point_that_only_paused_on_its_way_home_was_away_once() -> None:
    """250, 20, 215, 20 and 250 V, six seconds each: one dropout, over when it is back at 250 V."""
    time = Timeline(Chart("a set", mains=230.0, points=(ac("mains", 230.0), dc("B+1", 250.0))), 260.0)
    levels = {0.0: 250.0, 120.0: 20.0, 126.0: 215.0, 132.0: 20.0, 138.0: 250.0}
    edges, values = np.array(list(levels)), np.array(list(levels.values()))
    time.meter("mains", flat(230.0))
    time.meter("B+1", lambda t: values[np.searchsorted(edges, t, "right") - 1], rate=8.0)
    said = time.judged()
    first = said.of("dropout")[0]
    assert (round(first.start_ns * 1e-9), round((first.end_ns or 0) * 1e-9)) == (120, 138), said.said()
