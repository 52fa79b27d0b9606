"""SCPI meters, with every habit that real ones have: no reading ever answers another question."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.driver.catalogue import open_driver
from benchtui.driver.contract import Driver, DriverOptions
from benchtui.driver.kit import check_asking
from benchtui.model.errors import DriverError
from benchtui.model.readings import Flag
from benchtui.model.units import Unit

from .conversation import SECOND, Meter, talk


def _scpi(measures: Unit = Unit.V, **options: Any) -> Driver:
    return open_driver("scpi", DriverOptions("A", measures, options))


def test_the_contract_holds() -> None:
    """Cuts, garbage in the middle of a talk, bounded memory, no exception, no clock, no I/O."""

    def peer() -> Any:
        meter = Meter()
        return lambda sent: b"".join(answer for _, answer in meter.hears(sent, 0))

    check_asking(_scpi, peer, seconds=20, cuts=10)


def test_a_meter_is_identified_configured_checked_and_read() -> None:
    """In this order, each once; then a reading every half second."""
    got = talk(_scpi(), Meter(), 5)
    assert [text for _, text in got.sent][:6] == [
        "*IDN?", "SYST:ERR?", "CONF:VOLT:DC", "SYST:ERR?", "READ?", "FUNC?",
    ]  # fmt: skip
    assert got.identity == "SALTMARSH, METER, 1"
    assert len(got.readings) >= 8
    assert (got.shifted, got.troubles) == ([], [])


@pytest.mark.parametrize(
    ("measures", "command"),
    [(Unit.V, "CONF:VOLT:DC"), (Unit.VAC, "CONF:VOLT:AC"), (Unit.A, "CONF:CURR:DC"), (Unit.OHM, "CONF:RES")],
)
def test_the_function_follows_from_what_is_measured(measures: Unit, command: str) -> None:
    """Source: SCPI-99 volume 3, CONFigure and the names of functions (from memory)."""
    got = talk(_scpi(measures), Meter(), 3)
    assert command in [text for _, text in got.sent]
    assert {r.unit for r in got.readings} == {measures}


def test_a_measure_question_configures_by_itself() -> None:
    """MEASure? needs no CONFigure."""
    meter = Meter()
    talk(_scpi(request="MEAS:VOLT:DC?"), meter, 3)
    assert not any(line.startswith("CONF") for line in meter.heard)
    assert "MEAS:VOLT:DC?" in meter.heard


def test_a_refused_function_leaves_readings_without_a_unit() -> None:
    """What such a meter measures is not known, so its readings are not called ohms."""
    deaf = frozenset(["FUNC?"])
    got = talk(_scpi(Unit.OHM), Meter(refuses=frozenset(["CONF:RES"]), deaf=deaf), 10)
    assert {r.unit for r in got.readings} == {Unit.UNKNOWN}
    assert [t.kind for t in got.troubles] == ["driver", "driver"]
    assert "-113: Undefined header" in got.troubles[0].text


def test_a_refused_function_is_named_where_the_meter_says_what_it_measures() -> None:
    """It goes on measuring volts, and says so: its readings are volts, not ohms."""
    got = talk(_scpi(Unit.OHM), Meter(refuses=frozenset(["CONF:RES"])), 5)
    assert {r.unit for r in got.readings} == {Unit.V}


FUNCTION_UNITS = {"VOLT:DC": Unit.V, "VOLT:AC": Unit.VAC, "RES": Unit.OHM, "CURR:AC": Unit.AAC}
SHOWN = {"VOLT:DC": 285.0, "VOLT:AC": 0.02, "RES": 1200.0, "CURR:AC": 0.5, "DIOD": 0.6}


class Knob(Meter):
    """A meter whose value tells what it is set to."""

    def _answer(self, line: str) -> tuple[float, bytes]:
        took, answer = super()._answer(line)
        return took, b"%.4f\r\n" % SHOWN[self.function] if line == "READ?" else answer


@pytest.mark.parametrize("other", ["VOLT:AC", "RES", "CURR:AC"])
@pytest.mark.parametrize("question", ["FUNC?", "CONF?"])
def test_a_knob_turned_in_the_middle_changes_the_unit_with_the_first_reading(
    other: str, question: str
) -> None:
    """Volts to ohms, DC to AC: no reading of the other function is ever called DC volts, and none is lost."""

    class Asked(Knob):
        def _answer(self, line: str) -> tuple[float, bytes]:
            if line == "CONF?" and question == "CONF?":
                return 0.02, b'"%s +1.000E+01,+3.0E-06"\n' % self.function.encode()
            if line == "FUNC?" and question == "CONF?":
                return 0.0, b""
            return super()._answer(line)

    for turned_at in (10.0, 10.2, 10.45, 11.9):
        meter = Asked(turned={turned_at: other, 30.0: "VOLT:DC"})
        got = talk(_scpi(), meter, 50)
        by_value = {round(r.value, 4): set[int]() for r in got.readings}
        for r in got.readings:
            by_value[round(r.value, 4)].add(r.unit)
        assert by_value == {285.0: {Unit.V}, SHOWN[other]: {FUNCTION_UNITS[other]}}
        times = [r.t_s for r in got.readings if r.t_s > 9]
        assert max(b - a for a, b in itertools.pairwise(times)) < 1.5
        assert got.troubles == []


def test_a_function_that_has_no_place_here_gives_no_values() -> None:
    """The volts of a diode test are no voltage of the set: readings without a value, and the reason, once."""
    got = talk(_scpi(), Knob(turned={10.0: "DIOD"}), 30)
    late = [r for r in got.readings if r.t_s > 10.6]
    assert late
    assert all(r.flags == Flag.INVALID and r.value != r.value for r in late)
    assert [t.text for t in got.troubles] == ["the meter is set to DIOD: its readings are of no use here"]


def test_a_function_whose_values_look_alike_is_found_out_by_the_next_question() -> None:
    """It is asked every 5 s, or as often as the bench entry says."""
    for every, most in (("5 s", 6), ("1 s", 2)):
        meter = Meter(says=lambda n: b"285.0\n", turned={20.0: "VOLT:AC"})
        got = talk(_scpi(function_every=every), meter, 60)
        wrong = [r for r in got.readings if r.t_s > 20.0 and r.unit == Unit.V]
        assert not wrong or wrong[-1].t_s < 20 + most
        assert got.readings[-1].unit == Unit.VAC


def test_the_question_for_the_function_is_rare() -> None:
    """On a steady value one question in ten; on one that jumps with every reading one a reading."""
    steady, jumping = Meter(says=lambda n: b"285.0\n"), Meter(says=lambda n: b"%d\n" % (n % 2 * 100))
    for meter, low, high in ((steady, 8, 15), (jumping, 60, 140)):
        talk(_scpi(), meter, 60)
        assert low <= meter.heard.count("FUNC?") <= high
        assert meter.reads > 60


def test_a_scanner_that_is_asked_channel_by_channel() -> None:
    """Each channel has a question, a unit and a point of its own; no answer goes to another channel."""

    class Scanner(Meter):
        def _answer(self, line: str) -> tuple[float, bytes]:
            said = {"MEAS:VOLT:DC? (@101)": b"285.0\n", "MEAS:RES? (@102)": b"1200\n"}.get(line)
            took = 0.1 if self.heard.count(line) % 7 else 4.0  # one in seven is late
            return (took, said) if said is not None else super()._answer(line)

    channels = [
        {"name": "B+1", "measures": "V", "request": "MEAS:VOLT:DC? (@101)"},
        {"name": "R12", "measures": "ohm", "request": "MEAS:RES? (@102)"},
    ]
    driver = _scpi(channels=channels)
    assert driver.channels == ("B+1", "R12")
    meter = Scanner()
    got = talk(driver, meter, 120)
    seen = {(r.value, r.unit) for r in got.readings}
    assert seen == {(285.0, Unit.V), (1200.0, Unit.OHM)}
    assert not any(line.startswith("CONF") or line == "FUNC?" for line in meter.heard)
    assert min(meter.heard.count(c["request"]) for c in channels) > 20


def test_one_answer_with_several_functions() -> None:
    """Volts and amperes in one answer: each value has the unit that its channel names."""
    driver = _scpi(channels=[{"name": "B+1"}, "", {"name": "current", "measures": "A"}])
    got = talk(driver, Meter(says=lambda n: b"285.0,7,0.042\n"), 3)
    assert {(r.value, r.unit) for r in got.readings} == {(285.0, Unit.V), (0.042, Unit.A)}


def test_errors_from_before_do_not_count_as_a_refusal() -> None:
    """The queue is emptied before the function is set; what was in it is told."""
    got = talk(_scpi(), Meter(errors=['-222,"Data out of range"', '-350,"Queue overflow"']), 3)
    assert [t.text for t in got.troubles] == [
        "the meter reports error -222: Data out of range",
        "the meter reports error -350: Queue overflow",
    ]
    assert {r.unit for r in got.readings} == {Unit.V}


@pytest.mark.parametrize("in_order", [True, False])
@pytest.mark.parametrize("late_s", [3.05, 3.3, 4.0, 5.0, 5.9])
def test_a_late_answer_is_thrown_away_and_shifts_nothing(late_s: float, in_order: bool) -> None:
    """One answer in seven comes after its question was given up: a gap, never another question's answer."""
    got = talk(_scpi(), Meter(takes_s=lambda n: late_s if n % 7 == 3 else 0.1, in_order=in_order), 120)
    assert got.shifted == []
    assert len(got.readings) > 30


