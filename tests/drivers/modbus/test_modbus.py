"""Modbus lines with every habit that real ones have: no answer is ever taken for another question's."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from benchtui_drivers.modbus_frames import sealed
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.driver.catalogue import open_driver
from benchtui.driver.contract import Driver, DriverOptions, LineDefaults
from benchtui.driver.kit import Peer, check_asking
from benchtui.model.errors import DriverError
from benchtui.model.units import Unit

from .line import Line, talk


def _register(name: str, address: int, station: int = 1, **more: Any) -> dict[str, Any]:
    return {"name": name, "station": station, "function": 4, "address": address, "type": "uint16", **more}


TWO = [_register("a", 0), _register("b", 10)]
"""Two questions to one station whose answers look alike."""
FOUR = [*TWO, _register("c", 0, 2), _register("d", 10, 2)]


def _modbus(register: object = TWO, measures: Unit = Unit.V, **options: Any) -> Driver:
    return open_driver("modbus", DriverOptions("A", measures, {"register": register, **options}))


@pytest.mark.parametrize("returns_sent", [False, True])
def test_the_contract_holds(returns_sent: bool) -> None:
    """Cuts, garbage in the middle of a talk, bounded memory, no exception, no clock, no I/O."""

    def peer() -> Peer:
        line = Line(returns_sent=returns_sent)
        return lambda sent: b"".join(answer for _, answer in line.hears(sent, 0))

    check_asking(lambda: _modbus(FOUR), peer, seconds=20, cuts=10)


def test_the_line_is_as_the_standard_has_it() -> None:
    """19200 baud, even parity: Modbus over Serial Line V1.02, 2.4.3 and 2.5.1 (from memory)."""
    assert _modbus().line == LineDefaults(19200, 8, "even", 1)


def test_a_healthy_line_is_read_once_a_second() -> None:
    """All stations and registers, a channel each."""
    line = Line()
    got = talk(_modbus(FOUR), line, 10)
    assert all(r.value == r.asked for r in got.readings)
    assert [len([r for r in got.readings if r.channel == c]) for c in range(4)] == [10, 10, 10, 10]
    assert (got.troubles, got.skipped) == ([], 0)


def test_a_question_is_silent_long_enough_after_an_answer() -> None:
    """20 ms, or as the bench entry says: 3.5 characters are 1.75 ms at 19200 baud and 32 ms at 1200."""
    for pause, wait in (({}, 0.02), ({"pause": "40 ms"}, 0.04)):
        line = Line()
        talk(_modbus(FOUR, **pause), line, 1)
        times = [t for t, _ in line.questions]
        assert all(b - a >= 0.02 + wait - 1e-9 for a, b in itertools.pairwise(times))


def test_neighbours_come_in_one_answer() -> None:
    """Registers side by side are asked for together; those that are not, or of other stations, are not."""
    tables = [
        _register("a", 0), _register("b", 1, type="float32"), _register("c", 3), _register("d", 5),
        _register("e", 4, function=3), _register("f", 4, 2),
    ]  # fmt: skip
    line = Line()
    talk(_modbus(tables), line, 0.9)
    spans = [
        (q[0], q[1], int.from_bytes(q[2:4], "big"), int.from_bytes(q[4:6], "big")) for _, q in line.questions
    ]
    assert spans[:4] == [(1, 3, 4, 1), (1, 4, 0, 4), (1, 4, 5, 1), (2, 4, 4, 1)]
    assert spans[4:] == spans[:1]
    line = Line()
    talk(_modbus(tables, join=False), line, 0.9)
    assert len(line.questions) == 6 + 1


def test_more_than_125_registers_are_never_asked_for_at_once() -> None:
    """Modbus Application Protocol V1.1b3, 6.3 and 6.4 (from memory)."""
    line = Line()
    talk(_modbus([_register(f"r{n}", n) for n in range(180)]), line, 0.9)
    assert [int.from_bytes(q[4:6], "big") for _, q in line.questions] == [125, 55, 125]


@pytest.mark.parametrize("late_s", [1.1, 1.3, 2.0, 3.5, 4.9])
@pytest.mark.parametrize("knows_echo", ["yes", "no", "deaf"])
def test_a_late_answer_is_thrown_away_and_shifts_nothing(late_s: float, knows_echo: str) -> None:
    """One answer in seven comes after its question was given up, and looks like that to the next question."""
    line = Line(lambda station, n: late_s if n % 7 == 3 else 0.05, knows_echo=knows_echo)
    got = talk(_modbus(FOUR), line, 200)
    assert [r for r in got.readings if r.value // 1000 != r.asked // 1000] == []
    assert len(got.readings) > 100
    assert got.skipped > 0


@settings(max_examples=60)
@given(st.lists(st.one_of(st.none(), st.floats(0.001, 8.0), st.floats(0.001, 0.3)), min_size=1, max_size=30))
def test_no_answer_is_ever_taken_for_another_questions(times: list[float | None]) -> None:
    """Whatever each takes, or if it never comes: of a station that answers in order and returns a number."""
    line = Line(lambda station, n: times[n % len(times)], keeps_echo=True)
    got = talk(_modbus(FOUR), line, 90)
    assert [r for r in got.readings if r.value != r.asked] == []


def test_a_station_that_is_behind_is_not_taken_for_one_that_returns_no_number() -> None:
    """While old answers still come, a number that has not come back says nothing."""
    times = [None, 6.0, 7.0, 0.5, None, 4.0]
    got = talk(_modbus(FOUR), Line(lambda station, n: times[n % 6], keeps_echo=True), 90)
    assert [r for r in got.readings if r.value != r.asked] == []


def test_a_lost_answer_costs_one_gap() -> None:
    """The other registers are read on, the station returns a number, and then its answers count again."""
    line = Line(lambda station, n: None if n == 9 else 0.02)
    got = talk(_modbus(FOUR), line, 20)
    assert all(r.value == r.asked for r in got.readings)
    assert [q[1] for _, q in line.questions].count(8) == 1
    assert len(got.readings) >= 4 * 18 - 2
    assert got.troubles == []


def test_a_station_need_not_be_asked_to_return_a_number() -> None:
    """Where the bench entry says so, function 8 is never sent."""
    line = Line(lambda station, n: None if n % 5 == 0 else 0.02)
    talk(_modbus(FOUR, echo=False), line, 60)
    assert {q[1] for _, q in line.questions} == {4}


def test_a_silent_station_is_told_once_and_asked_seldom() -> None:
    """The others are read on; when it answers again, it is read like them."""
    awake = [False]
    line = Line(lambda station, n: 0.02 if station == 1 or awake[0] else None)
    driver = _modbus(FOUR)
    got = talk(driver, line, 60)
    told = "station 2 does not answer: check its address, the speed and parity, and the wires"
    assert [t.text for t in got.troubles] == [told]
    asked = [t for t, q in line.questions if q[0] == 2]
    assert len(asked) < 12
    assert len([r for r in got.readings if r.channel == 0]) > 45
    awake[0] = True
    again = talk(driver, line, 30)
    assert len([r for r in again.readings if r.channel == 2]) > 15


def test_an_exception_is_told_in_words_once_a_minute() -> None:
    """It is an answer: the others are read all the same."""
    line = Line(absent=frozenset([10]))
    got = talk(_modbus(TWO), line, 59)
    assert [t.text for t in got.troubles] == [
        "station 1 refuses 1 input register from 10 (“b”): illegal data address (exception 2)"
    ]
    assert len([r for r in got.readings if r.channel == 0]) > 55


def test_a_wrong_crc_is_no_reading_and_is_told() -> None:
    """Damaged on the way: junk."""
    answer = bytearray(sealed(b"\x01\x04\x02\x01\x02"))
    answer[3] ^= 1
    driver = _modbus([_register("a", 0)])
    driver.start(0)
    wake = driver.wake_ns
    assert wake is not None
    driver.tick(wake)
    assert len(driver.feed(bytes(answer), wake + 1).readings) == 0
    troubles = []
    for _ in range(10):
        at = driver.wake_ns
        assert at is not None
        troubles += driver.tick(at).troubles
    assert ("garbled", 7) in [(t.kind, t.count) for t in troubles]


def test_noise_before_an_answer_costs_nothing() -> None:
    """A spike at the turn of the line is common practice, no source: it is counted, the answer is read."""
    driver = _modbus([_register("a", 0)])
    driver.start(0)
    wake = driver.wake_ns
    assert wake is not None
    driver.tick(wake)
    out = driver.feed(b"\x00\xff" + sealed(b"\x01\x04\x02\x01\x02"), wake + 1)
    assert out.readings.value.tolist() == [258.0]


@pytest.mark.parametrize(
    "strange",
    [
        b"\x02\x04\x02\x01\x02",
        b"\x01\x03\x02\x01\x02",
        b"\x01\x04\x04\x01\x02\x03\x04",
        b"\x01\x06\x00\x00\x01\x02",
    ],
)
def test_station_function_and_length_must_be_as_asked(strange: bytes) -> None:
    """An answer that is whole, but another's."""
    driver = _modbus([_register("a", 0)])
    driver.start(0)
    wake = driver.wake_ns
    assert wake is not None
    driver.tick(wake)
    assert len(driver.feed(sealed(strange), wake + 1).readings) == 0


