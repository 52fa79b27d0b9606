"""Tolerances, spans, surges, accuracies, loads and rates as people write them."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.chart.accuracy import parse_accuracy
from benchtui.chart.phrases import (
    Tolerance,
    parse_alarms,
    parse_load,
    parse_span,
    parse_surge,
    parse_tolerance,
)
from benchtui.chart.quantity import QuantityError
from benchtui.model.notes import plain
from benchtui.model.readings import Accuracy
from benchtui.model.units import Unit


@pytest.mark.parametrize(
    ("text", "down", "up"),
    [
        ("10 %", "10", "10"),
        ("\u00b110 %", "10", "10"),
        ("+/-10%", "10", "10"),
        ("+- 2.5 %", "2.5", "2.5"),
        ("+10 % -15 %", "15", "10"),
        ("+20 % \u221210 %", "10", "20"),
        ("-15 % +10 %", "15", "10"),
        ("+20/-10 %", "10", "20"),
        ("+20 -0 %", "0", "20"),
        ("+100 % -50 %", "50", "100"),
    ],
)
def test_tolerances(text: str, down: str, up: str) -> None:
    """A tolerance is even or uneven, with either sign first."""
    assert parse_tolerance(text) == Tolerance(Decimal(down), Decimal(up))


def test_a_tolerance_in_volts_is_for_a_point_in_volts() -> None:
    """An absolute tolerance is read in the point's own unit only."""
    assert parse_tolerance("\u00b10.5 V", Unit.V).band(Decimal(0)) == (Decimal("-0.5"), Decimal("0.5"))
    with pytest.raises(QuantityError, match="percentage"):
        parse_tolerance("\u00b10.5 V")


def test_bands_are_exact_and_follow_the_sign() -> None:
    """+10 % of -12 V is -13.2 V: a tolerance is one of the size."""
    assert parse_tolerance("+10 % -15 %").band(Decimal(285)) == (Decimal("242.25"), Decimal("313.50"))
    assert parse_tolerance("+10 % -5 %").band(Decimal(-12)) == (Decimal("-13.2"), Decimal("-11.4"))


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("65 V .. 90 V", 65, 90),
        ("65..90 V", 65, 90),
        ("65 V \u2026 90 V", 65, 90),
        ("65 to 90 V", 65, 90),
        ("65\u201390 V", 65, 90),
        ("65-90 V", 65, 90),
        ("-5 V .. -3 V", -5, -3),
        ("500 mV .. 2 V", 0.5, 2),
    ],
)
def test_spans(text: str, low: float, high: float) -> None:
    """A span has two ends in one kind of quantity; the first unit may be left out."""
    found = parse_span(text, Unit.V)

    assert [q.number for q in found] == [low, high]


def test_a_span_takes_the_prefix_of_its_second_end() -> None:
    """`5 .. 30 mA` is 5 mA to 30 mA."""
    assert [q.number for q in parse_span("5 .. 30 mA", Unit.A)] == [0.005, 0.03]


def test_surges() -> None:
    """`400 V for 30 s`: what it stands and for how long."""
    size, time = parse_surge("400 V for 0.5 min", Unit.V)

    assert (size.number, time.number) == (400.0, 30.0)


@pytest.mark.parametrize(
    ("text", "accuracy"),
    [
        ("0.05 % + 3 counts", Accuracy(0.0005, 3)),
        ("\u00b1(0.5 % rdg + 2 dgt)", Accuracy(0.005, 2)),
        ("0.8% of reading + 1 digit", Accuracy(0.008, 1)),
        ("2 % of full scale", Accuracy(0, 0, 0.02)),
        ("3 % F.S.D.", Accuracy(0, 0, 0.03)),
        ("50 ppm + 20 ppm of range", Accuracy(5e-5, 0, 2e-5)),
        ("0.1 % + 2 counts + 0.02 % fs", Accuracy(0.001, 2, 0.0002)),
    ],
)
def test_accuracies(text: str, accuracy: Accuracy) -> None:
    """What a data sheet states, as parts of the reading, counts and parts of full scale."""
    assert parse_accuracy(text) == accuracy


@pytest.mark.parametrize(
    ("text", "value", "resolution", "bound"),
    [
        ("2.5 % + 3 counts", 32.00, 0.01, 0.83),
        ("0.8 % + 2 counts", 100.0, 0.1, 1.0),
        ("0.08 % + 2 counts", 2.000, 0.001, 0.0036),
        ("0.1 % + 4 counts", 166.51e-3, 0.01e-3, 0.20651e-3),
    ],
)
def test_the_bound_of_a_stated_accuracy(text: str, value: float, resolution: float, bound: float) -> None:
    """+-(% of reading + counts): worked examples of university laboratory notes on meter uncertainty."""
    assert parse_accuracy(text).bound(value, resolution) == pytest.approx(bound, rel=1e-4)