@pytest.mark.parametrize("takes_s", [2.9, 3.5, 8.0, 20.0])
def test_a_slow_meter_is_waited_for_after_its_first_late_answer(takes_s: float) -> None:
    """It is not asked faster than it can answer for ever: its readings come, and in step."""
    got = talk(_scpi(), Meter(takes_s=lambda n: takes_s), 40 * takes_s)
    assert got.shifted == []
    assert len(got.readings) > 15


def test_a_meter_whose_every_answer_is_later_than_it_is_asked() -> None:
    """Asked every half second with a patience of 1 s, it takes 4 s."""
    for in_order in (True, False):
        got = talk(_scpi(answer_within="1 s"), Meter(takes_s=lambda n: 4.0, in_order=in_order), 120)
        assert got.shifted == []
        assert len(got.readings) > 15


@settings(max_examples=200, derandomize=True, deadline=None)
@given(
    st.lists(st.one_of(st.none(), st.floats(0.01, 12.0), st.floats(0.01, 0.3)), min_size=1, max_size=30),
    st.sampled_from(
        [
            frozenset[str](),
            frozenset(["SYST:ERR?"]),
            frozenset(["*IDN?"]),
            frozenset(["FUNC?"]),
            frozenset(["FUNC?", "SYST:ERR?"]),
            frozenset(["*IDN?", "SYST:ERR?"]),
        ]
    ),
)
def test_no_answer_is_ever_taken_for_the_next_ones(times: list[float | None], deaf: frozenset[str]) -> None:
    """Whatever each answer takes, or if it never comes: a reading always answers the last question.

    It holds for every meter that answers in order and knows its error queue, its identity or its function.
    """
    meter = Meter(takes_s=lambda n: times[n % len(times)], deaf=deaf)
    assert talk(_scpi(answer_within="1 s"), meter, 90).shifted == []


