"""The very reading at which each watcher fires, and the very readings between which a finding lies."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart, Point
from benchtui.model.findings import Event
from benchtui.model.units import Unit
from benchtui.watch.eyes.manners import FROZEN_LEAST, FROZEN_LEAST_S

from .streams import Judged, Timeline, ac, dc, ns

PERIOD_S = 0.5
FIRST_S = 0.25
CHANGE = 400
"""Number of the reading at which something happens; a multiple of the grain of eight."""


def t_ns(number: int) -> int:
    """When reading `number` comes, counted from 0."""
    return ns(FIRST_S + PERIOD_S * number)


def b1(values: dict[int, float], **more: float) -> Judged:
    """B+1 quiet at 285 V, two readings a second, with other values at some readings."""
    chart = Chart("a set", points=(dc("B+1", 285.0, **more),))
    time = Timeline(chart, 281.0)
    time.mark(0.1, "on")
    channel = time.meter("B+1", None)
    numbers = [n for n in range(560) if not np.isnan(values.get(n, 0.0))]
    quiet = [285.0 + 0.1 * ((n * 7) % 5 % 3) for n in numbers]
    time.add(
        channel, [t_ns(n) for n in numbers], [values.get(n, q) for n, q in zip(numbers, quiet, strict=True)]
    )
    return time.judged()


def events(judged: Judged, finding: int) -> list[Event]:
    return [e for e in judged.events if e.finding == finding]


@pytest.mark.parametrize("depth", [-285.0, -140.0, -20.0, 9.0])
def test_a_dropout_fires_at_the_first_reading_away_and_ends_at_the_first_back(depth: float) -> None:
    """Five readings away: found at the first of them, over at the first back, told at the second back."""
    judged = b1({CHANGE + k: 285.0 + depth for k in range(5)})
    found = judged.one("dropout")
    assert found.start_ns == t_ns(CHANGE)
    assert found.found_ns == t_ns(CHANGE)
    assert found.end_ns == t_ns(CHANGE + 5)
    last = events(judged, found.id)[-1]
    assert (last.act, last.at_ns) == ("close", t_ns(CHANGE + 6))
    assert found.evidence["depth"] == pytest.approx(depth, abs=0.2)


@pytest.mark.parametrize("volts", [350.1, 400.0])
def test_a_rating_fires_at_the_first_reading_beyond_and_ends_at_the_first_within(volts: float) -> None:
    """Three readings beyond 350 V: unconfirmed at the first, confirmed at the second, over at the fourth."""
    judged = b1({CHANGE + k: volts for k in range(3)}, limit=350.0)
    found = judged.one("limit")
    told = [(e.at_ns, e.act, e.patch.get("evidence", {}).get("confirmed")) for e in events(judged, found.id)]
    assert told[:2] == [(t_ns(CHANGE), "open", False), (t_ns(CHANGE + 1), "amend", True)]
    assert told[-1] == (t_ns(CHANGE + 3), "close", None)
    assert (found.start_ns, found.end_ns) == (t_ns(CHANGE), t_ns(CHANGE + 3))


def test_a_rating_is_not_passed_by_the_rating_itself() -> None:
    """350.0 V is not above 350 V."""
    assert not b1({CHANGE: 350.0}, limit=350.0).of("limit")


def test_a_gap_fires_one_nanosecond_after_six_periods_of_silence() -> None:
    """At two readings a second: told 3 s and 1 ns after the last reading, over at the next reading."""
    judged = b1({CHANGE + k: float("nan") for k in range(20)})
    found = judged.one("gap")
    assert found.start_ns == t_ns(CHANGE - 1)
    assert found.found_ns == t_ns(CHANGE - 1) + ns(6 * PERIOD_S) + 1
    assert found.end_ns == t_ns(CHANGE + 20)


def test_silence_of_just_six_periods_is_no_gap() -> None:
    """Five readings missing, the sixth there: as late as it may be."""
    assert not b1({CHANGE + k: float("nan") for k in range(5)}).of("gap")
    assert b1({CHANGE + k: float("nan") for k in range(6)}).of("gap")


def test_a_meter_that_never_told_its_rate_is_waited_for_twelve_seconds() -> None:
    """One reading, then nothing: a gap 12 s and a nanosecond later."""
    time = Timeline(Chart("a set", points=(dc("B+1", 285.0),)), 60.0)
    channel = time.meter("B+1", None)
    time.at(channel, 1.0, 285.0)
    assert time.judged().one("gap").found_ns == ns(13.0) + 1


def test_a_channel_that_never_read_is_waited_for_twelve_seconds_too() -> None:
    """A lead without a single reading: a gap from when the lead came to the point."""
    time = Timeline(Chart("a set", points=(dc("B+1", 285.0),)), 600.0)
    time.meter("B+1", None)
    found = time.judged().one("gap")
    assert (found.start_ns, found.found_ns, found.evidence["never"]) == (0, ns(12.0) + 1, True)


@pytest.mark.parametrize(("level", "side"), [(330.0, "high"), (240.0, "low")])
def test_outside_fires_at_the_end_of_the_second_grain_outside(level: float, side: str) -> None:
    """A level beyond the band from the first reading of a grain of eight: told at the sixteenth reading."""
    judged = b1({CHANGE + k: level + 0.1 * (k % 2) for k in range(160)})
    found = judged.one("outside")
    assert found.found_ns == t_ns(CHANGE + 15)
    assert found.start_ns == t_ns(CHANGE)
    assert found.evidence["side"] == side


def test_outside_ends_when_the_point_is_back_on_its_course() -> None:
    """Back in the band after 64 readings: it ends at the first reading that is back, told at the second."""
    judged = b1({CHANGE + k: 330.0 + 0.1 * (k % 2) for k in range(64)})
    found = judged.one("outside")
    assert found.end_ns == t_ns(CHANGE + 64)
    assert events(judged, found.id)[-1].at_ns == t_ns(CHANGE + 64 + 1)


def test_outside_ends_with_the_first_of_two_grains_inside() -> None:
    """Where the point comes in by another way than it went, it ends with the grain that is wholly inside."""
    there = {CHANGE + k: 330.0 + 0.1 * (k % 2) for k in range(48)}
    inside = {CHANGE + k: 300.0 + 0.1 * (k % 2) for k in range(48, 560 - CHANGE)}
    found = b1({**there, **inside}).one("outside")
    assert found.end_ns == t_ns(CHANGE + 48)


def test_overload_fires_at_the_third_reading_that_is_three_seconds_old() -> None:
    """At two readings a second the seventh overload in a row is told; the first without ends it."""
    chart = Chart("a set", points=(dc("B+1", 285.0),))
    time = Timeline(chart, 300.0)
    channel = time.meter("B+1", None)
    time.add(channel, [t_ns(n) for n in range(CHANGE)], [285.0 + 0.1 * (n % 3) for n in range(CHANGE)])
    time.add(channel, [t_ns(n) for n in range(CHANGE, CHANGE + 12)], [float("nan")] * 12, flags=1)
    time.add(channel, [t_ns(n) for n in range(CHANGE + 12, 560)], [285.0] * (548 - CHANGE))
    found = time.judged().one("overload")
    assert found.start_ns == t_ns(CHANGE)
    assert found.found_ns == t_ns(CHANGE + 6)
    assert found.end_ns == t_ns(CHANGE + 12)


@pytest.mark.parametrize(("kind", "nth"), [("function", 2), ("reversed", 3)])
def test_a_wrong_setting_fires_at_its_second_and_turned_leads_at_their_third_reading(
    kind: str, nth: int
) -> None:
    """One reading of another unit or sign may be a slip; so many in a row are not."""
    for many in (nth - 1, nth):
        time = Timeline(Chart("a set", points=(dc("B+1", 285.0),)), 300.0)
        channel = time.meter("B+1", None)
        rows = range(CHANGE, CHANGE + many)
        time.add(channel, [t_ns(n) for n in range(560) if n not in rows], [285.0] * (560 - many))
        unit, value = (Unit.VAC, 6.3) if kind == "function" else (Unit.V, -285.0)
        time.add(channel, [t_ns(n) for n in rows], [value] * many, unit=unit)
        judged = time.judged()
        if many < nth:
            assert not judged.of(kind)
            continue
        found = judged.one(kind)
        assert found.start_ns == t_ns(CHANGE)
        assert found.found_ns == t_ns(CHANGE + nth - 1)
        assert found.end_ns == t_ns(CHANGE + nth)


def test_frozen_fires_at_the_reading_that_its_evidence_names() -> None:
    """The run that is told is as long as it says, at least thirty readings and five seconds."""
    rng = np.random.default_rng(2)
    noisy = {n: float(np.round(285.0 + rng.normal(0, 0.5), 1)) for n in range(560)}
    stuck = {CHANGE + k: 290.3 for k in range(100)}
    judged = b1({**noisy, **stuck})
    found = judged.one("frozen")
    assert found.start_ns == t_ns(CHANGE)
    assert found.found_ns == t_ns(CHANGE + found.evidence["readings"] - 1)
    assert found.evidence["readings"] >= FROZEN_LEAST
    assert found.found_ns - found.start_ns >= ns(FROZEN_LEAST_S)
    assert found.end_ns == t_ns(CHANGE + 100)


def test_power_on_fires_at_the_first_reading_of_the_mains() -> None:
    """The mains meter's first reading that is not cold begins the run; the third that is cold ends it."""
    time = Timeline(Chart("a set", mains=230.0, points=(ac("mains", 230.0),)), 300.0)
    channel = time.meter("mains", None)
    level = [0.0 if n < 20 or n >= CHANGE else 230.0 for n in range(560)]
    time.add(channel, [t_ns(n) for n in range(560)], level, unit=Unit.VAC)
    judged = time.judged()
    on, off = judged.one("power_on"), judged.one("power_off")
    assert (on.start_ns, on.found_ns) == (t_ns(20), t_ns(20))
    assert (off.start_ns, off.found_ns) == (t_ns(CHANGE), t_ns(CHANGE + 2))


def test_a_lamp_that_goes_out_is_out_from_the_first_reading_that_says_so() -> None:
    """It begins at the first reading out, ends at the first lit, and knows when it was last lit."""
    chart = Chart("a set", mains=230.0, points=(ac("mains", 230.0), Point("pilot", Unit.STATE, nominal=1.0)))
    time = Timeline(chart, 300.0)
    mains = time.meter("mains", None)
    time.add(mains, [t_ns(n) for n in range(560)], [0.0] * 4 + [230.0] * 556, unit=Unit.VAC)
    pilot = time.meter("pilot", None)
    lit = [float(n >= 10 and not CHANGE <= n < CHANGE + 8) for n in range(560)]
    time.add(pilot, [t_ns(n) for n in range(560)], lit, unit=Unit.STATE, step=0.0)
    found = time.judged().one("dropout", "pilot")
    assert (found.start_ns, found.end_ns) == (t_ns(CHANGE), t_ns(CHANGE + 8))
    assert found.evidence["last_lit_s"] == t_ns(CHANGE - 1) / 1e9
