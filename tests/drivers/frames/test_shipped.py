"""What the descriptions that come with the program make of their meters' frames.

The frames are put together by hand, from memory of the formats: see `wires.py`. Nothing here comes from a
data sheet, and each description says so.
"""

from __future__ import annotations

import math

import pytest
from benchtui_drivers.frames import FramesDriver
from benchtui_drivers.frames_shipped import names, shipped

from benchtui.driver.contract import Driver, LineDefaults
from benchtui.model.readings import Flag
from benchtui.model.units import Unit

from .wires import (
    GOOD,
    ascii_9,
    ascii_11,
    ascii_14_flags,
    ascii_14_range,
    bcd_8,
    frames,
    segments_14,
    stx_16,
)

Row = tuple[float, Unit, Flag]
NO = Flag(0)


def _rows(name: str, wire: bytes, measures: Unit = Unit.V) -> list[Row]:
    driver = frames(name, measures)
    driver.start(0)
    out = driver.feed(wire, 1)
    assert out.troubles == ()
    r = out.readings
    return [
        (v, Unit(u), Flag(f))
        for v, u, f in zip(r.value.tolist(), r.unit.tolist(), r.flags.tolist(), strict=True)
    ]


SEGMENTS = segments_14
SIGNS: list[tuple[bytes, Row]] = [
    (SEGMENTS("2853", 1), (285.3, Unit.V, NO)),
    (SEGMENTS("2853", 2, dc=False), (28.53, Unit.VAC, NO)),
    (SEGMENTS("  12", 3, signs={"13.2": True, "2.3": True}), (-0.012, Unit.V, NO)),
    (SEGMENTS("2853", 1, signs={"13.2": True, "11.3": True}), (0.2853, Unit.V, NO)),
    (SEGMENTS("4700", 0, signs={"12.2": True, "10.1": True}), (4.7e6, Unit.OHM, NO)),
    (SEGMENTS("4700", 3, signs={"12.2": True, "11.1": True}), (4.7e6, Unit.OHM, NO)),
    (SEGMENTS("1234", 2, signs={"13.3": True, "10.3": True}), (12.34e-6, Unit.A, NO)),
    (SEGMENTS("1234", 2, signs={"12.3": True, "10.2": True}), (12.34e-9, Unit.FARAD, NO)),
    (SEGMENTS("5000", 2, signs={"13.1": True}), (50.0, Unit.HZ, NO)),
    (SEGMENTS("2853", 1, signs={"13.2": True, "12.0": True}), (285.3, Unit.V, Flag.HOLD)),
    (SEGMENTS("2853", 1, signs={"13.2": True, "13.0": True}), (285.3, Unit.V, Flag.LOW_BATTERY)),
    (SEGMENTS(" 0L ", 1), (math.nan, Unit.V, Flag.OVERLOAD)),
    (SEGMENTS("0500", 3, signs={"13.2": True, "10.0": True}), (0.5, Unit.UNKNOWN, NO)),
    (SEGMENTS("0003", 1, signs={"13.2": True, "12.1": True}), (0.3, Unit.UNKNOWN, NO)),
    (SEGMENTS("0123"), (123.0, Unit.V, NO)),
]


@pytest.mark.parametrize(("frame", "row"), SIGNS)
def test_segments_with_every_sign(frame: bytes, row: Row) -> None:
    """Point, minus, AC and DC, prefixes, units, hold, battery, over range, diode, difference."""
    assert repr(_rows("segments-14", frame)) == repr([row])


