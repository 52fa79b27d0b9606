"""What the meters say over the wire is understood by the drivers, digit for digit."""

from __future__ import annotations

import math

import pytest

from benchtui.driver.catalogue import open_driver
from benchtui.driver.contract import DriverOptions
from benchtui.model.readings import Flag
from benchtui.model.units import Unit
from benchtui.sim.asked import Scpi, nr3
from benchtui.sim.speech import SPEECH, Shown, plain_number, state, unit_first, value_with_unit

SHOWN = [
    Shown(285.3, 1, 0, Unit.V), Shown(-0.2, 1, 0, Unit.V), Shown(9.4321, 4, 0, Unit.V),
    Shown(0.0, 3, 0, Unit.V), Shown(1000.0, 0, 0, Unit.V), Shown(math.nan, 1, int(Flag.OVERLOAD), Unit.V),
]  # fmt: skip


@pytest.mark.parametrize("name", ["value_with_unit", "unit_first", "plain_number"])
@pytest.mark.parametrize("ac", [False, True])
def test_lines_are_read_back_as_they_were_shown(name: str, ac: bool) -> None:
    """Value, resolution, unit and overload of every line come back, once the first line is past."""
    unit = Unit.VAC if ac else Unit.V
    shown = [Shown(abs(s.value) if ac else s.value, s.decimals, s.flags, unit) for s in SHOWN]
    driver = open_driver("lines", DriverOptions("m", unit))
    driver.start(0)
    out = driver.feed(b"junk\r\n" + b"".join(SPEECH[name](s) for s in shown), 1)
    assert not out.troubles
    read = out.readings
    assert read.unit.tolist() == [int(unit)] * len(shown)
    assert read.flags.tolist() == [s.flags for s in shown]
    assert read.value.tolist() == pytest.approx([s.value for s in shown], abs=0, nan_ok=True)
    assert read.resolution[:-1].tolist() == [10.0**-s.decimals for s in shown[:-1]]


def test_the_lines_are_as_they_are_described() -> None:
    """Byte for byte."""
    volts, over = SHOWN[0], SHOWN[-1]
    assert value_with_unit(volts) == b"+285.3 V DC\r\n"
    assert value_with_unit(over) == b" OL   V DC\r\n"
    assert unit_first(Shown(6.31, 2, 0, Unit.VAC)) == b"AC    6.31 V\n"
    assert plain_number(volts) == b"285.3\r\n"
    assert plain_number(over) == b"OL\r\n"
    assert state(Shown(1.0, 0, 0, Unit.STATE)) == b"1\n"


def test_a_light_sensor_s_lines_are_states() -> None:
    """1 and 0 a line, read with `measures = "state"`, are lit and out."""
    driver = open_driver("lines", DriverOptions("m", Unit.STATE))
    driver.start(0)
    out = driver.feed(b"0\n1\n0\n1\n", 1)
    assert out.readings.value.tolist() == [1.0, 0.0, 1.0]
    assert set(out.readings.unit.tolist()) == {int(Unit.STATE)}


def test_numbers_are_nr3_with_all_digits_of_the_display() -> None:
    """NR3: mantissa with a point, E, exponent (IEEE 488.2, memory); 9.9E37 over range (SCPI-99 7.2.1)."""
    assert nr3(SHOWN[0]) == "+2.853E+02"
    assert nr3(Shown(-0.0042, 4, 0, Unit.V)) == "-4.2E-03"
    assert float(nr3(SHOWN[-1])) == 9.9e37
    assert float(nr3(Shown(0.0, 4, 0, Unit.V))) == 0.0


def test_a_question_is_answered_by_the_next_conversion() -> None:
    """READ? waits; nothing is said unasked; each question gets one answer."""
    meter = Scpi("meter D")
    assert meter.converted(SHOWN[0]) == b""
    assert meter.hear(b"READ?\n") == b""
    assert meter.converted(SHOWN[0]) == b"+2.853E+02\n"
    assert meter.converted(SHOWN[0]) == b""
    assert meter.hear(b"FETC?\n") == b"+2.853E+02\n"


def test_a_question_cut_anywhere_is_the_same_question() -> None:
    """Bytes may come one by one and lines may end in CR LF."""
    meter = Scpi("meter D")
    said = b"".join(meter.hear(bytes([b])) for b in b"SYSTem:ERRor?\r\n")
    assert said == b'0,"No error"\n'


def test_the_error_queue_holds_ten_and_empties_in_order() -> None:
    """-113 for what is unknown, -350 when it is full, 0 when it is empty (SCPI-99 vol. 2, SYSTem:ERRor)."""
    meter = Scpi("meter D")
    meter.hear(b"NONSENSE\n" * 12)
    answers = [meter.hear(b"SYST:ERR?\n") for _ in range(11)]
    assert answers[:9] == [b'-113,"Undefined header"\n'] * 9
    assert answers[9:] == [b'-350,"Queue overflow"\n', b'0,"No error"\n']
    meter.hear(b"NONSENSE\n*CLS\n")
    assert meter.hear(b"SYST:ERR?\n") == b'0,"No error"\n'


def test_long_and_short_forms_and_compounds_mean_the_same() -> None:
    """CONFigure:VOLTage:AC, conf:volt:ac and a chain with semicolons all set the function."""
    for said in (b"CONFIGURE:VOLTAGE:AC\n", b"conf:volt:ac\n", b":CONF:VOLT:AC;*OPC?\n", b"FUNC 'VOLT:AC'\n"):
        meter = Scpi("meter D")
        meter.hear(said)
        assert meter.unit is Unit.VAC
        assert meter.hear(b"CONF?\n") == b'"VOLT:AC"\n'


def test_it_says_who_it_is() -> None:
    """*IDN? has four fields (IEEE 488.2 10.14, memory) and names no maker."""
    answer = Scpi("meter D").hear(b"*IDN?\n").decode()
    assert answer.count(",") == 3
    assert "SALTMARSH" in answer


def test_garbage_is_an_error_and_no_crash() -> None:
    """Any bytes at all, in any length, leave it able to answer."""
    meter = Scpi("meter D")
    meter.hear(bytes(range(256)) * 50 + b"\n")
    assert meter.hear(b"*CLS\n*OPC?\n").endswith(b"1\n")
