"""What registers hold, and frames on the wire, against a library that this project did not write."""

from __future__ import annotations

import itertools
import struct
from decimal import Decimal
from typing import Any

import pytest
from benchtui_drivers.modbus_frames import Request, answers_in, is_sealed, reply_to, sealed
from benchtui_drivers.modbus_plan import read_plan
from benchtui_drivers.modbus_registers import Register
from hypothesis import given
from hypothesis import strategies as st
from pymodbus.client.mixin import ModbusClientMixin
from pymodbus.framer.rtu import FramerRTU
from pymodbus.pdu import DecodePDU
from pymodbus.pdu.register_message import ReadHoldingRegistersRequest, ReadInputRegistersRequest

from benchtui.driver.contract import DriverOptions
from benchtui.model.readings import Flag
from benchtui.model.units import Unit

KINDS = ModbusClientMixin.DATATYPE
THEIRS = {"int16": KINDS.INT16, "uint16": KINDS.UINT16, "int32": KINDS.INT32, "uint32": KINDS.UINT32}


def _register(type_: str, order: str = "", **more: Any) -> Register:
    whole = {"2": "AB", "4": "ABCD"}["4" if type_.endswith("32") else "2"]
    return Register("", 1, 4, 0, type_, order or whole, **more)


@pytest.mark.parametrize("type_", THEIRS)
@given(data=st.data())
def test_whole_numbers_are_read_as_pymodbus_writes_them(type_: str, data: st.DataObject) -> None:
    """High word first, which is its default, and low word first."""
    bits = 32 if type_.endswith("32") else 16
    low, high = (0, (1 << bits) - 1) if type_.startswith("u") else (-(1 << bits - 1), (1 << bits - 1) - 1)
    number = data.draw(st.integers(low, high))
    for ours, theirs in (("ABCD", "big"), ("CDAB", "little")) if bits == 32 else (("AB", "big"),):
        words = ModbusClientMixin.convert_to_registers(number, THEIRS[type_], word_order=theirs)
        wire = b"".join(word.to_bytes(2, "big") for word in words)
        assert _register(type_, ours).read(wire).value == number


@given(st.floats(width=32, allow_nan=False, allow_infinity=False))
def test_a_float_is_the_shortest_decimal_that_it_means(number: float) -> None:
    """In all four orders of its bytes; the decimal is the same 32-bit float again."""
    wire = struct.pack(">f", number)
    for order, places in (
        ("ABCD", (0, 1, 2, 3)),
        ("CDAB", (2, 3, 0, 1)),
        ("BADC", (1, 0, 3, 2)),
        ("DCBA", (3, 2, 1, 0)),
    ):
        value = _register("float32", order).read(bytes(wire[n] for n in places)).value
        assert struct.pack(">f", value) == wire


@pytest.mark.parametrize(
    ("register", "wire", "value", "resolution"),
    [
        (_register("uint16", scale=Decimal("0.1")), "0B25", 285.3, 0.1),
        (_register("int16", scale=Decimal("0.001")), "FFE7", -0.025, 0.001),
        (_register("uint16", "BA"), "250B", 2853.0, 1.0),
        (_register("float32"), "438EA666", 285.3, 3.0517578e-05),
        (_register("float32", resolution=0.1), "438EA666", 285.3, 0.1),
        (_register("uint32", scale=Decimal("0.0001")), "0000D431", 5.4321, 0.0001),
        (_register("int16", scale=Decimal(-1)), "0005", -5.0, 1.0),
    ],
)
def test_a_decimal_scale_stays_decimal(
    register: Register, wire: str, value: float, resolution: float
) -> None:
    """2853 tenths are 285.3, not 285.30000000000001."""
    read = register.read(bytes.fromhex(wire))
    assert (read.value, read.resolution, read.flags) == (value, pytest.approx(resolution, rel=1e-12), 0)


@pytest.mark.parametrize(
    ("register", "wire", "flag"),
    [
        (_register("uint16", overload=frozenset([0x7FFF, 0xFFFF])), "7FFF", Flag.OVERLOAD),
        (_register("int16", overload=frozenset([0x8000])), "8000", Flag.OVERLOAD),
        (_register("int32", "CDAB", overload=frozenset([0x80000000])), "00008000", Flag.OVERLOAD),
        (_register("float32"), "7FC00000", Flag.INVALID),
        (_register("float32"), "7F800000", Flag.OVERLOAD),
        (_register("float32"), "FF800000", Flag.OVERLOAD),
    ],
)
def test_no_value_is_a_flag(register: Register, wire: str, flag: Flag) -> None:
    """Never a number, whatever stands there."""
    read = register.read(bytes.fromhex(wire))
    assert (read.value != read.value, read.flags) == (True, flag)


@given(st.integers(1, 247), st.sampled_from([3, 4]), st.integers(0, 65410), st.integers(1, 125))
def test_questions_are_as_pymodbus_sends_them(station: int, function: int, address: int, count: int) -> None:
    """Byte for byte."""
    kind = ReadHoldingRegistersRequest if function == 3 else ReadInputRegistersRequest
    theirs = FramerRTU(DecodePDU(True)).buildFrame(kind(address=address, count=count, dev_id=station))
    assert Request(station, function, address, count).frame == theirs


@pytest.mark.parametrize(
    ("frame", "check"),
    [("02 07", "41 12"), ("11 03 00 6B 00 03", "76 87"), ("01 03 00 00 00 01", "84 0A")],
)
def test_the_frames_of_the_specification(frame: str, check: str) -> None:
    """Source: Modbus over Serial Line V1.02, appendix B (from memory)."""
    assert sealed(bytes.fromhex(frame)) == bytes.fromhex(frame + check)


@given(st.binary(max_size=20), st.binary(max_size=20), st.integers(0, 65535))
def test_an_answer_is_found_between_other_bytes(before: bytes, after: bytes, number: int) -> None:
    """By its length and CRC; one bit turned over, and it is none."""
    request = Request(17, 4, 8, 1)
    answer = sealed(b"\x11\x04\x02" + number.to_bytes(2, "big"))
    reply = reply_to(request, before + answer + after)
    assert reply is not None
    assert reply.data == number.to_bytes(2, "big")
    damaged = bytearray(answer)
    damaged[number % 7] ^= 1 << number % 8
    assert reply_to(request, bytes(damaged)) is None


@given(st.lists(st.binary(min_size=2, max_size=250), max_size=4), st.binary(max_size=30))
def test_answers_are_found_whatever_comes(bodies: list[bytes], rest: bytes) -> None:
    """Never an exception, never one that does not end in its CRC, never two that overlap."""
    heard = b"".join(sealed(b"\x01\x04" + bytes([len(b) & 0xFE]) + b[: len(b) & 0xFE]) for b in bodies) + rest
    found = answers_in(heard)
    assert all(is_sealed(heard[a:b]) for a, b in found)
    assert all(a >= b for (_, b), (a, _) in itertools.pairwise(found))
    assert len(found) >= len(bodies)


@pytest.mark.parametrize(
    ("number", "function", "address"),
    [(30001, 4, 0), (40001, 3, 0), (40108, 3, 107), (39999, 4, 9998), (300001, 4, 0), (465536, 3, 65535)],
)
def test_registers_by_the_numbers_of_a_list(number: int, function: int, address: int) -> None:
    """3xxxx are input registers, 4xxxx holding registers, counted from 1. Common practice, no source."""
    options = {"register": [{"number": number, "type": "int16"}]}
    (register,) = read_plan(DriverOptions("A", Unit.V, options)).registers
    assert (register.function, register.address, register.unit) == (function, address, Unit.V)
