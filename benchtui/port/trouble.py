"""What can go wrong with a port, told so that a person knows what to do."""

from __future__ import annotations

import errno
import os
import sys
from typing import Any

from benchtui.model.errors import PortError
from benchtui.model.notes import plain


class Lost(Exception):
    """The port is gone: unplugged, switched off, or the far end closed it. The text is the reason."""

    @staticmethod
    def by(error: BaseException) -> Lost:
        """From whatever the system or the serial library raised."""
        if isinstance(error, Lost):
            return error
        text = str(error)
        if "timeout" in text.lower() and "write" in text.lower():
            return Lost("the port takes no more bytes")
        if "disconnected" in text or _number(error) in (
            errno.EIO, errno.ENXIO, errno.ENODEV, errno.EBADF, errno.EPIPE, errno.ECONNRESET,
        ):  # fmt: skip
            return Lost("unplugged, or the far end closed it")
        return Lost(f"the port failed: {plain(text, 160) or type(error).__name__}")


def explain(error: BaseException, written: str, device: str) -> PortError:
    """The error of an opening, with the port as the bench wrote it, and what to do."""
    where = written if written == device else f"{written} ({device})"
    number = _number(error)
    text = str(error)
    if number == errno.ENOENT or "FileNotFoundError" in text:
        return PortError(f"{where}: there is no such port; is the cable in, the adapter recognised?")
    if number == errno.EACCES or (sys.platform != "win32" and isinstance(error, PermissionError)):
        return PortError(f"{where}: {_permission(device)}")
    if number in (errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK) or "PermissionError" in text:
        return PortError(
            f"{where}: the port is in use, by another program or another meter of this bench; close that. "
            "In the first 15 s after plugging in the system itself may hold it: it is tried again"
        )
    if number in (errno.ENXIO, errno.ENODEV, errno.EIO):
        return PortError(f"{where}: the device does not answer; unplug it and plug it in again")
    if "://" in device:
        return PortError(
            f"{where}: no connection: {plain(text, 160)}; is the far end running, the address right?"
        )
    if type(error).__name__ == "error":
        return PortError(
            f"{where}: this port refuses these settings (bits, parity, stop): {plain(text, 120)}"
        )
    return PortError(f"{where}: could not be opened: {type(error).__name__}: {plain(text, 160)}")


def _number(error: BaseException) -> int | None:
    number: Any = getattr(error, "errno", None)
    if number is None and error.args and isinstance(error.args[0], int):
        number = error.args[0]
    return number if isinstance(number, int) else None


def _permission(device: str) -> str:
    """Which group may open the device, and how to join it."""
    group = _group(device)
    if group is None:
        return "you may not open this port; ask for the right to use it"
    return (
        f'you may not open this port; it belongs to the group "{group}": run '
        f"`sudo usermod -aG {group} $USER`, log out and in again"
    )


def _group(device: str) -> str | None:
    try:
        import grp

        return grp.getgrgid(os.stat(device).st_gid).gr_name
    except (ImportError, OSError, KeyError):
        return None
