"""Patterns made from lines that nobody has described: they read those lines, and no more is made up."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtui.chart.bench_file import read_bench
from benchtui.driver.catalogue import open_driver
from benchtui.driver.contract import DriverOptions
from benchtui.driver.proposal_lines import line_entry, line_options
from benchtui.model.units import Unit


def _read(lines: list[str], options: dict[str, object]) -> list[tuple[float, Unit]]:
    driver = open_driver("lines", DriverOptions("A", options=options))
    driver.start(0)
    driver.feed(b"\n", 0)
    r = driver.feed("".join(f"{line}\r\n" for line in lines).encode(), 1).readings
    return [(v, Unit(u)) for v, u in zip(r.value.tolist(), r.unit.tolist(), strict=True)]


@pytest.mark.parametrize(
    ("lines", "values", "unit"),
    [
        (["CH-A;VOLTS-DIRECT;+285.1;OKAY", "CH-A;VOLTS-DIRECT;-12.5;OKAY"], [285.1, -12.5], Unit.V),
        (["N1 U: 12.5 x", "N2 U:  2.5 x"], [12.5, 2.5], Unit.UNKNOWN),
        (["#1 RESIST. = 12,5", "#1 RESIST. = 2,75"], [12.5, 2.75], Unit.OHM),
        (["x 1.5E+02 VDC [x]", "x 2.5E-01 VDC [x]"], [150.0, 0.25], Unit.V),
        (["@ AC-AMPERES 1.5 \\ ' \"", "@ AC-AMPERES 2.5 \\ ' \""], [1.5, 2.5], Unit.AAC),
    ],
)
def test_the_lines_are_read_by_the_pattern_made_from_them(
    lines: list[str], values: list[float], unit: Unit
) -> None:
    """Also as the entry is printed: it is a bench file."""
    options = line_options(lines * 2)
    assert _read(lines, options) == [(value, unit) for value in values]
    (meter,) = read_bench(line_entry(options, "/dev/x", "A", {"baud": 2400}), "b").meters
    assert _read(lines, dict(meter.options)) == [(value, unit) for value in values]
    assert meter.serial.baud == 2400


@pytest.mark.parametrize("lines", [[], ["1 V"], ["no number"] * 9, ["a 1", "b: 2", "3 c"]])
def test_lines_without_a_number_in_common_give_nothing(lines: list[str]) -> None:
    """Nothing is made up."""
    assert line_options(lines) == {}


@given(st.lists(st.text(st.characters(codec="latin-1"), max_size=30), max_size=6))
def test_any_lines_give_a_bench_entry_or_nothing(lines: list[str]) -> None:
    """Whatever a wire says, what is printed is TOML."""
    options = line_options(lines)
    if options:
        made = tomllib.loads(line_entry(options, "/dev/x", "A", {}))
        assert made["meter"][0]["pattern"] == options["pattern"]