def test_a_line_that_returns_what_is_sent() -> None:
    """Adapters with two wires do: it is no answer, also where the answer would be the same."""
    line = Line(lambda station, n: None if n % 9 == 4 else 0.02, returns_sent=True)
    got = talk(_modbus(FOUR), line, 60)
    assert all(r.value == r.asked for r in got.readings)
    assert len(got.readings) > 100
    assert got.troubles == []


def test_every_mistake_in_a_bench_entry_is_told_at_once() -> None:
    """Register by register, with what to write instead."""
    with pytest.raises(DriverError) as failed:
        _modbus(
            [
                {"name": "a", "function": 4, "type": "int16", "adress": 1},
                {"name": "a", "number": 50001, "type": "int64"},
                {"name": "c", "number": 30001, "address": 2, "type": "int32", "order": "AB", "scale": 0},
                {"name": "d", "number": 40001, "type": "int16", "unit": "volts", "overload": ["x"],
                 "station": 300},
            ],
            every="x",
            evry=1,
        )  # fmt: skip
    told = str(failed.value)
    for part in (
        "[[register]] 1 address: is needed", "did you mean address?",
        "[[register]] 2 type: is needed, one of: int16",
        "[[register]] 2 number: must be like 30001", "[[register]] 3 address: is told by number already",
        "[[register]] 3 order: “AB” is none of: ABCD, CDAB, BADC, DCBA",
        "[[register]] 3 scale: write a number",
        "[[register]] 4 unit: “volts” is no unit", "[[register]] 4 overload:", "[[register]] 4 station: 300",
        "two are called “a”", "every: write a time", "did you mean every?",
    ):  # fmt: skip
        assert part in told
    assert all(line.startswith("meter A: ") for line in told.splitlines())


@pytest.mark.parametrize("wrong", [None, 7, "x", [], [7], [None], {"a": 1}, [{}]])
def test_registers_that_are_none(wrong: object) -> None:
    """One clear error, whatever stands there."""
    with pytest.raises(DriverError) as failed:
        _modbus(wrong)
    assert "is broken" not in str(failed.value)
