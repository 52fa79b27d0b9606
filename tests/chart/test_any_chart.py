"""Whatever stands in a file: a record, or problems with lines that exist and words a terminal can show."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.chart.bench_file import read_bench
from benchtui.chart.chart_file import read_chart
from benchtui.chart.settings_file import read_settings
from benchtui.model.errors import ChartError, Problem
from benchtui.model.notes import plain

from .test_chart_file import SALTMARSH

READERS: dict[str, Callable[[str, str], object]] = {
    "chart": read_chart,
    "bench": read_bench,
    "settings": read_settings,
}


def told(read: Callable[[str, str], object], text: str) -> list[Problem]:
    """The problems of this text; none where it can be read."""
    found: list[Problem] | None = None
    try:
        read(text, "file.toml")
    except ChartError as error:
        found = error.problems
    assert found is None or found
    return found or []


def check(found: list[Problem], text: str) -> None:
    lines = text.count("\n") + 1
    assert all(p.line is None or 1 <= p.line <= lines for p in found)
    assert all(plain(str(p), 4000) == str(p) for p in found)
    assert all(p.what and len(p.what) < 700 for p in found)


@pytest.mark.parametrize("name", READERS)
@given(text=st.one_of(st.text(max_size=300), st.binary(max_size=300).map(lambda b: b.decode("latin-1"))))
@settings(max_examples=150, deadline=None)
def test_random_text_raises_nothing_but_a_chart_error(name: str, text: str) -> None:
    """Random text is read or refused with problems; nothing else can happen."""
    check(told(READERS[name], text), text)


@given(
    st.lists(
        st.tuples(st.integers(0, len(SALTMARSH)), st.integers(0, 40), st.text(max_size=12)),
        min_size=1,
        max_size=4,
    )
)
@settings(max_examples=300, deadline=None)
def test_a_damaged_chart_raises_nothing_but_a_chart_error(cuts: list[tuple[int, int, str]]) -> None:
    """A good chart with pieces cut out and put in is read or refused with problems on lines that exist."""
    text = SALTMARSH
    for at, length, put in cuts:
        text = text[:at] + put + text[at + length :]
    check(told(read_chart, text), text)


WORDS = [
    "285 V",
    "6.3 Vac",
    "-12 V",
    "0 V",
    "350 V",
    "400 V for 30 s",
    "10 %",
    "+10 % -15 %",
    "±5 V",
    "65 V .. 90 V",
    "90 V .. 65 V",
    "5 mA .. 30 mA",
    "20 mA",
    "2.2 kohm",
    "4k7",
    "20 kohm/V",
    "11 Mohm",
    "lit",
    "out",
    "programme",
    "60 s",
    "B+1",
    "B+2",
    "mains",
    "k",
    "k / (270 * ohm)",
    "k + 1",
    "resistor",
    "104K",
    "0.1 uF",
    "V",
    "Vac",
    "",
    "0.05 % + 3 counts",
    "1 in 100 h",
    "30 V",
    "none",
    "dark",
    "direct",
    "\x1b[2J",
    "[/x]",
    "\u202e",
    "x" * 500,
]
SCALARS = st.one_of(
    st.sampled_from(WORDS),
    st.text(max_size=8),
    st.integers(-5, 10_000),
    st.booleans(),
    st.floats(allow_nan=False),
)
VALUES = st.one_of(
    SCALARS,
    st.lists(SCALARS, max_size=2),
    st.dictionaries(st.sampled_from(["k", "V", "2 V", "dtr", "rts", ""]), SCALARS, max_size=2),
)
KEYS = {
    "set": ["name", "mains", "meter", "rectifier", "filter", "chassis", "tolerance", "nme"],
    "point": [
        "name",
        "where",
        "reference",
        "conditions",
        "nominal",
        "tolerance",
        "low",
        "high",
        "limit",
        "surge",
        "ripple",
        "range",
        "follows_mains",
        "current",
        "fed_from",
        "through",
        "source_resistance",
        "moves",
        "bleed",
        "seen",
        "unit",
        "nominl",
    ],
    "part": ["name", "kind", "value", "from", "to", "tolerance", "\x1b"],
    "derived": ["name", "uses", "formula", "limit"],
    "meter": [
        "name",
        "driver",
        "port",
        "baud",
        "bits",
        "parity",
        "stop",
        "power_pins",
        "measures",
        "point",
        "accuracy",
        "input_resistance",
        "max_input",
        "pattern",
    ],
    "top": ["warn_above", "false_alarms", "sound", "look", "\u202e"],
}
KEYS["glow"] = [*KEYS["point"], "strikes", "holds"]


def _text(value: object) -> str:
    """A value as TOML writes it."""
    if isinstance(value, str):
        return json.dumps(value).replace("\x7f", "\\u007f")
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return f"[{', '.join(map(_text, value))}]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_text(k)} = {_text(v)}" for k, v in value.items()) + "}"
    return repr(value)


def _table(kind: str) -> st.SearchStrategy[str]:
    keys = st.dictionaries(st.sampled_from(KEYS[kind]), VALUES, max_size=8)
    head = {"set": "[set]\n", "top": ""}.get(kind, f"[[{kind}]]\n")
    return keys.map(lambda d: head + "".join(f"{_text(k)} = {_text(v)}\n" for k, v in d.items()))


def _file(first: str, kinds: list[str]) -> st.SearchStrategy[str]:
    rest = st.lists(st.sampled_from(kinds).flatmap(_table), max_size=6)
    return st.tuples(_table(first), rest).map(lambda t: t[0] + "\n".join(t[1]))


FILES: dict[str, st.SearchStrategy[str]] = {
    "chart": _file("set", ["point", "point", "glow", "part", "derived"]),
    "bench": _file("top", ["meter"]),
    "settings": _table("top"),
}


@pytest.mark.parametrize("name", READERS)
@given(data=st.data())
@settings(max_examples=300, deadline=None)
def test_known_keys_with_any_value_raise_nothing_but_a_chart_error(name: str, data: Any) -> None:
    """Known keys with values of every kind are read or refused, each problem on a line that exists."""
    text = data.draw(FILES[name])
    check(told(READERS[name], text), text)
