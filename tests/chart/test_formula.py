"""Formulas over points: names, dimensions, DC and AC, arithmetic."""

from __future__ import annotations

import math
import re
from typing import Any

import pint
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from benchtui.chart.dimension import same
from benchtui.chart.formula_text import parse_formula
from benchtui.chart.quantity import QuantityError
from benchtui.model.notes import plain
from benchtui.model.units import Unit

POINTS = {"k": Unit.V, "b": Unit.V, "h": Unit.VAC, "i": Unit.A, "t": Unit.CELSIUS}
VALUES = {"k": 9.4, "b": 285.0, "h": 6.3, "i": 0.02, "t": 40.0}


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("k / (270 * ohm)", Unit.A, 9.4 / 270),
        ("k / (270 * \u03a9)", Unit.A, 9.4 / 270),
        ("b - k", Unit.V, 275.6),
        ("-k + b", Unit.V, 275.6),
        ("b - 1200 * mV", Unit.V, 283.8),
        ("(b - k) / (2.2 * kohm)", Unit.A, 275.6 / 2200),
        ("b * i", Unit.WATT, 5.7),
        ("k^2 / (270 * ohm)", Unit.WATT, 9.4**2 / 270),
        ("k ** 2 / (270 * ohm)", Unit.WATT, 9.4**2 / 270),
        ("h / (3 * ohm)", Unit.AAC, 2.1),
        ("h * k / k", Unit.VAC, 6.3),
        ("b / i", Unit.OHM, 14250.0),
        ("b / k", Unit.UNKNOWN, 285 / 9.4),
        ("b - i * 2.2 * kilohm", Unit.V, 285 - 44.0),
        ("2 * 50 * percent * b", Unit.V, 285.0),
        ("h * h / (10 * ohm) + k * i", Unit.WATT, 6.3**2 / 10 + 9.4 * 0.02),
        ("b - k - k", Unit.V, 285 - 18.8),
        ("b / 2 / 5", Unit.V, 28.5),
    ],
)
def test_formulas_come_out_in_their_unit(text: str, unit: Unit, value: float) -> None:
    """A formula gives its value and knows its unit, AC kept apart from DC."""
    formula = parse_formula(text, POINTS)

    assert formula.unit is unit
    assert formula.value(VALUES) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("k + h", "adds DC volts and AC volts"),
        ("k - i", "subtracts DC volts and a DC current"),
        ("k + 3", "a plain number"),
        ("k / (R * ohm)", "`R` is neither a unit nor named in `uses`"),
        ("x / (270 * ohm)", "`x` is neither"),
        ("k * mile", "`mile` is neither"),
        ("k / 270 ohm", "like the * in"),
        ("k (270)", "operator is missing"),
        ("k / (270 * ohm", "closing bracket"),
        ("k /", "too early"),
        ("* k", "missing before `*`"),
        ("k ^ 9", "1 to 4"),
        ("k ^ k", "1 to 4"),
        ("k)", "not expected"),
        ("", "nothing is written"),
        ("k; import os", "does not belong"),
        ("__import__('os')", "does not belong"),
        ("(" * 40 + "k" + ")" * 40, "too many brackets"),
        ("k" + " + k" * 100, "too long"),
    ],
)
def test_a_wrong_formula_says_what_is_wrong(text: str, hint: str) -> None:
    """Unknown names, sums that do not go together and half formulas are refused in one sentence."""
    with pytest.raises(QuantityError) as caught:
        parse_formula(text, POINTS)

    assert hint in str(caught.value)
    assert plain(str(caught.value)) == str(caught.value)


@pytest.mark.parametrize(
    "text", ["b / (k - k)", "b * 9e99 * 9e99 * 9e99 * 9e99", "(b * 9e99)^4", "(k - k)^-1 * b * b"]
)
def test_a_value_that_does_not_exist_is_no_number(text: str) -> None:
    """Division by zero and overflow give NaN, never an exception."""
    assert math.isnan(parse_formula(text, POINTS).value(VALUES))


REGISTRY = pint.UnitRegistry()
THEIR_UNITS = {
    "k": "volt",
    "b": "volt",
    "i": "ampere",
    "ohm": "ohm",
    "mA": "milliampere",
    "kohm": "kiloohm",
    "s": "second",
}


def _formulas() -> st.SearchStrategy[str]:
    leaf = st.sampled_from(["k", "b", "i", "2.5", "270 * ohm", "(3 * mA)", "kohm", "(7 * s)"])

    def grow(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
        return st.one_of(
            st.tuples(inner, st.sampled_from("+-*/"), inner).map(lambda t: f"({t[0]} {t[1]} {t[2]})"),
            st.tuples(inner, st.integers(1, 3)).map(lambda t: f"({t[0]})^{t[1]}"),
            inner.map(lambda x: f"(-{x})"),
        )

    return st.recursive(leaf, grow, max_leaves=6)


@given(_formulas())
@settings(max_examples=400, deadline=None)
def test_dimensions_and_values_agree_with_pint(text: str) -> None:
    """For random formulas over DC points our algebra accepts and computes exactly what pint does."""
    assume(not re.search(r"\(([\d.]+) - \1\)", text))  # pint lets a nought stand for any quantity
    names: dict[str, Any] = {
        name: REGISTRY.Quantity(VALUES.get(name, 1.0), unit) for name, unit in THEIR_UNITS.items()
    }
    theirs, theirs_error = None, False
    try:
        theirs = eval(text.replace("^", "**"), {"__builtins__": {}}, names)
    except pint.DimensionalityError:
        theirs_error = True
    except ZeroDivisionError:
        return
    refused, ours = "", None
    try:
        ours = parse_formula(text, POINTS)
    except QuantityError as error:
        refused = str(error)

    if ours is None:
        assert theirs_error or "too long" in refused
        return
    assert not theirs_error
    base = theirs.to_base_units().magnitude if hasattr(theirs, "to_base_units") else theirs
    assert ours.value(VALUES) == pytest.approx(base, rel=1e-9, abs=1e-15)


def test_only_volts_and_amperes_tell_ac_from_dc() -> None:
    """AC power and DC power add up to power; AC volts and DC volts do not add up."""
    assert same((1, 1, 0, 0, 2), (1, 1, 0, 0, 0))
    assert not same((1, 0, 0, 0, 1), (1, 0, 0, 0, 0))


@given(st.one_of(st.text(max_size=60), st.text(st.sampled_from("kbhi0123.+-*/^() ohmVA"), max_size=40)))
@settings(max_examples=500, deadline=None)
def test_no_text_makes_a_formula_fail_otherwise(text: str) -> None:
    """Any text is a formula with a value, or a QuantityError whose sentence a terminal can show."""
    said = ""
    try:
        parse_formula(text, POINTS).value(VALUES)
    except QuantityError as error:
        said = str(error)

    assert plain(said) == said
