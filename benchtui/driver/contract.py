"""The contract between a link and a driver: bytes and instants in, readings and trouble out.

A driver knows one wire format. It does no I/O, has no clock and never raises on what a wire can bring.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

from benchtui.model.notes import Trouble
from benchtui.model.readings import Readings
from benchtui.model.units import Unit


@dataclass(frozen=True, slots=True)
class LineDefaults:
    """How a wire format's serial line is usually set; a bench file can say otherwise."""

    baud: int = 9600
    bits: int = 8
    parity: str = "none"
    stop: float = 1
    dtr: bool | None = None
    rts: bool | None = None
    """The level of a pin that powers the meter's adapter; None leaves it as opening sets it (raised)."""


@dataclass(frozen=True, slots=True)
class Out:
    """What a driver answers with."""

    readings: Readings = field(default_factory=Readings.empty)
    """`channel` counts in the driver's own `channels`; `t_ns` is the `at_ns` of the call that completed the
    reading."""
    troubles: tuple[Trouble, ...] = ()
    """`meter` is left empty: the link fills it in."""
    send: bytes = b""
    """To be written to the port now."""
    identity: str = ""
    """What the meter calls itself, where this call learnt it; empty otherwise."""
    skipped: int = 0
    """Bytes thrown away because the wire was joined in the middle of a frame: counted, shown, no trouble."""


@dataclass(frozen=True, slots=True)
class DriverOptions:
    """What a driver is opened with."""

    meter: str
    measures: Unit = Unit.UNKNOWN
    options: Mapping[str, Any] = field(default_factory=dict)
    """The keys of the bench entry that are the driver's own; an unknown or wrong one is a DriverError."""


class Driver(Protocol):
    """One wire format, for one port. Calls come from one thread, with `at_ns` never falling.

    Any cut of the same bytes gives the same values, units, flags and troubles in the same order; only `t_ns`
    follows the call that completed a reading. Buffers are bounded whatever comes.

    Two more attributes are asked for, and may be missing: `units`, the `Unit` that each channel is known
    to be of before anything has come (`Unit.UNKNOWN` where the wire tells; without it, what the bench
    entry `measures`), and `resolved`, the options as a session keeps them, with a description in place of
    its name.
    """

    channels: tuple[str, ...]
    """The channels that it streams, in order; ("",) for a meter with one."""
    line: LineDefaults

    def start(self, at_ns: int) -> Out:
        """The port has just been opened (again): forget half a frame, say what to send first."""
        ...

    def feed(self, data: bytes, at_ns: int) -> Out:
        """Bytes that were read at this instant. Never raises on any bytes."""
        ...

    def tick(self, at_ns: int) -> Out:
        """Nothing has come until this instant. A tick before `wake_ns` changes nothing."""
        ...

    @property
    def wake_ns(self) -> int | None:
        """When the driver wants a tick; None if it only listens."""
        ...


class OpenDriver(Protocol):
    """What an entry point of the group `benchtui.drivers` names."""

    def __call__(self, options: DriverOptions) -> Driver:
        """A fresh driver.

        Raises:
            DriverError: an option is unknown or wrong; the text says which and what to write.
        """
        ...