def test_a_meter_that_is_late_and_then_tells_its_function_first_of_all() -> None:
    """Before it has answered anything but readings, one that is ten times too late is no reading."""
    times = [None, 10.0, 6.0, 6.0]
    meter = Meter(takes_s=lambda n: times[n % 4], deaf=frozenset({"*IDN?", "SYST:ERR?"}))
    got = talk(_scpi(answer_within="1 s"), meter, 400)
    assert got.shifted == []
    assert got.readings


def test_a_meter_that_answers_nothing_else_is_given_five_times_its_time() -> None:
    """Without any other question there is only patience: up to five times too late shifts nothing."""
    deaf = frozenset(["*IDN?", "SYST:ERR?"])
    for late_s in (1.2, 2.5, 4.8):
        meter = Meter(takes_s=lambda n, late_s=late_s: late_s if n % 5 == 2 else 0.1, deaf=deaf)
        got = talk(_scpi(answer_within="1 s"), meter, 120)
        assert got.shifted == []
        assert len(got.readings) > 30


def test_a_lost_answer_costs_one_gap() -> None:
    """A question that was never answered is asked again."""
    got = talk(_scpi(), Meter(takes_s=lambda n: None if n == 5 else 0.1), 30)
    assert got.shifted == []
    times = [r.t_s for r in got.readings]
    assert max(b - a for a, b in itertools.pairwise(times)) < 8
    assert len(times) > 30


def test_an_unasked_line_is_no_reading_and_shifts_nothing() -> None:
    """A line between two questions is thrown away, and the error queue is asked before the next reading."""
    got = talk(_scpi(), Meter(), 20, unasked=[(5.2, b"999\r\n"), (5.25, b"998\r\n")])
    assert got.shifted == []
    after = [text for t, text in got.sent if t > 5.2]
    assert after[0] == "SYST:ERR?"


def test_an_unasked_line_in_place_of_an_answer_shifts_nothing_for_long() -> None:
    """One false reading at most: the real answer, then unasked itself, gives it away."""
    got = talk(_scpi(), Meter(takes_s=lambda n: 0.3), 60, unasked=[(5.55, b"999\r\n")])
    assert len(got.shifted) <= 1


