"""The one opener of ports: a name from a bench file in, an open port or a clear error out.

Everything that knows the serial library stands here and in `usb.py`.
"""

from __future__ import annotations

import contextlib
import errno
import os
import select
import sys
import time
from dataclasses import dataclass
from typing import Any, Protocol

from benchtui.model.errors import PortError
from benchtui.model.notes import plain

from .trouble import Lost, explain
from .usb import resolve

OVER_NETWORK = ("socket", "rfc2217")
"""The URL handlers of the serial library that are taken: others write files or open ports unasked."""
_CHARGE_S = 0.5
_POLL_S = 0.01
_MOST = 65536
_PARITY = {"none": "N", "even": "E", "odd": "O", "mark": "M", "space": "S"}


@dataclass(frozen=True, slots=True)
class PortSettings:
    """What a port is opened with."""

    port: str
    """As the bench wrote it: a device, a by-id path, COM4, usb:VID:PID[:SERIAL][@LOCATION], or a URL of a
    handler in OVER_NETWORK."""
    baud: int = 9600
    bits: int = 8
    parity: str = "none"
    stop: float = 1
    dtr: bool | None = None
    rts: bool | None = None
    """None leaves the pin as opening sets it (raised)."""
    gather_s: float = 0.004
    """How long to wait after a first byte for those behind it: one call a burst, not one a byte."""


class Port(Protocol):
    """An open port. Used, and closed, by one thread only."""

    device: str
    """What the name was resolved to."""
    notes: tuple[str, ...]
    """What could not be set here, in plain words (a pseudo-terminal has no pins and no parity)."""

    def read(self, timeout_s: float) -> bytes:
        """What has come, as soon as anything has; empty after the timeout. Raises Lost."""
        ...

    def write(self, data: bytes) -> None:
        """Raises Lost."""
        ...

    def close(self) -> None:
        """Never raises."""
        ...


class Opener(Protocol):
    """What a link opens its port with; tests give their own."""

    def __call__(self, settings: PortSettings) -> Port:
        """Raises PortError: what happened, where, what to do."""
        ...


def refusal(port: str) -> str | None:
    """Why a port of this name is never opened, and what can be written; None for one that may be."""
    scheme, is_url, rest = port.partition("://")
    if not is_url:
        return None
    if scheme.lower() not in OVER_NETWORK:
        return (
            f"{plain(scheme, 20)}:// is not taken: write a device, socket://host:port or rfc2217://host:port"
        )
    if "logging" in rest.lower():
        return "the option `logging` is not taken: it would write over the screen; --wire keeps every byte"
    return None


def open_port(settings: PortSettings) -> Port:
    """Opens the port, alone (`exclusive`): a device, or over the network.

    Raises:
        PortError: missing, busy, not permitted, two devices fit, a name or settings that are refused.
    """
    if (why := refusal(settings.port)) is not None:
        raise PortError(f"{plain(settings.port)}: {why}")
    device = resolve(settings.port)
    notes: list[str] = []
    try:
        port = _opened(device, settings, notes)
    except PortError:
        raise
    except Exception as error:  # the library and the system raise five kinds here; one place tells them apart
        raise explain(error, settings.port, device) from error
    return _SerialPort(port, device, tuple(notes), settings.gather_s)


def _opened(device: str, settings: PortSettings, notes: list[str]) -> Any:
    import serial

    # A timeout of 0, never changed later: a change sends all settings again, also over a network.
    try:
        port = serial.serial_for_url(
            device, do_not_open=True, exclusive=True, timeout=0,
            write_timeout=None if device.startswith("rfc2217://") else 2.0,  # which knows none
            baudrate=settings.baud, bytesize=settings.bits,
            parity=_PARITY[settings.parity], stopbits=settings.stop,
        )  # fmt: skip
    except (ValueError, KeyError) as error:
        raise PortError(f"{settings.port}: this port cannot be set so: {plain(str(error), 200)}") from error
    pins = {"dtr": settings.dtr, "rts": settings.rts}
    given = {name: level for name, level in pins.items() if level is not None}
    for name, level in given.items():
        setattr(port, name, level)
    _open_gently(port, device, notes)
    for name, level in given.items():
        try:
            setattr(port, name, level)
        except OSError as error:
            if error.errno not in (errno.ENOTTY, errno.EINVAL):
                raise
            notes.append(f"{name.upper()} cannot be set here")
    if given and not notes:
        time.sleep(_CHARGE_S)  # an isolated adapter charges its supply from the pins
    if sys.platform == "win32":
        port.reset_input_buffer()  # POSIX drops what came before the opening; here it must be asked for
    return port


def _open_gently(port: Any, device: str, notes: list[str]) -> None:
    """Opens; where a pseudo-terminal refuses parity or 7 bits, opens it as 8N1 and says so."""
    try:
        port.open()
    except Exception as error:
        plain_8n1 = port.bytesize == 8 and port.parity == "N" and port.stopbits == 1
        if type(error).__name__ != "error" or plain_8n1 or not is_pty(device):
            raise
        notes.append(f"{port.bytesize}{port.parity}{port.stopbits:g} cannot be set here; opened as 8N1")
        port.bytesize, port.parity, port.stopbits = 8, "N", 1
        port.open()


def is_pty(device: str) -> bool:
    """Whether this device is a pseudo-terminal: it has no speed, no parity and no pins."""
    return os.path.realpath(device).startswith(("/dev/pts/", "/dev/ttys", "/dev/pty"))


class _SerialPort:
    """A port of the serial library, with its many ways of failing made one."""

    def __init__(self, port: Any, device: str, notes: tuple[str, ...], gather_s: float) -> None:
        self._port = port
        self._gather_s = gather_s
        self.device = device
        self.notes = notes
        self._fd = _selectable(port)

    def read(self, timeout_s: float) -> bytes:
        """What has come. After the first byte it waits a moment for those behind it."""
        try:
            if self._fd is None:
                return self._polled(timeout_s)
            if not select.select([self._fd], [], [], timeout_s)[0]:
                return b""
            time.sleep(self._gather_s)
            data = bytes(self._port.read(_MOST))
        except Exception as error:  # unplugging shows as five kinds of error, by system and moment
            raise Lost.by(error) from error
        if not data:  # it said that there was something: the far end has closed
            raise Lost("unplugged, or the far end closed it")
        return data

    def write(self, data: bytes) -> None:
        """All of it, or Lost."""
        try:
            self._port.write(data)
        except Exception as error:
            raise Lost.by(error) from error

    def close(self) -> None:
        """Closes it, whatever state it is in."""
        with contextlib.suppress(Exception):
            self._port.close()

    def _polled(self, timeout_s: float) -> bytes:
        """As `read`, for a port that cannot be waited for. Some handlers give one byte at a time.

        It always reads, for some handlers tell only there that the port is gone.
        """
        end = time.monotonic() + timeout_s
        while not (data := bytes(self._port.read(self._port.in_waiting or 1))):
            left = end - time.monotonic()
            if left <= 0:
                return b""
            time.sleep(min(left, _POLL_S))
        time.sleep(self._gather_s)
        while len(data) < _MOST and (waiting := self._port.in_waiting):
            data += self._port.read(waiting)
        return data


def _selectable(port: Any) -> int | None:
    """The file descriptor that tells when something has come; None where there is none."""
    try:
        return int(port.fileno())
    except Exception:  # each of the library's handlers has its own way of having none
        return None
