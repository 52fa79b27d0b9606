"""What is plugged in, and the name that means it again after a replug."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from benchtui.port.ports import known_ports, stable_name
from benchtui.port.usb import resolve


@dataclass(frozen=True)
class Listed:
    """A port as the serial library lists it."""

    device: str
    description: str = "n/a"
    vid: int | None = None
    pid: int | None = None
    serial_number: str | None = None
    location: str | None = None
    manufacturer: str | None = None
    product: str | None = None


ONE = Listed("/dev/ttyUSB0", "Adapter", 0x1209, 1, None, "1-1.2")
TWO = Listed("/dev/ttyUSB1", "Adapter", 0x1209, 1, None, "1-1.3")
OWN = Listed("/dev/ttyUSB2", "Better adapter", 0x1209, 2, "S77", "1-1.4")
BOARD = Listed("/dev/ttyS0")
PORTS = [TWO, ONE, OWN, BOARD]


def test_every_port_has_a_name_that_means_it_and_no_other(tmp_path: Path) -> None:
    """Without a serial number by the socket, with one by that; each resolves to its device again."""
    known = known_ports(lambda: PORTS, tmp_path)
    assert [(p.device, p.stable) for p in known] == [
        ("/dev/ttyS0", "/dev/ttyS0"),
        ("/dev/ttyUSB0", "usb:1209:0001@1-1.2"),
        ("/dev/ttyUSB1", "usb:1209:0001@1-1.3"),
        ("/dev/ttyUSB2", "usb:1209:0002:S77"),
    ]
    for port in known:
        assert resolve(port.stable, lambda: PORTS) == port.device


def test_the_by_id_path_is_taken_where_it_is_that_adapters_alone(tmp_path: Path) -> None:
    """Linux makes one a serial number; of two adapters without one both would have the same."""
    devices, by_id = tmp_path / "dev", tmp_path / "by-id"
    devices.mkdir()
    by_id.mkdir()
    (devices / "ttyUSB2").touch()
    (by_id / "usb-adapter_S77-if00-port0").symlink_to(devices / "ttyUSB2")
    own = Listed(str(devices / "ttyUSB2"), "Adapter", 0x1209, 2, "S77")
    (known,) = known_ports(lambda: [own], by_id)
    assert known.stable == str(by_id / "usb-adapter_S77-if00-port0")


def test_two_adapters_with_one_serial_number_go_by_their_sockets(tmp_path: Path) -> None:
    """Cheap ones all carry the same number: it tells nothing."""
    twins = [
        Listed("/dev/ttyUSB0", "x", 1, 2, "0001", "1-1"),
        Listed("/dev/ttyUSB1", "x", 1, 2, "0001", "1-2"),
    ]
    assert [p.stable for p in known_ports(lambda: twins, tmp_path)] == [
        "usb:0001:0002@1-1", "usb:0001:0002@1-2",
    ]  # fmt: skip


def test_what_a_device_calls_itself_reaches_no_terminal(tmp_path: Path) -> None:
    """Its texts are made plain."""
    (known,) = known_ports(lambda: [Listed("/dev/x", "\x1b[2Jbad", 1, 2, "\x07")], tmp_path)
    assert known.about.isprintable()


def test_a_port_by_any_other_name_is_written_as_it_was_named(tmp_path: Path) -> None:
    """A socket, a pseudo-terminal, a stable name: they stay."""
    known = known_ports(lambda: PORTS, tmp_path)
    assert stable_name("/dev/ttyUSB0", known) == "usb:1209:0001@1-1.2"
    assert stable_name("socket://127.0.0.1:5025", known) == "socket://127.0.0.1:5025"
