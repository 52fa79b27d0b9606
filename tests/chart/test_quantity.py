"""Quantities as people write them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.chart.quantity import QuantityError, parse_quantity, write_quantity
from benchtui.model.notes import plain
from benchtui.model.units import Unit

WAYS = [
    ("285 V", "285", Unit.V),
    ("285V", "285", Unit.V),
    ("285 V DC", "285", Unit.V),
    ("285 volts", "285", Unit.V),
    ("1.2 kV", "1200", Unit.V),
    ("\u221212 V", "-12", Unit.V),
    ("-12 mV", "-0.012", Unit.V),
    ("6.3 Vac", "6.3", Unit.VAC),
    ("6.3 V AC", "6.3", Unit.VAC),
    ("6.3 V a.c.", "6.3", Unit.VAC),
    ("6.3V~", "6.3", Unit.VAC),
    ("40 mVac", "0.04", Unit.VAC),
    ("6.3 V rms", "6.3", Unit.VAC),
    ("0.6 mA", "0.0006", Unit.A),
    ("50 \u00b5A", "0.00005", Unit.A),
    ("0.3 A AC", "0.3", Unit.AAC),
    ("2.2 kohm", "2200", Unit.OHM),
    ("2.2k", "2200", Unit.OHM),
    ("47 K", "47000", Unit.OHM),
    ("100 k\u03a9", "100000", Unit.OHM),
    ("100 k\u2126", "100000", Unit.OHM),
    ("11 Mohm", "11000000", Unit.OHM),
    ("1 Meg", "1000000", Unit.OHM),
    ("2 megohms", "2000000", Unit.OHM),
    ("10 kilohms", "10000", Unit.OHM),
    ("0.1 uF", "1E-7", Unit.FARAD),
    (".05 uF", "5E-8", Unit.FARAD),
    ("8 \u00b5F", "0.000008", Unit.FARAD),
    ("0.05 \u03bcF", "5E-8", Unit.FARAD),
    ("8 mfd", "0.000008", Unit.FARAD),
    ("250 mmfd", "2.5E-10", Unit.FARAD),
    ("4n7", "4.7E-9", Unit.FARAD),
    ("100p", "1E-10", Unit.FARAD),
    ("10 H", "10", Unit.HENRY),
    ("455 kc/s", "455000", Unit.HZ),
    ("50 Hz", "50", Unit.HZ),
    ("30 s", "30", Unit.SECOND),
    ("1.5 min", "90", Unit.SECOND),
    ("100 h", "360000", Unit.SECOND),
    ("40 \u00b0C", "40", Unit.CELSIUS),
    ("10 %", "10", Unit.PERCENT),
    ("5 W", "5", Unit.WATT),
    ("2.85E2 V", "285", Unit.V),
]


@pytest.mark.parametrize(("text", "value", "unit"), WAYS)
def test_each_way_of_the_trade_is_read(text: str, value: str, unit: Unit) -> None:
    """Every usual way to write a quantity gives its exact value and unit."""
    found = parse_quantity(text)

    assert (found.value, found.unit) == (Decimal(value), unit)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("0.285 kilovolt", "285", Unit.V),
        ("285 joule/coulomb", "285", Unit.V),
        ("1 volt/milliampere", "1000", Unit.OHM),
        ("2 siemens**-1", "2", Unit.OHM),
        ("3 mV * A", "0.003", Unit.WATT),
    ],
)
def test_an_unusual_unit_is_worked_out_by_its_dimension(text: str, value: str, unit: Unit) -> None:
    """A unit that the trade seldom writes is still understood, exactly."""
    found = parse_quantity(text)

    assert (found.value, found.unit) == (Decimal(value), unit)


REFUSED = [
    ("285", "no unit"),
    ("V", "no quantity"),
    ("", "nothing is written"),
    ("6,3 V", "`6.3 V`"),
    ("1,200 V", "`1200 V`"),
    ("1 200 V", "in one piece"),
    ("11 mohm", "`Mohm`"),
    ("3 MA", "`mA`"),
    ("8 mF", "`uF`"),
    ("8 MF", "`uF`"),
    ("5 m", "in full"),
    ("6.3 Vpp", "rms"),
    ("65 V .. 90 V", "range"),
    ("\u00b15 V", "tolerance"),
    ("about 285 V", "no quantity"),
    ("3 furlongs", "is a length"),
    ("5 Q", "not known"),
    ("10\u00b2 V", "not known"),
    ("1/2 W", "not known"),
    ("1e99 V", "too large"),
    ("1e999 V", "too large"),
    ("285 V\x1b[31m", "cannot be seen"),
    ("285\n V", "cannot be seen"),
    ("\u0662\u0668\u0665 V", "no quantity"),
    ("9" * 100 + " V", "too long"),
    ("2 ** 9 ** 9 V", "not known"),
]


@pytest.mark.parametrize(("text", "hint"), REFUSED)
def test_what_is_no_quantity_is_refused_with_what_to_write(text: str, hint: str) -> None:
    """A refusal is one short sentence that says what to write instead."""
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text)

    assert hint in str(caught.value)
    assert len(str(caught.value)) < 200
    assert plain(str(caught.value)) == str(caught.value)


def test_dc_never_passes_for_ac() -> None:
    """V is DC and Vac is AC: each is refused where the other is wanted."""
    with pytest.raises(QuantityError, match=r"`6\.3 V` is DC volts; here it must be AC volts"):
        parse_quantity("6.3 V", Unit.VAC)
    with pytest.raises(QuantityError, match="`285 Vac` is AC volts; here it must be DC volts"):
        parse_quantity("285 Vac", Unit.V)


def test_a_bare_number_is_answered_with_its_units() -> None:
    """Who forgot the unit is shown the same number with the units that fit."""
    with pytest.raises(QuantityError, match="write `50 V` or `50 Vac`"):
        parse_quantity("50", Unit.V, Unit.VAC)


@pytest.mark.parametrize(
    ("text", "number"), [("0.1 uF", 1e-7), ("0.3 mA", 3e-4), ("6.3 Vac", 6.3), ("4k7", 4700.0)]
)
def test_decimal_text_keeps_its_exact_value(text: str, number: float) -> None:
    """The float is the one nearest to the decimal text, with no error from scaling by the prefix."""
    assert parse_quantity(text).number == number


SHOWABLE = [u for u in Unit if u not in (Unit.UNKNOWN, Unit.STATE)]


@given(
    st.sampled_from(SHOWABLE),
    st.one_of(
        st.just(0.0),
        st.floats(1e-14, 1e11).flatmap(lambda x: st.sampled_from([x, -x])),
        st.decimals(-9999, 9999, places=3).map(float).filter(lambda x: x == 0 or abs(x) > 1e-9),
    ),
)
@settings(max_examples=500, deadline=None)
def test_a_written_quantity_is_read_back_exactly(unit: Unit, value: float) -> None:
    """write_quantity and parse_quantity are each other's inverse, to the last digit."""
    found = parse_quantity(write_quantity(value, unit), unit)

    assert found.number == value
    assert found.unit is unit


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (285.0, Unit.V, "285 V"),
        (1200.0, Unit.V, "1200 V"),
        (6.3, Unit.VAC, "6.3 Vac"),
        (0.02, Unit.A, "20 mA"),
        (2200.0, Unit.OHM, "2.2 kohm"),
        (47.0, Unit.OHM, "47 ohm"),
        (1e-7, Unit.FARAD, "100 nF"),
        (3.2e-5, Unit.FARAD, "32 uF"),
        (-0.0, Unit.V, "0 V"),
    ],
)
def test_a_quantity_is_written_as_the_trade_does(value: float, unit: Unit, text: str) -> None:
    """Engineering prefixes, but volts stay volts: 1200 V is not 1.2 kV."""
    assert write_quantity(value, unit) == text


UNUSUAL = st.text(
    st.sampled_from("0123456789.,+-eE /*^%VAacdkmMuGRohms\u00b5\u03a9\u00b1 \u00a0\u2212_()~=FHzW"),
    max_size=14,
)


@given(st.one_of(st.text(max_size=90), UNUSUAL))
@settings(max_examples=600, deadline=None)
def test_no_text_at_all_makes_it_fail_otherwise(text: str) -> None:
    """Any text is a quantity or a QuantityError whose sentence a terminal can show."""
    said, size = "", Decimal(1)
    try:
        size = abs(parse_quantity(text).value)
    except QuantityError as error:
        said = str(error)

    assert plain(said) == said
    assert size == 0 or Decimal("1e-15") <= size <= Decimal("1e12")
