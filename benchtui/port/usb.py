"""Names of ports that outlive a replug: `usb:VID:PID[:SERIAL][@LOCATION]`, looked up at every opening."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

from benchtui.model.errors import PortError
from benchtui.model.notes import plain

_NAME = re.compile(
    r"usb:(?P<vid>[0-9A-Fa-f]{1,4}):(?P<pid>[0-9A-Fa-f]{1,4})(?::(?P<serial>[^@]+))?(?:@(?P<location>.+))?"
)


def system_ports() -> Iterable[Any]:
    """The serial ports that the system knows, as the serial library describes them."""
    from serial.tools import list_ports

    found: Iterable[Any] = list_ports.comports()
    return found


def resolve(port: str, ports: Callable[[], Iterable[Any]] = system_ports) -> str:
    """The device or URL that this name means now.

    Raises:
        PortError: a `usb:` name that is misspelt, that nothing fits, or that two devices fit.
    """
    if not port.lower().startswith("usb:"):
        return port
    name = _NAME.fullmatch(port)
    if name is None:
        raise PortError(
            f"{plain(port)}: a USB port is written usb:VID:PID, usb:VID:PID:SERIAL or usb:VID:PID@LOCATION, "
            "VID and PID as hexadecimal numbers"
        )
    fitting = [p for p in ports() if _fits(p, name)]
    if not fitting:
        raise PortError(f"{port}: no such adapter is plugged in")
    if len(fitting) > 1:
        there = "; ".join(f"{p.device} ({full_name(p)})" for p in fitting)
        raise PortError(f"{port}: {len(fitting)} adapters fit: {plain(there)}; write the full name of one")
    device: str = fitting[0].device
    return device


def _fits(port: Any, name: re.Match[str]) -> bool:
    return (
        port.vid == int(name["vid"], 16)
        and port.pid == int(name["pid"], 16)
        and (name["serial"] is None or port.serial_number == name["serial"])
        and (name["location"] is None or port.location == name["location"])
    )


def full_name(port: Any) -> str:
    """The longest `usb:` name of a port of the system: with its serial number and the socket it is in."""
    serial = f":{port.serial_number}" if port.serial_number else ""
    location = f"@{port.location}" if port.location else ""
    return f"usb:{port.vid:04X}:{port.pid:04X}{serial}{location}"
