"""Modbus against servers that this project did not write: `pymodbus`, and `libmodbus` where there is one."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest

from benchtui.model.readings import Flag
from benchtui.model.units import Unit
from tests.port.cables import Session, meter, session

from .peers import libmodbus, serial_stations, tcp_stations

ONE = [
    {"name": "B+1", "station": 1, "number": 40001, "type": "uint16", "scale": 0.1, "unit": "V"},
    {"name": "bias", "station": 1, "number": 40002, "type": "int16", "unit": "V"},
    {"name": "count", "station": 1, "function": 3, "address": 2, "type": "int32", "unit": "Hz"},
    {"name": "B+2", "station": 1, "function": 3, "address": 4, "type": "float32", "unit": "V"},
    {"name": "heater", "station": 1, "number": 30101, "type": "uint16", "scale": 0.001, "unit": "Vac"},
    {"name": "anode", "station": 1, "number": 30102, "type": "uint16", "unit": "mA", "overload": [0x7FFF]},
]
"""All that station 1 has."""
COUNTER = {"name": "counter", "station": 2, "function": 4, "address": 0, "type": "uint16", "unit": "V"}
PEERS = [
    pytest.param(tcp_stations, id="pymodbus over TCP"),
    pytest.param(lambda: serial_stations("pymodbus-serial"), id="pymodbus on a pseudo-terminal"),
    pytest.param(
        lambda: serial_stations("libmodbus"),
        id="libmodbus on a pseudo-terminal",
        marks=pytest.mark.skipif(libmodbus() is None, reason="libmodbus5 is not installed"),
    ),
]
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals")
Peer = Callable[[], AbstractContextManager[str]]


def _latest(live: Session) -> dict[str, tuple[float, Unit, Flag]]:
    """The last reading of each channel."""
    r = live.readings
    names = [c.name.partition(":")[2] or c.name for c in live.hookup.channels]
    return {
        names[c]: (v, Unit(u), Flag(f))
        for c, v, u, f in zip(
            r.channel.tolist(), r.value.tolist(), r.unit.tolist(), r.flags.tolist(), strict=True
        )
    }


@pytest.mark.parametrize("peer", PEERS)
def test_every_type_of_register_is_read_as_the_peer_holds_it(peer: Peer) -> None:
    """Whole numbers and floats, with scale and unit, holding and input registers, over range."""
    with peer() as port, session(meter("A", port, "modbus", register=ONE, every=0.05)) as live:
        live.until(lambda: len(live.values) >= 12)
        latest = _latest(live)
        assert math.isnan(latest.pop("anode")[0])
        assert latest == {
            "B+1": (285.3, Unit.V, Flag(0)),
            "bias": (-25.0, Unit.V, Flag(0)),
            "count": (-70000.0, Unit.HZ, Flag(0)),
            "B+2": (285.3, Unit.V, Flag(0)),
            "heater": (6.3, Unit.VAC, Flag(0)),
        }
        assert live.troubles() == []


@pytest.mark.parametrize("peer", PEERS)
def test_a_register_that_the_peer_does_not_have(peer: Peer) -> None:
    """Its exception is told in words, and the others are read all the same."""
    absent = {"name": "absent", "station": 1, "function": 3, "address": 900, "type": "int16"}
    with peer() as port, session(meter("A", port, "modbus", register=[*ONE, absent], every=0.05)) as live:
        live.until(lambda: len(live.values) >= 12 and len(live.troubles("driver")) >= 1)
        assert [t.text for t in live.troubles()] == [
            "station 1 refuses 1 holding register from 900 (“absent”): illegal data address (exception 2)"
        ]
        assert set(_latest(live)) == {r["name"] for r in ONE}


@pytest.mark.parametrize("peer", PEERS[:2])
def test_two_stations_on_one_line(peer: Peer) -> None:
    """A channel each; the one that counts by itself is read in step, each number once."""
    with peer() as port, session(meter("A", port, "modbus", register=[ONE[0], COUNTER], every=0.02)) as live:
        live.until(lambda: len(live.values) >= 20)
        r = live.readings
        counted = r.value[r.channel == 1].tolist()
        assert counted == [float(n) for n in range(int(counted[0]), int(counted[0]) + len(counted))]
        assert set(r.value[r.channel == 0].tolist()) == {285.3}
        assert live.troubles() == []


@pytest.mark.parametrize("peer", PEERS[:2])
def test_a_station_that_is_not_there(peer: Peer) -> None:
    """It is told, once, and holds up the other only now and then."""
    nobody = {"name": "nobody", "station": 9, "function": 4, "address": 0, "type": "int16"}
    entry = {"register": [ONE[0], nobody], "every": 0.02, "answer_within": 0.1}
    with peer() as port, session(meter("A", port, "modbus", **entry)) as live:
        live.until(lambda: len(live.values) >= 30)
        told = "station 9 does not answer: check its address, the speed and parity, and the wires"
        assert [t.text for t in live.troubles()] == [told]
        assert set(live.values) == {285.3}
