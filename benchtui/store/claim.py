"""The claim of one writer on a session file: held by the system, gone when the process is gone."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from benchtui.model.errors import SessionError


class Claim:
    """A locked file `NAME.writing` beside the session; the lock dies with the process, however it ends."""

    def __init__(self, session: Path) -> None:
        """Takes the claim.

        Raises:
            SessionError: another process (or this one) is writing the session, or the folder is read-only.
        """
        session = session.resolve()
        self._path = session.with_name(session.name + ".writing")
        while True:
            try:
                self._handle = os.open(self._path, os.O_RDWR | os.O_CREAT, 0o644)
            except OSError as error:
                raise SessionError(f"cannot write in {session.parent}: {error.strerror}") from error
            if not _lock(self._handle):
                os.close(self._handle)
                raise SessionError(f"{session} is being written by another BenchTUI: close that one first")
            if self._still_there():
                return
            os.close(self._handle)

    def _still_there(self) -> bool:
        """False if the holder before us removed the file between our opening and our locking it."""
        try:
            return os.path.samestat(os.fstat(self._handle), os.stat(self._path))
        except FileNotFoundError:
            return False

    def release(self) -> None:
        """Gives the claim back; the file is removed. Calling it twice does nothing."""
        if self._handle < 0:
            return
        if os.name == "nt":
            os.close(self._handle)
            with contextlib.suppress(OSError):
                self._path.unlink()
        else:
            with contextlib.suppress(OSError):
                self._path.unlink()
            os.close(self._handle)
        self._handle = -1


if os.name == "nt":
    import msvcrt

    def _lock(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
        except OSError:
            return False
        return True

else:
    import fcntl

    def _lock(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True
