"""What is plugged in: the ports that the system knows, each with a name to write into a bench file."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from benchtui.model.notes import plain

from .usb import full_name, system_ports

_BY_ID = Path("/dev/serial/by-id")


@dataclass(frozen=True, slots=True)
class KnownPort:
    """One serial port of this machine."""

    device: str
    stable: str
    """What to write into the bench file: it means this port again after a replug, as far as can be."""
    outlives: str
    """What the stable name outlives, for a person."""
    about: str
    """What the system knows of it; made plain."""


def known_ports(
    ports: Callable[[], Iterable[Any]] = system_ports, by_id: Path = _BY_ID
) -> tuple[KnownPort, ...]:
    """Every port, by device. Opens none."""
    found = sorted(ports(), key=lambda p: str(p.device))
    links = _links(by_id)
    return tuple(_known(port, found, links) for port in found)


def _known(port: Any, ports: Sequence[Any], links: dict[str, str]) -> KnownPort:
    device = str(port.device)
    said = [
        str(text) for text in (port.description, port.manufacturer, port.product) if text and text != "n/a"
    ]
    if port.vid is not None and port.pid is not None:
        said.append(f"USB {port.vid:04X}:{port.pid:04X}")
    if port.serial_number:
        said.append(f"serial number {port.serial_number}")
    about = plain("; ".join(dict.fromkeys(said)), 200) or "nothing is known of it"
    stable, outlives = _stable(port, ports, links)
    return KnownPort(device, stable, outlives, about)


def _stable(port: Any, ports: Sequence[Any], links: dict[str, str]) -> tuple[str, str]:
    """A name by serial number where there is one that is its own, else by the socket, else the device."""
    device = str(port.device)
    if port.vid is None or port.pid is None:
        return device, "nothing is known that would outlive a change of names"
    alike = [p for p in ports if (p.vid, p.pid, p.serial_number) == (port.vid, port.pid, port.serial_number)]
    if port.serial_number and len(alike) == 1:
        link = links.get(os.path.realpath(device))
        name = f"usb:{port.vid:04X}:{port.pid:04X}:{port.serial_number}"
        return link or name, "follows the adapter to any socket"
    if port.location:
        # Two adapters without a serial number share a name by id: whichever came last would have it.
        name = f"usb:{port.vid:04X}:{port.pid:04X}@{port.location}"
        return name, "stays with the socket it is plugged into"
    return full_name(port), "means it as long as no other adapter of this kind is plugged in"


def _links(by_id: Path) -> dict[str, str]:
    """Real device -> its by-id path."""
    try:
        return {os.path.realpath(path): str(path) for path in sorted(by_id.iterdir())}
    except OSError:
        return {}


def stable_name(named: str, ports: Sequence[KnownPort]) -> str:
    """What to write into a bench file for a port that was named so: the name itself, if none is better."""
    return next((p.stable for p in ports if p.device == named), named)