def test_an_echoing_meter_is_read_as_any() -> None:
    """The echo of each command and question is recognised and dropped."""
    got = talk(_scpi(), Meter(echoes=True), 10)
    assert (got.shifted, got.troubles, got.identity) == ([], [], "SALTMARSH, METER, 1")
    assert len(got.readings) >= 15


def test_a_meter_without_identity_and_error_queue_is_read_as_well() -> None:
    """It is asked in vain a few times and then left in peace."""
    meter = Meter(deaf=frozenset(["*IDN?", "SYST:ERR?"]))
    got = talk(_scpi(), meter, 120)
    assert got.shifted == []
    assert len(got.readings) > 150
    assert meter.heard.count("SYST:ERR?") < 10


def test_a_meter_that_was_switched_off_is_set_up_again() -> None:
    """It wakes in whatever function it likes: no reading is taken before it has been configured again."""
    meter = Meter(asleep=lambda t_s: 10 < t_s < 61)
    got = talk(_scpi(), meter, 120)
    again = max(i for i, line in enumerate(meter.heard) if line == "CONF:VOLT:DC")
    woke = next(t for t, text in got.sent if text == "CONF:VOLT:DC" and t > 61)
    assert again > 10
    assert all(r.t_s < 11 or r.t_s > woke for r in got.readings)
    assert len([r for r in got.readings if r.t_s > woke]) > 50
    assert got.shifted == []


def test_a_meter_that_is_switched_on_late() -> None:
    """Nobody is there for 20 s; then it is found, set up and read."""
    got = talk(_scpi(), Meter(asleep=lambda t_s: t_s < 20), 60)
    assert got.identity
    assert min(r.t_s for r in got.readings) > 20
    assert got.shifted == []


def test_special_numbers_are_flags_and_never_values() -> None:
    """9.9E37 is over range, 9.91E37 not a number. Source: SCPI-99 volume 1, 7.2.1."""
    got = talk(_scpi(), Meter(says=lambda n: [b"9.9E37\n", b"-9.9E37\n", b"9.91E37\n"][n % 3]), 5)
    assert {r.flags for r in got.readings} == {Flag.OVERLOAD, Flag.INVALID}
    assert all(r.value != r.value for r in got.readings)


def test_several_values_go_to_their_channels() -> None:
    """A scanner's answer; the value without a name is left out."""
    driver = _scpi(channels=["anode", "", "screen"])
    assert driver.channels == ("anode", "screen")
    got = talk(driver, Meter(says=lambda n: b"250.0,7,80.5\r\n"), 3)
    assert [r.value for r in got.readings][:4] == [250.0, 80.5, 250.0, 80.5]


def test_another_number_of_values_is_no_reading_and_is_told_once() -> None:
    """Three values for one channel: which is meant is not guessed."""
    got = talk(_scpi(), Meter(says=lambda n: b"1,2,3\r\n"), 20)
    assert got.readings == []
    told = [t.text for t in got.troubles if t.kind == "driver"]
    assert told == ["its answers hold 3 values, the bench entry names 1: name them in `channels`"]


def test_a_damaged_answer_is_a_gap_and_not_a_value() -> None:
    """`2x5.0` is nothing; the next answer is its own question's."""
    got = talk(_scpi(), Meter(says=lambda n: b"2x5.0\n" if n == 4 else b"%d\n" % n), 20)
    assert got.shifted == []
    assert [t.count for t in got.troubles if t.kind == "garbled"] == [5]


def test_answers_that_come_together_are_not_taken_for_the_next_questions() -> None:
    """Two lines in one read: the second is older than the next question, which a later tick sends."""
    driver = _scpi(every=0, identify=False, errors=False, configure=False, function=False)
    driver.start(0)
    assert driver.tick(SECOND).send == b"READ?\n"
    out = driver.feed(b"1\r\n2\r\n", 2 * SECOND)
    assert (out.readings.value.tolist(), out.send) == ([1.0], b"")


def test_every_mistake_in_a_bench_entry_is_told_at_once() -> None:
    """Key by key, with what to write instead."""
    with pytest.raises(DriverError) as failed:
        _scpi(request="READ", evry=1, channels=["a", "a"], terminator="tab", configure=3, at_start=["A\nB"])
    told = str(failed.value)
    for part in (
        "request: must be a question",
        "did you mean every?",
        "twice",
        "“tab” is none of",
        "configure: ",
        "at_start: ",
    ):
        assert part in told
