"""Described meters against far ends that this project did not write: as text lines, and as frames.

`scpipy` and `pyvisa-sim` answer a question with a line; `pymodbus` answers a request with a frame.
"""

from __future__ import annotations

import sys
from typing import Any

import pytest

from benchtui.model.units import Unit
from tests.peers import scpi_meter, scpi_meter_on_a_pty
from tests.port.cables import meter, session

from .modbus.peers import HOLDING, serial_stations, tcp_stations

REGISTER: dict[str, Any] = {
    "source": "from memory",
    "line": {"baud": 19200},
    "ask": {"send": [0x01, 0x03, 0, 0, 0, 1, 0x84, 0x0A], "every": "50 ms"},
    "frame": {"length": 7, "start": [0x01, 0x03, 0x02]},
    "check": {
        "kind": "crc", "over": "1-5", "at": "6-7", "order": "low first",
        "width": 16, "poly": 0x8005, "init": 0xFFFF, "refin": True, "refout": True,
    },
    "value": {"kind": "binary", "number": "4 5", "unit": "V"},
    "point": {"behind": 1},
}  # fmt: skip
"""The first holding register of station 1, as frames (Modbus Application Protocol V1.1b3, 6.3; memory)."""


def test_text_lines_that_are_asked_for_over_tcp() -> None:
    """Each answer is a reading; the one that is no number is told."""
    with (
        scpi_meter(["+2.850000E+02", "285.25", "no number", "-12"]) as port,
        session(meter("A", port, "lines", request="READ?", every=0.02, terminator="lf")) as live,
    ):
        live.until(lambda: len(live.values) >= 4)
        assert live.values[:4] == [285.0, 285.25, -12.0, -12.0]
        assert (live.readings.unit == Unit.V).all()
        live.until(lambda: bool(live.troubles("garbled")))
        assert "beginning “no number”" in live.troubles("garbled")[0].text


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals")
def test_text_lines_that_are_asked_for_on_a_pseudo_terminal() -> None:
    """Random values between two bounds."""
    with (
        scpi_meter_on_a_pty((280.0, 290.0)) as port,
        session(meter("A", port, "lines", request="READ?", every=0.02, terminator="lf")) as live,
    ):
        live.until(lambda: len(live.values) >= 10)
        assert all(280.0 <= v <= 290.0 for v in live.values)
        assert live.troubles() == []


def test_frames_with_a_crc_that_are_asked_for_over_tcp() -> None:
    """A station's answer is a frame like any: start, a binary number, a check."""
    with tcp_stations() as port, session(meter("A", port, "frames", description=REGISTER)) as live:
        live.until(lambda: len(live.values) >= 5)
        assert set(live.values) == {HOLDING[0] / 10}
        assert (live.readings.unit == Unit.V).all()
        assert live.troubles() == []


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals")
def test_frames_with_a_crc_that_are_asked_for_on_a_pseudo_terminal() -> None:
    """The same on a cable."""
    with (
        serial_stations("pymodbus-serial") as port,
        session(meter("A", port, "frames", description=REGISTER)) as live,
    ):
        live.until(lambda: len(live.values) >= 5)
        assert set(live.values) == {HOLDING[0] / 10}
