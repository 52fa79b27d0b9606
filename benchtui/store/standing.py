"""Whether a file that is being written still stands where it was begun, with all that was written to it."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from .sqlite_file import log_of

GONE, REPLACED, CUT = "removed or moved", "replaced by another file", "cut short"


class Standing:
    """What the one writer knows of its file and of the log beside it.

    SQLite holds a file by its number, and goes on writing to one that no name leads to any more.
    """

    def __init__(self, path: Path) -> None:
        """A file that was just opened for writing, by us alone."""
        self._files = (path, log_of(path))
        self._known = {file: _number(file) for file in self._files}
        self._least = dict.fromkeys(self._files, 0)
        self.written()

    def written(self) -> None:
        """We have written to it: from now on it is no shorter than now."""
        for file in self._files:
            with suppress(OSError):
                self._least[file] = file.stat().st_size

    def harm(self) -> str | None:
        """What somebody else did to it: GONE, REPLACED or CUT; None while nothing can be seen."""
        for file in self._files:
            try:
                status = file.stat()
            except (FileNotFoundError, NotADirectoryError):
                return GONE
            except OSError:
                continue
            if (status.st_dev, status.st_ino) != self._known[file]:
                return REPLACED
            if status.st_size < self._least[file]:
                return CUT
        return None

    def clear(self) -> None:
        """Removes the log that we leave behind, so that it is never taken for that of another file."""
        log = self._files[1]
        if self._known[log] == _number(log):
            with suppress(OSError):
                log.unlink()


def _number(file: Path) -> tuple[int, int] | None:
    try:
        status = file.stat()
    except OSError:
        return None
    return status.st_dev, status.st_ino