@pytest.mark.parametrize(
    ("name", "frame", "row"),
    [
        ("ascii-9", ascii_9("2853"), (285.3, Unit.V, NO)),
        ("ascii-9", ascii_9("2853", 0), (0.2853, Unit.V, NO)),
        ("ascii-9", ascii_9("2853", 2, 0x3, 4), (-28530.0, Unit.OHM, NO)),
        ("ascii-9", ascii_9("2853", status=2), (285.3, Unit.V, Flag.LOW_BATTERY)),
        ("ascii-9", ascii_9("0000", status=1), (math.nan, Unit.V, Flag.OVERLOAD)),
        ("ascii-9", ascii_9("0500", 0, 0x1), (0.5, Unit.UNKNOWN, NO)),
        ("ascii-11-twice", ascii_11("2853"), (285.3, Unit.V, NO)),
        ("ascii-11-twice", ascii_11("2853", options=(0, 4)), (285.3, Unit.VAC, NO)),
        ("ascii-11-twice", ascii_11("2853", options=(8, 8)), (285.3, Unit.V, Flag.HOLD)),
        ("ascii-14-flags", ascii_14_flags("-2853", 4), (-285.3, Unit.V, NO)),
        ("ascii-14-flags", ascii_14_flags("+2853", 1, b"\x08\x00\x40\x80"), (0.002853, Unit.VAC, NO)),
        ("ascii-14-flags", ascii_14_flags("+4700", 0, b"\x00\x00\x20\x20"), (4.7e6, Unit.OHM, NO)),
        ("ascii-14-flags", ascii_14_flags("+?0:?", 4), (math.nan, Unit.V, Flag.OVERLOAD)),
        ("ascii-14-range", ascii_14_range("12345", 3), (1234.5, Unit.V, NO)),
        ("ascii-14-range", ascii_14_range("12345", 4, 4), (-0.12345, Unit.V, NO)),
        ("stx-16", stx_16("00002853", point=1), (285.3, Unit.V, NO)),
        ("stx-16", stx_16("     235", "01", True, 1), (-23.5, Unit.CELSIUS, NO)),
        ("stx-16", stx_16("     770", "02", False, 1), (77.0, Unit.UNKNOWN, NO)),
    ],
)
def test_characters_with_codes_and_flags(name: str, frame: bytes, row: Row) -> None:
    """Range and function say what one count is; units and signs by bits or by codes."""
    assert repr(_rows(name, frame)) == repr([row])


def test_packed_digits() -> None:
    """A frame that random bytes could be is believed right behind another that fits."""
    wire = bcd_8("002853") + bcd_8("002853", 0x21) + bcd_8("004700", 0, 2, 6) + bcd_8("000000", 0x22)
    assert repr(_rows("bcd-8-xor", wire)) == repr(
        [(-285.3, Unit.V, NO), (47000.0, Unit.OHM, NO), (math.nan, Unit.V, Flag.OVERLOAD)]
    )


def test_the_resolution_is_one_count_of_the_last_digit() -> None:
    """In SI units, whatever the prefix: also where nothing but the digits' places tells it."""
    for name, wire, count in (
        ("segments-14", SEGMENTS("2853", 1), 0.1),
        ("segments-14", SEGMENTS("2853", 1, signs={"13.2": True, "11.3": True}), 1e-4),
        ("ascii-9", ascii_9("2853", 0), 1e-4),
        ("ascii-14-range", ascii_14_range("22853", 4), 1e-5),
    ):
        driver = frames(name)
        driver.start(0)
        assert driver.feed(wire, 1).readings.resolution.tolist() == [count]


def test_what_is_set_to_alternating_volts_reads_alternating_volts() -> None:
    """Where the wire does not tell AC from DC, the bench entry does."""
    assert _rows("ascii-9", ascii_9("2300"), Unit.VAC) == [(230.0, Unit.VAC, NO)]
    assert _rows("ascii-9", ascii_9("2300"), Unit.OHM) == [(230.0, Unit.V, NO)]


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("segments-14", LineDefaults(2400, 8, "none", 1)),
        ("ascii-11-twice", LineDefaults(2400, 7, "odd", 1)),
        ("ascii-14-range", LineDefaults(19200, 7, "odd", 1)),
        ("stx-16", LineDefaults(9600, 8, "none", 1)),
    ],
)
def test_the_line_is_set_as_described(name: str, line: LineDefaults) -> None:
    """So that a bench entry need not say it."""
    assert frames(name).line == line


@pytest.mark.parametrize("name", names())
def test_a_description_says_where_it_comes_from(name: str) -> None:
    """A table of codes from memory must not pass for a data sheet's."""
    table = shipped(name)
    assert table["source"] == "from memory"
    assert table["title"]
    assert table["about"]


@pytest.mark.parametrize("name", names())
def test_a_resolved_description_is_heard_the_same(name: str) -> None:
    """A session keeps the description itself, so it does not change with the program."""
    by_name = frames(name)
    assert isinstance(by_name, FramesDriver)
    again = frames(by_name.resolved["description"])
    assert _values(again, GOOD[name]) == _values(frames(name), GOOD[name])


def _values(driver: Driver, wire: bytes) -> str:
    driver.start(0)
    return repr(driver.feed(wire, 1).readings.value.tolist())
