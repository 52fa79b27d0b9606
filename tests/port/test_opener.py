"""The one opener: every failure says what happened, where, and what to do."""

from __future__ import annotations

import contextlib
import errno
import os
import socket
import sys
import threading
import tty
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace

import pytest

from benchtui.model.errors import PortError
from benchtui.port.opener import Port, PortSettings, open_port
from benchtui.port.trouble import Lost, explain
from benchtui.port.usb import resolve

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals")


@pytest.fixture
def pty() -> Iterator[tuple[int, str]]:
    """The far end, and the near end's path."""
    far, near = os.openpty()
    tty.setraw(near)
    yield far, os.ttyname(near)
    os.close(near)
    with contextlib.suppress(OSError):
        os.close(far)


def _read(port: Port) -> bytes:
    got = b""
    for _ in range(200):
        if got := port.read(0.25):
            break
    return got


def _lost(use: Callable[[], object]) -> bool:
    """Whether this raises Lost sooner or later."""
    for _ in range(100):
        try:
            use()
        except Lost:
            return True
    return False


def test_a_port_is_read_and_written(pty: tuple[int, str]) -> None:
    """Bytes both ways; nothing comes: nothing is given."""
    far, path = pty
    port = open_port(PortSettings(path))
    assert port.read(0.0) == b""
    port.write(b"READ?\n")
    assert os.read(far, 100) == b"READ?\n"
    os.write(far, b"285.3\r\n")
    assert _read(port) == b"285.3\r\n"
    port.close()


def test_a_missing_port_is_said() -> None:
    """With what to look at."""
    with pytest.raises(PortError, match=r"/dev/nowhere: there is no such port; is the cable in"):
        open_port(PortSettings("/dev/nowhere"))


def test_a_port_in_use_is_its_own_error(pty: tuple[int, str]) -> None:
    """Two meters cannot be on one port: the second is refused, not mixed in."""
    _, path = pty
    first = open_port(PortSettings(path))
    with pytest.raises(PortError, match="in use, by another program or another meter"):
        open_port(PortSettings(path))
    first.close()
    open_port(PortSettings(path)).close()


def test_permission_names_the_group_and_the_command(pty: tuple[int, str]) -> None:
    """As the system reports it when the user is not in the device's group."""
    import grp

    _, path = pty
    group = grp.getgrgid(os.stat(path).st_gid).gr_name
    error = explain(PermissionError(errno.EACCES, "Permission denied"), path, path)
    assert f'belongs to the group "{group}"' in str(error)
    assert f"sudo usermod -aG {group} $USER" in str(error)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may open anything")
def test_a_port_without_permission(pty: tuple[int, str]) -> None:
    """A real refusal by the system."""
    _, path = pty
    os.chmod(path, 0)
    with pytest.raises(PortError, match="you may not open this port"):
        open_port(PortSettings(path))


def test_parity_on_a_pseudo_terminal_is_a_note_and_no_failure(pty: tuple[int, str]) -> None:
    """7E1 cannot be set there; a port that can is set so."""
    _, path = pty
    port = open_port(PortSettings(path, bits=7, parity="even"))
    assert port.notes == () or "opened as 8N1" in port.notes[0]
    port.close()


def test_power_pins_on_a_pseudo_terminal_are_a_note(pty: tuple[int, str]) -> None:
    """It has no DTR and no RTS; a port that has them is set before and after it is opened."""
    _, path = pty
    port = open_port(PortSettings(path, dtr=True, rts=False))
    assert port.notes == ("DTR cannot be set here", "RTS cannot be set here")
    port.close()


def test_an_impossible_setting_is_said(pty: tuple[int, str]) -> None:
    """Nine bits."""
    with pytest.raises(PortError, match="cannot be set so"):
        open_port(PortSettings(pty[1], bits=9))


def test_a_pulled_cable_is_lost(pty: tuple[int, str]) -> None:
    """Reading from a pseudo-terminal whose far end is gone raises Lost, whatever the system calls it."""
    far, path = pty
    port = open_port(PortSettings(path))
    os.close(far)
    assert _lost(lambda: port.read(0.1))
    assert _lost(lambda: port.write(b"x"))
    port.close()


