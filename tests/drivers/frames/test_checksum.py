"""Checksums against published check values, and the same over many frames at once."""

from __future__ import annotations

import numpy as np
import pytest
from benchtui_drivers.checksum import MODBUS, Check, Crc
from hypothesis import given
from hypothesis import strategies as st

from .wires import frames as frames_with
from .wires import heard

CATALOGUE = {
    "CRC-5/USB": (Crc(5, 0x05, 0x1F, True, True, 0x1F), 0x19),
    "CRC-7/MMC": (Crc(7, 0x09), 0x75),
    "CRC-8/SMBUS": (Crc(8, 0x07), 0xF4),
    "CRC-8/MAXIM-DOW": (Crc(8, 0x31, 0, True, True), 0xA1),
    "CRC-8/ROHC": (Crc(8, 0x07, 0xFF, True, True), 0xD0),
    "CRC-10/ATM": (Crc(10, 0x233), 0x199),
    "CRC-12/UMTS": (Crc(12, 0x80F, 0, False, True), 0xDAF),
    "CRC-16/ARC": (Crc(16, 0x8005, 0, True, True), 0xBB3D),
    "CRC-16/MODBUS": (MODBUS, 0x4B37),
    "CRC-16/IBM-3740": (Crc(16, 0x1021, 0xFFFF), 0x29B1),
    "CRC-16/XMODEM": (Crc(16, 0x1021), 0x31C3),
    "CRC-16/KERMIT": (Crc(16, 0x1021, 0, True, True), 0x2189),
    "CRC-16/IBM-SDLC": (Crc(16, 0x1021, 0xFFFF, True, True, 0xFFFF), 0x906E),
    "CRC-16/DNP": (Crc(16, 0x3D65, 0, True, True, 0xFFFF), 0xEA82),
    "CRC-24/OPENPGP": (Crc(24, 0x864CFB, 0xB704CE), 0x21CF02),
    "CRC-32/ISO-HDLC": (Crc(32, 0x04C11DB7, 0xFFFFFFFF, True, True, 0xFFFFFFFF), 0xCBF43926),
    "CRC-32/ISCSI": (Crc(32, 0x1EDC6F41, 0xFFFFFFFF, True, True, 0xFFFFFFFF), 0xE3069283),
    "CRC-64/ECMA-182": (Crc(64, 0x42F0E1EBA9EA3693), 0x6C40DF5F0B497347),
}
"""Name -> parameters, and the check of the nine characters 123456789. Source: CRC catalogue; `crccheck` 1.3
agrees on all that it has of these."""


@pytest.mark.parametrize("name", CATALOGUE)
def test_the_check_values_of_the_catalogue(name: str) -> None:
    """The check of 123456789, alone and in a row of frames."""
    crc, check = CATALOGUE[name]
    assert crc.of(b"123456789") == check
    rows = np.frombuffer(b"123456789000000000123456789", np.uint8).reshape(3, 9)
    assert crc.of_rows(rows).tolist() == [check, crc.of(b"000000000"), check]


@pytest.mark.parametrize(
    ("frame", "check"),
    [("02 07", "41 12"), ("11 03 00 6B 00 03", "76 87"), ("01 03 00 00 00 01", "84 0A")],
)
def test_the_frames_of_the_modbus_specification(frame: str, check: str) -> None:
    """Sent with the low byte first. Source: Modbus over Serial Line V1.02, appendix B (from memory)."""
    assert MODBUS.of(bytes.fromhex(frame)).to_bytes(2, "little") == bytes.fromhex(check)


@given(st.sampled_from(sorted(CATALOGUE)), st.lists(st.binary(min_size=6, max_size=6), min_size=1))
def test_many_frames_at_once_are_as_one_by_one(name: str, frames: list[bytes]) -> None:
    """Row by row the same number."""
    crc, _ = CATALOGUE[name]
    rows = np.frombuffer(b"".join(frames), np.uint8).reshape(-1, 6)
    assert crc.of_rows(rows).tolist() == [crc.of(frame) for frame in frames]


@pytest.mark.parametrize(
    ("check", "made"),
    [
        (Check("xor", (0, 4), (4, 5)), "F4"),
        (Check("xor", (0, 4), (4, 5), start=0xFF), "0B"),
        (Check("sum", (0, 4), (4, 5)), "0A"),
        (Check("sum", (0, 4), (4, 5), complement="ones"), "F5"),
        (Check("sum", (0, 4), (4, 5), complement="twos"), "F6"),
        (Check("sum", (0, 4), (4, 6)), "01 0A"),
        (Check("sum", (0, 4), (4, 6), low_first=True), "0A 01"),
    ],
)  # fmt: skip
def test_where_a_check_stands_and_how_it_is_made(check: Check, made: str) -> None:
    """01 02 FF 08: the sum is 010A, the exclusive-or F4."""
    _holds_for_this_alone(check, bytes.fromhex("01 02 FF 08" + made))


def test_a_crc_in_its_place() -> None:
    """A request of the Modbus specification (appendix B, from memory), between two other bytes."""
    check = Check("crc", (1, 7), (7, 9), low_first=True, crc=MODBUS)
    frame = bytes.fromhex("AA 11 03 00 6B 00 03 76 87 AA")
    assert check.holds(np.frombuffer(frame, np.uint8).reshape(1, -1)).tolist() == [True]
    _holds_for_this_alone(Check("crc", (0, 6), (6, 8), low_first=True, crc=MODBUS), frame[1:9])


def _holds_for_this_alone(check: Check, frame: bytes) -> None:
    """One bit turned over anywhere, and it does not hold."""
    broken = [bytearray(frame) for _ in range(8 * len(frame))]
    for n, damaged in enumerate(broken):
        damaged[n // 8] ^= 1 << n % 8
    rows = np.frombuffer(frame + b"".join(broken), np.uint8).reshape(-1, len(frame))
    assert check.holds(rows).tolist() == [True] + [False] * len(broken)


def test_a_described_crc_keeps_damaged_frames_out() -> None:
    """By the parameters of the catalogue, low byte first; the number is binary, its low byte first too."""
    description = {
        "line": {"baud": 9600},
        "frame": {"length": 6, "start": [0x55]},
        "check": {
            "kind": "crc", "over": "1-4", "at": "5-6", "order": "low first",
            "width": 16, "poly": 0x8005, "init": 0xFFFF, "refin": True, "refout": True,
        },
        "value": {"kind": "binary", "number": "3 2", "signed": True, "unit": "mV"},
        "flags": {"4.0": "hold"},
    }  # fmt: skip

    def frame(number: int, flags: int = 0) -> bytes:
        body = b"\x55" + number.to_bytes(2, "little", signed=True) + bytes([flags])
        return body + MODBUS.of(body).to_bytes(2, "little")

    damaged = bytearray(frame(4))
    damaged[2] ^= 0x10
    wire = frame(1) + frame(-2) + frame(3, 1) + bytes(damaged) + frame(5) + frame(-32768)
    assert heard(frames_with(description), wire) == [-0.002, 0.003, -32.768]
