"""Findings as sentences that a technician would say."""

from __future__ import annotations

from collections import defaultdict
from types import MappingProxyType
from typing import Any

import pytest

from benchtui.chart.chart import Chart, Point
from benchtui.chart.chart_file import read_chart
from benchtui.chart.settings import Settings
from benchtui.model.findings import SEVERITY, Finding
from benchtui.model.units import Unit
from benchtui.report.say import amount, sentence, span
from benchtui.sim import FAULTS, once, simulate
from benchtui.watch.bank import Bank
from tests.watch.shapes import away, flat
from tests.watch.streams import Timeline

from .saying import assert_sayable

HOSTILE = ["[/x]", "\x1b[2Jgone", "two\nlines", "\u202eback", "é" * 900, "\ud800", ""]
NUMBERS = (
    "depth", "level", "value", "low", "high", "by", "peak", "rating", "surge", "per_h", "relative",
    "feed_value", "allowed_s", "below", "leaves_s", "on_for_s", "part", "was", "mains",
)  # fmt: skip
TEXTS = ("meter", "text", "feed", "side", "shown_by", "suspects", "source")
CHART = Chart("a set", points=(Point("B+1", Unit.V, nominal=285.0), Point("pilot", Unit.STATE, nominal=1.0)))


def found(kind: str, point: str | None, **evidence: Any) -> Finding:
    return Finding(1, kind, point, 10_000_000_000, None, 11_000_000_000, 11_000_000_000,
                   MappingProxyType(evidence))  # fmt: skip


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        (285.0, Unit.V, "285 V"), (-22.04, Unit.V, "-22.0 V"), (6.3, Unit.VAC, "6.30 Vac"),
        (0.0425, Unit.A, "42.5 mA"), (2200.0, Unit.OHM, "2.20 kohm"), (4.7e6, Unit.OHM, "4.70 Mohm"),
        (1.0, Unit.STATE, "lit"), (0.0, Unit.STATE, "out"), (0.0, Unit.V, "0.00 V"), (None, Unit.V, "?"),
        (1e9, Unit.V, "1000000000 V"), (5e-324, Unit.V, "4.94066e-324 V"),
    ],
)  # fmt: skip
def test_an_amount_has_three_digits_and_its_unit(value: float | None, unit: Unit, said: str) -> None:
    """Volts are written out, other units take an engineering prefix; V is DC and Vac is AC."""
    assert amount(value, unit) == said


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0.42, "0.4 s"), (9.96, "10 s"), (12.3, "12 s"), (59.4, "59 s"), (187.0, "3:07"),
        (3599.6, "1 h 00 min"), (7500.0, "2 h 05 min"), (None, "?"),
    ],
)  # fmt: skip
def test_a_stretch_of_time_is_written_as_one_says_it(seconds: float | None, said: str) -> None:
    """Tenths below ten seconds, minutes and seconds below the hour, hours and minutes above."""
    assert span(seconds) == said


@pytest.mark.parametrize("kind", SEVERITY)
@pytest.mark.parametrize("name", HOSTILE)
def test_a_name_never_reaches_the_terminal_as_an_escape_sequence(kind: str, name: str) -> None:
    """Names of points, meters and feeds and texts from the wire come out as printable text of one line."""
    numbers = dict.fromkeys(NUMBERS, 1.0)
    texts = dict.fromkeys(TEXTS, name)
    many: dict[str, Any] = {
        "also": [name, name], "count": 2, "run": 1, "confirmed": False, "after_mark": 8.0,
        "strikes": [65.0, 90.0], "holds": [50.0, 65.0], "like_slipped_point": True, "stays": True,
    }  # fmt: skip
    for point in (name, "B+1", "pilot", None):
        text = sentence(found(kind, point, **numbers, **texts, **many), CHART)
        assert text.isprintable()
        assert len(text) <= 400


def test_a_lamp_that_the_chart_does_not_know_goes_out_in_words() -> None:
    """Unit and level of what is in no chart come from its readings."""
    time = Timeline(Chart("a bench"), 60.0)
    time.mark(1.0, "on")
    lamp = time.meter("loose lamp", None)
    for k in range(100):
        time.at(lamp, 1.0 + 0.5 * k, float(not 60 <= k < 70), unit=Unit.STATE, step=0.0)
    text = assert_sayable(time.judged().one("dropout", "loose lamp"), time.chart)
    assert "loose lamp was out for 5.0 s" in text


def test_a_point_that_the_chart_does_not_know_is_told_in_its_unit() -> None:
    """Volts stay volts in words where there is no chart."""
    time = Timeline(Chart("a bench"), 200.0)
    time.mark(1.0, "on")
    time.meter("loose end", away(flat(90.0), 150.0, 155.0, -0.5))
    text = assert_sayable(time.judged().one("dropout", "loose end"), time.chart)
    assert "V from 90.0 V for 5.0 s" in text


def test_who_moved_at_the_time_of_a_fault_is_not_said_to_have_gone_the_same_way() -> None:
    """The evidence names them and not their direction: B+1 rises as the regulator lets go of it."""
    moved = found("dropout", "B+1", depth=-150.0, level=150.0, unit="V", also=["B+2", "pilot", "V6 cathode"])
    text = assert_sayable(moved, CHART)
    assert text.endswith("; B+2, V6 cathode moved too; pilot went out")
    assert "with it" not in text
    assert sentence(found("unsettled", "B+1", value=9.0, also=["B+2"]), CHART).endswith("; B+2 with it")


def test_a_tube_without_voltage_under_a_good_feed_names_what_stands_between() -> None:
    """Starved is said of a feed that lacks it; where the feed is there: resistor, joint or a short."""
    known: dict[str, Any] = {
        "feed": "B+1", "strikes": [155.0, 185.0], "holds": [135.0, 145.0], "through": 1e4,
        "point_value": 0.182, "unit": "V",
    }  # fmt: skip
    good = assert_sayable(found("starved", "regulator", feed_value=287.0, **known), CHART)
    assert good.startswith(
        "regulator lacked voltage though B+1 had 287 V: it had 182 mV and holds from 135 V;"
    )
    assert "series resistor (10.0 kohm) or a joint open, or a short" in good
    low = assert_sayable(found("starved", "regulator", feed_value=120.0, **known), CHART)
    assert low.startswith("regulator was starved: it had 182 mV itself")


def findings_of(fault: str, seed: int) -> tuple[list[Finding], Chart]:
    run = simulate(seed, [fault], 360.0, script=once(2.0, 330.0))
    chart = read_chart(run.chart_text, "chart.toml")
    bank = Bank(chart, run.channels, Settings())
    bank.feed(run.block())
    return bank.folding.all(), chart


def test_whatever_the_simulated_set_shows_can_be_said() -> None:
    """Every finding of a set with each of many faults has a sentence without a word that promises safety."""
    said: dict[str, set[str]] = defaultdict(set)
    for seed, fault in enumerate(list(FAULTS)[::6]):
        findings, chart = findings_of(fault, seed + 100)
        for finding in findings:
            text = assert_sayable(finding, chart)
            assert finding.point is None or finding.point in text
            said[finding.kind].add(text)
    assert {"power_on", "power_off", "settled", "dropout", "outside"} <= set(said)