def test_a_tcp_socket_is_a_port_like_any() -> None:
    """Through the serial library's own handler; a far end that hangs up is lost, a missing one is said."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        url = f"socket://127.0.0.1:{server.getsockname()[1]}"
        port = open_port(PortSettings(url))
        peer, _ = server.accept()
        peer.sendall(b"285.3 V\r\n" * 1000)
        got = b""
        while len(got) < 9000:
            got += _read(port)
        assert got == b"285.3 V\r\n" * 1000
        peer.close()
        assert _lost(lambda: port.read(0.1))
        port.close()
    with pytest.raises(PortError, match=r"no connection.*is the far end running"):
        open_port(PortSettings(url))


@contextlib.contextmanager
def _rfc2217_server() -> Iterator[str]:
    """The serial library's own RFC 2217 server in front of its loop; what is sent comes back."""
    import serial
    from serial.rfc2217 import PortManager

    ended = threading.Event()

    def serve(server: socket.socket) -> None:
        peer, _ = server.accept()
        peer.settimeout(0.02)
        loop = serial.serial_for_url("loop://", timeout=0)
        manager = PortManager(loop, SimpleNamespace(write=peer.sendall))
        while not ended.is_set():
            with contextlib.suppress(OSError):
                loop.write(b"".join(manager.filter(peer.recv(1024))))
            if back := loop.read(loop.in_waiting):
                peer.sendall(b"".join(manager.escape(back)))
        peer.close()

    with socket.create_server(("127.0.0.1", 0)) as server:
        thread = threading.Thread(target=serve, args=(server,), daemon=True)
        thread.start()
        yield f"rfc2217://127.0.0.1:{server.getsockname()[1]}"
        ended.set()
        thread.join(10)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_a_port_on_another_machine() -> None:
    """RFC 2217: settings that a pseudo-terminal refuses are negotiated, a byte to be escaped arrives.

    When the far end has gone, the port is lost.
    """
    with _rfc2217_server() as url:
        port = open_port(PortSettings(url, baud=2400, bits=7, parity="even"))
        port.write(b"285.3 V\xff\r\n" * 20)
        got = b""
        while len(got) < 200:
            got += _read(port)
        assert got == b"285.3 V\xff\r\n" * 20
    assert _lost(lambda: port.read(0.1))
    port.close()


@pytest.mark.parametrize(
    "error",
    [
        OSError(errno.EIO, "Input/output error"),
        TypeError("'NoneType' object cannot be interpreted as an integer"),
        OSError(6, "Device not configured"),
        PermissionError(13, "Access is denied"),
        ValueError("\x1b[2J"),
    ],
)
def test_every_face_of_unplugging_is_one(error: Exception) -> None:
    """What Linux, macOS and Windows raise, as found in the field; the text is plain."""
    assert "\x1b" not in str(Lost.by(error))
    assert str(Lost.by(error))


@dataclass
class Adapter:
    """As the serial library describes a port."""

    device: str
    vid: int | None = 0x0403
    pid: int | None = 0x6001
    serial_number: str | None = None
    location: str | None = None


THERE = [
    Adapter("/dev/ttyUSB0", serial_number="A1", location="1-1"),
    Adapter("/dev/ttyUSB1", serial_number="A2", location="1-2"),
    Adapter("/dev/ttyS0", vid=None, pid=None),
]


@pytest.mark.parametrize("name", ["usb:0403:6001:A2", "usb:403:6001@1-2", "USB:0403:6001:A2@1-2"])
def test_a_usb_name_is_looked_up_each_time(name: str) -> None:
    """By maker, product, serial number, place; the device's own number may change."""
    assert resolve(name.replace("USB", "usb"), lambda: THERE) == "/dev/ttyUSB1"


def test_two_adapters_that_fit_are_refused_and_listed() -> None:
    """A guess would put one meter's readings on another's points."""
    with pytest.raises(PortError, match=r"2 adapters fit: .*usb:0403:6001:A1@1-1.*usb:0403:6001:A2@1-2"):
        resolve("usb:0403:6001", lambda: THERE)


def test_a_usb_name_that_fits_nothing_or_is_misspelt() -> None:
    """Each its own error."""
    with pytest.raises(PortError, match="no such adapter"):
        resolve("usb:1234:5678", lambda: THERE)
    with pytest.raises(PortError, match="is written usb:VID:PID"):
        resolve("usb:0403", lambda: THERE)


def test_other_names_stand_as_they_are(tmp_path: Path) -> None:
    """Paths, COM ports and URLs."""
    for name in ("/dev/serial/by-id/x", "COM4", "socket://h:1", "rfc2217://h:1", str(tmp_path)):
        assert resolve(name, lambda: THERE) == name


@pytest.mark.parametrize(
    "name",
    [
        "spy:///dev/null?file={}",
        "SPY:///dev/null?file={}&all",
        "alt:///dev/null?class=PosixPollSerial",
        "hwgrep://tty&skip_busy",
        "loop://?logging=debug",
        "socket://127.0.0.1:1?logging=debug",
        "RFC2217://127.0.0.1:1?LOGGING=debug",
        "\x1b[2J://x",
        "://",
    ],
)
def test_a_url_that_could_do_more_than_open_is_refused(name: str, tmp_path: Path) -> None:
    """No file is made, nothing is opened, and the message says what can be written."""
    named = name.format(tmp_path / "made")
    with pytest.raises(PortError, match="is not taken") as refused:
        open_port(PortSettings(named))
    assert "\x1b" not in str(refused.value)
    assert not list(tmp_path.iterdir())
