"""Modbus RTU on the wire: requests, replies found by their length and CRC, exceptions.

Source: Modbus Application Protocol V1.1b3 (6.3, 6.4, 6.8, 7) and Modbus over Serial Line V1.02 (2.5.1); from
memory, and checked in the tests against two servers that this project did not write.

Why no library does this: the well-kept one keeps its framer inside, for its own transports. Importing it
loads asyncio, sockets and TLS, which no driver may; its framer takes a reply of any length, and drops all
that is held at the first wrong CRC. What is left to do is these few bytes.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from .checksum import MODBUS

MOST_REGISTERS = 125
"""Of one request (6.3, 6.4)."""
LONGEST = 256
"""Bytes of a frame on a serial line (2.5.1)."""
ECHO = 8
"""Diagnostics, sub-function 0, Return Query Data (6.8): comes back as it was sent, and changes nothing."""

EXCEPTIONS = {
    1: "illegal function",
    2: "illegal data address",
    3: "illegal data value",
    4: "server device failure",
    5: "acknowledge",
    6: "server device busy",
    8: "memory parity error",
    10: "gateway path unavailable",
    11: "gateway target device failed to respond",
}
"""By code (7)."""

_FUNCTION = re.compile(rb"[\x03\x04\x08\x83\x84\x88]")


@dataclass(frozen=True, slots=True)
class Request:
    """A question to one station."""

    station: int
    function: int
    """3 holding registers, 4 input registers, 8 echo."""
    address: int
    """Of the first register, from 0; of an echo: 0."""
    count: int
    """Registers; of an echo: the number that comes back."""

    @property
    def frame(self) -> bytes:
        """As it is sent."""
        body = bytes((self.station, self.function))
        return sealed(body + self.address.to_bytes(2, "big") + self.count.to_bytes(2, "big"))

    @property
    def reply_length(self) -> int:
        """Bytes of its answer."""
        return 8 if self.function == ECHO else 5 + 2 * self.count


@dataclass(frozen=True, slots=True)
class Reply:
    """An answer, and where it stands in what has come."""

    start: int
    end: int
    data: bytes = b""
    """The registers, two bytes each."""
    exception: int = 0
    """The code, if it is one; else 0."""


def sealed(body: bytes) -> bytes:
    """With its CRC, low byte first."""
    return body + MODBUS.of(body).to_bytes(2, "little")


def is_sealed(frame: bytes) -> bool:
    """Whether it ends in its own CRC."""
    return MODBUS.of(frame[:-2]).to_bytes(2, "little") == frame[-2:]


def reply_to(request: Request, heard: bytes, start: int = 0) -> Reply | None:
    """The answer to this question, wherever it begins from `start` on; None if it is not there yet."""
    head = bytes((request.station, request.function))
    head += request.frame[2:6] if request.function == ECHO else bytes((2 * request.count,))
    refusal = bytes((request.station, request.function | 0x80))
    for at in range(start, len(heard) - 4):
        if heard.startswith(head, at):
            end = at + request.reply_length
            if end <= len(heard) and is_sealed(heard[at:end]):
                return Reply(at, end, heard[at + 3 : end - 2])
        elif heard.startswith(refusal, at) and heard[at + 2] and is_sealed(heard[at : at + 5]):
            return Reply(at, at + 5, exception=heard[at + 2])
    return None


def answers_in(heard: bytes) -> list[tuple[int, int]]:
    """Where every whole answer in these bytes begins and ends, to whatever question."""
    found, free = [], 0
    for function in _FUNCTION.finditer(heard, 1):
        at = function.start() - 1
        end = at + _length_at(heard, at)
        if free <= at and at + 5 <= end <= len(heard) and is_sealed(heard[at:end]):
            found.append((at, end))
            free = end
    return found


def _length_at(heard: bytes, at: int) -> int:
    """How long an answer is that begins here."""
    function = heard[at + 1]
    if function in (3, 4):
        return 5 + heard[at + 2] if at + 2 < len(heard) else 0
    return 8 if function == ECHO else 5
