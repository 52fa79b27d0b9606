"""The far end of a simulated meter's cable: a pseudo-terminal, or a local socket where there are none."""

from __future__ import annotations

import contextlib
import os
import socket
import sys
from typing import Protocol


class Wire(Protocol):
    """One cable, seen from the meter. Never blocks; what nobody reads is lost, as on a real line."""

    port: str
    """What the bench file writes as its port."""

    def read(self) -> bytes:
        """What the computer has sent since the last call."""
        ...

    def write(self, data: bytes) -> None:
        """Sends to whoever listens."""
        ...

    def close(self) -> None: ...


def open_wire(transport: str | None = None) -> Wire:
    """A new cable.

    Args:
        transport: pty or socket; None: a pseudo-terminal, or a socket on a system that gives none.
    """
    if transport not in (None, "pty", "socket"):
        raise ValueError(f"a wire is a pty or a socket, not {transport!r}")
    if transport == "socket" or sys.platform == "win32":
        return SocketWire()
    try:
        return PtyWire()
    except OSError:
        if transport == "pty":
            raise
        return SocketWire()


if sys.platform != "win32":
    import tty

    class PtyWire:
        """A pseudo-terminal. Its near end stays open here, so that a computer that leaves does not end it."""

        def __init__(self) -> None:
            self._far, self._near = os.openpty()
            tty.setraw(self._near)
            os.set_blocking(self._far, False)
            self.port = os.ttyname(self._near)

        def read(self) -> bytes:
            try:
                return os.read(self._far, 4096)
            except OSError:
                return b""

        def write(self, data: bytes) -> None:
            with contextlib.suppress(OSError):
                os.write(self._far, data)

        def close(self) -> None:
            for end in (self._far, self._near):
                with contextlib.suppress(OSError):
                    os.close(end)


class SocketWire:
    """A TCP server on this machine alone; the last computer to connect is the one that is heard."""

    def __init__(self) -> None:
        self._server = socket.create_server(("127.0.0.1", 0))
        self._server.setblocking(False)
        self._peer: socket.socket | None = None
        self.port = f"socket://127.0.0.1:{self._server.getsockname()[1]}"

    def read(self) -> bytes:
        self._welcome()
        if self._peer is None:
            return b""
        try:
            data = self._peer.recv(4096)
        except BlockingIOError:
            return b""
        except OSError:
            data = b""
        if not data:
            self._hang_up()
        return data

    def write(self, data: bytes) -> None:
        self._welcome()
        if self._peer is not None:
            try:
                self._peer.send(data)
            except BlockingIOError:
                return
            except OSError:
                self._hang_up()

    def close(self) -> None:
        self._hang_up()
        self._server.close()

    def _welcome(self) -> None:
        try:
            peer, _ = self._server.accept()
        except OSError:
            return
        self._hang_up()
        peer.setblocking(False)
        peer.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._peer = peer

    def _hang_up(self) -> None:
        if self._peer is not None:
            self._peer.close()
            self._peer = None