def test_a_needle_of_50_microamperes_is_20_kilohms_per_volt() -> None:
    """Definition: ohms per volt is one over the full-scale current; its 250 V range is 5 Mohm."""
    load = parse_load("20 kohm/V")

    assert load.ohms_per_volt == pytest.approx(1 / 50e-6)
    assert load.on_range(250) == 5e6
    assert load.on_range(None) is None


@pytest.mark.parametrize(
    "text", ["20 k\u03a9/V", "20000 ohms per volt", "20k/V", "20 kohm / V", "20 kohm/V DC"]
)
def test_loads_per_volt(text: str) -> None:
    """Each way of writing ohms per volt is the same load."""
    assert parse_load(text).ohms_per_volt == 20_000.0


def test_a_fixed_load_holds_on_any_range() -> None:
    """`11 Mohm` is 11 Mohm whatever the range."""
    assert parse_load("11 Mohm").on_range(None) == parse_load("11M").on_range(500) == 11e6


@pytest.mark.parametrize(
    ("text", "rate"), [("1 in 100 h", 0.01), ("2 per hour", 2.0), ("1/100h", 0.01), ("1 in 30 min", 2.0)]
)
def test_rates_of_false_alarms(text: str, rate: float) -> None:
    """A rate of false alarms is a number in a time, given an hour."""
    assert parse_alarms(text) == rate


REFUSED: list[tuple[Callable[[str], object], str, str]] = [
    (parse_tolerance, "10", "no unit"),
    (parse_tolerance, "+20 %", "write both"),
    (parse_tolerance, "+20 % +10 %", "same sign twice"),
    (parse_tolerance, "0 %", "no room"),
    (parse_tolerance, "+10 % -150 %", "too wide"),
    (parse_tolerance, "wide", "no tolerance"),
    (lambda t: parse_tolerance(t, Unit.V), "+10 % -5 V", "mixes"),
    (parse_span, "90 V .. 65 V", "upside down"),
    (parse_span, "65 V", "no range"),
    (parse_span, "6 V .. 9 Vac", "mixes"),
    (parse_surge, "400 V", "for how long"),
    (parse_surge, "400 V for 0 s", "more than nothing"),
    (parse_surge, "400 V for 30 V", "time"),
    (parse_accuracy, "0.5 % + 10 mV", "neither % nor counts"),
    (parse_accuracy, "0 %", "no meter is exact"),
    (parse_accuracy, "1 % + 1 %", "twice"),
    (parse_accuracy, "500 %", "too large"),
    (parse_accuracy, "good", "no accuracy"),
    (parse_accuracy, "1 % of moon", "a part of what"),
    (parse_load, "20 V/ohm", "resistance"),
    (parse_load, "11 mohm", "Mohm"),
    (parse_load, "0 ohm/V", "more than 0"),
    (parse_alarms, "never", "no rate"),
    (parse_alarms, "0 in 100 h", "can't be had"),
    (parse_alarms, "1 in 100 V", "time"),
    (parse_alarms, "5000 in 1 h", "between"),
]


@pytest.mark.parametrize(("parse", "text", "hint"), REFUSED)
def test_refusals_say_what_to_write(parse: Callable[[str], object], text: str, hint: str) -> None:
    """What cannot be meant is refused in one sentence."""
    with pytest.raises(QuantityError) as caught:
        parse(text)

    assert hint in str(caught.value)


PARSERS = [
    parse_accuracy,
    parse_load,
    parse_alarms,
    lambda t: parse_tolerance(t, Unit.V),
    lambda t: parse_span(t, Unit.V, Unit.A),
    lambda t: parse_surge(t, Unit.V),
]
PIECES = [
    "10",
    "1.5",
    ".5",
    "%",
    "V",
    "Vac",
    "mA",
    "+",
    "-",
    "\u00b1",
    "..",
    " ",
    " for ",
    "30 s",
    "counts",
    "of",
    "fs",
    "in",
    "h",
]


@given(
    st.sampled_from(PARSERS),
    st.one_of(st.text(max_size=90), st.lists(st.sampled_from(PIECES), max_size=9).map("".join)),
)
@settings(max_examples=600, deadline=None)
def test_no_text_makes_a_phrase_fail_otherwise(parse: Callable[[str], object], text: str) -> None:
    """Any text is read or is a QuantityError whose sentence a terminal can show."""
    said = ""
    try:
        parse(text)
    except QuantityError as error:
        said = str(error)

    assert plain(said) == said
