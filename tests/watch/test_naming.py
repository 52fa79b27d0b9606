"""Who is to blame, and when it is said: a fall is told before the slow meter of a feed has read."""

from __future__ import annotations

import pytest

from benchtui.chart.chart import Chart
from benchtui.report.say import sentence
from benchtui.watch.place.cluster import Cluster, Move

from .shapes import away, flat, steps, switched
from .streams import Judged, Timeline, ac, dc, ns

SET = Chart(
    "a set",
    mains=230.0,
    rectifier="solid",
    points=(
        ac("mains", 230.0),
        dc("B+1", 285.0),
        dc("B+2", 240.0, fed_from="B+1", through=2200.0),
        dc("screen", 185.0, fed_from="B+2", through=22e3),
        dc("bias", -22.0, 0.2),
    ),
)
LEVELS = {"mains": 230.0, "B+1": 285.0, "B+2": 240.0, "screen": 185.0, "bias": -22.0}
RATES = {"mains": 5.0, "B+1": 4.0, "B+2": 0.4, "screen": 8.0, "bias": 5.0}
FALLS_S = 150.1


def judged(*gone: str, seed: int = 0) -> Judged:
    """Points that fall by four tenths for six seconds; the meter of B+2 reads every 2.5 s."""
    time = Timeline(SET, 220.0, seed)
    for name, level in LEVELS.items():
        shape = switched(flat(level), 2.0)
        if name in gone:
            shape = away(shape, FALLS_S, FALLS_S + 6.0, -0.4)
        time.meter(name, shape, rate=RATES[name], step=0.1 if abs(level) > 60 else 0.01)
    return time.judged()


@pytest.mark.parametrize("seed", range(4))
def test_a_fall_told_at_once_goes_by_its_feeds_name_once_that_has_read(seed: int) -> None:
    """One finding, announced before B+2's meter had read, in the end of B+2, with the screen along."""
    said = judged("B+2", "screen", seed=seed)
    fault = said.one("dropout")
    assert (fault.point, list(fault.evidence["also"])) == ("B+2", ["screen"]), said.said()
    assert fault.found_ns < ns(FALLS_S + 1.5), said.said()
    opened = next(e for e in said.events if e.finding == fault.id and e.act == "open")
    assert opened.patch["point"] == "screen"
    assert fault.evidence["depth"] == pytest.approx(-0.4 * 240.0, rel=0.05)
    assert len(said.ever_wrong()) == 1, said.said()


@pytest.mark.parametrize("seed", range(4))
def test_a_fall_told_at_once_keeps_its_name_where_the_feed_stood(seed: int) -> None:
    """The screen alone fell: B+2's meter reads 2 s later that it did not, and nothing is renamed."""
    said = judged("screen", seed=seed)
    fault = said.one("dropout")
    assert (fault.point, list(fault.evidence["also"])) == ("screen", []), said.said()
    assert fault.found_ns < ns(FALLS_S + 1.5), said.said()
    assert len(said.ever_wrong()) == 1, said.said()


@pytest.mark.parametrize("seed", range(4))
def test_what_everything_does_is_not_told_of_one_before_the_slow_meter_has_read(seed: int) -> None:
    """The mains falls away for six seconds: no point is blamed, not for a moment."""
    said = judged(*LEVELS, seed=seed)
    assert not said.ever_wrong(), said.said()


@pytest.mark.parametrize("seed", range(4))
def test_a_step_renamed_to_its_feed_says_the_feeds_volts(seed: int) -> None:
    """Nothing of what was told of the screen stays in the finding of B+2: neither from where nor to where."""
    time = Timeline(SET, 220.0, seed)
    for name, level in LEVELS.items():
        shape = switched(flat(level), 2.0)
        if name in ("B+2", "screen"):
            shape = steps(shape, FALLS_S, -0.08)
        time.meter(name, shape, rate=RATES[name], step=0.1 if abs(level) > 60 else 0.01)
    said = time.judged()
    fault = said.one("step")
    assert fault.point == "B+2", said.said()
    assert "from 240 V to 221 V" in sentence(fault, SET), sentence(fault, SET)
    to = fault.evidence["stands_at"]
    assert to is None or to == pytest.approx(220.8, abs=1.0)


def test_what_was_only_suspected_is_not_counted_off() -> None:
    """A common move was weighed as B+1's and told as another's: B+1 has had no excursion yet."""
    bank = Timeline(SET, 10.0).judged().bank
    bursts = bank.placer.moves.bursts
    timeline = Timeline(SET, 10.0)
    timeline.meter("B+1", flat(285.0))
    track = next(iter(timeline.judged().bank.placer.desk.tracks.values()))
    move = Move(track, 1, ns(5.0), 285.0, -6.0, 0.1, True, ns(4.9))
    cluster = Cluster(ns(5.0), 1, [move])
    assert not bursts.too_often(cluster, move)
    bursts.was_another(cluster, "screen")
    assert bursts.count("B+1") == 1
    bursts.was_another(cluster, "B+1")
    assert bursts.count("B+1") == 1
