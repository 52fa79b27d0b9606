"""The wire log: JSON Lines of every byte, due tick, note and watermark of a live session.

Line 1 is the header. Then, in whatever order the threads came to write them, but never after a watermark
at or past their own time:

    {"t_ns": …, "meter": …, "dir": "rx" | "tx", "hex": …}
    {"t_ns": …, "meter": …, "dir": "event", "hex": "", "event": "start" | "tick" | "lost", "text": …}
    {"t_ns": …, "meter": "", "dir": "event", "hex": "", "event": "upto" | "end", "text": ""}
    {"t_ns": …, "note": {"kind": "mark" | "lead" | "trouble" | "reading", …}}

`upto` says that every line up to its time has been written; `end` is the last one. A log is played by
`wireplay.play`.
"""

from __future__ import annotations

import json
import math
import queue
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from benchtui.model.errors import SessionError
from benchtui.model.notes import Lead, Mark, Note
from benchtui.model.units import Unit

from .wire_header import Header as Header

_MOST_QUEUED = 64_000_000


class WireLog:
    """Writes a wire log, on a thread of its own: a stalled disk stalls nothing else.

    Thread-safe. No call but the constructor raises; what went wrong stands in `problem`, and the log then
    ends where it was.
    """

    def __init__(self, path: Path, header: Header) -> None:
        """Begins a new file.

        Raises:
            SessionError: the file exists already, or cannot be written.
        """
        try:
            self._file = path.open("x", encoding="utf-8", newline="\n")
            self._file.write(header.as_line() + "\n")
            self._file.flush()
        except FileExistsError as error:
            raise SessionError(f"{path}: exists already; a wire log never overwrites a file") from error
        except OSError as error:
            raise SessionError(f"{path}: the wire log cannot be written: {error.strerror}") from error
        self.path = path
        self.problem = ""
        self._names: dict[str, str] = {}
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._lock = threading.Lock()
        self._queued = 0
        self._ended = False
        self._thread = threading.Thread(target=self._write, name="wire log", daemon=True)
        self._thread.start()

    def rx(self, t_ns: int, meter: str, data: bytes) -> None:
        """Bytes that came."""
        self._put(f'{{"t_ns":{t_ns},"meter":{self._name(meter)},"dir":"rx","hex":"{data.hex()}"}}')

    def tx(self, t_ns: int, meter: str, data: bytes) -> None:
        """Bytes that were sent."""
        self._put(f'{{"t_ns":{t_ns},"meter":{self._name(meter)},"dir":"tx","hex":"{data.hex()}"}}')

    def event(self, t_ns: int, meter: str, event: str, text: str = "") -> None:
        """A call of the meter's listener that no byte caused: start, tick or lost."""
        said = json.dumps({"event": event, "text": text}, ensure_ascii=False)[1:-1]
        self._put(f'{{"t_ns":{t_ns},"meter":{self._name(meter)},"dir":"event","hex":"",{said}}}')

    def note(self, note: Note) -> None:
        """A mark, a lead, or trouble that no wire told."""
        self._put(json.dumps({"t_ns": note.t_ns, "note": _note_as_json(note)}, ensure_ascii=False))

    def reading(
        self, t_ns: int, channel: int, unit: int, value: float, resolution: float, flags: int
    ) -> None:
        """A reading that came over no wire: what the eye saw, what a needle showed."""
        said = {
            "kind": "reading",
            "channel": channel,
            "unit": Unit(unit).symbol,
            "value": value if math.isfinite(value) else None,
            "resolution": resolution,
            "flags": flags,
        }
        self._put(json.dumps({"t_ns": t_ns, "note": said}, ensure_ascii=False))

    def upto(self, t_ns: int) -> None:
        """Every line up to this time has been written."""
        self.event(t_ns, "", "upto")

    def end(self, t_ns: int) -> None:
        """Writes the last line and closes the file; waits for the disk, at most some seconds."""
        with self._lock:
            if self._ended:
                return
        self.event(t_ns, "", "end")
        with self._lock:
            self._ended = True
        self._lines.put(None)
        self._thread.join(10.0)
        if self._thread.is_alive() and not self.problem:
            self.problem = f"{self.path}: the disk does not answer; the end of the wire log may be missing"

    def _name(self, meter: str) -> str:
        return self._names.setdefault(meter, json.dumps(meter, ensure_ascii=False))

    def _put(self, line: str) -> None:
        with self._lock:
            if self.problem or self._ended:
                return
            if self._queued > _MOST_QUEUED:
                self.problem = f"{self.path}: the disk is too slow; the wire log ends here"
                return
            self._queued += len(line)
        self._lines.put(line)

    def _write(self) -> None:
        """Writes what is queued in batches, so that a burst costs one flush."""
        going = True
        while going:
            batch = [self._lines.get()]
            while not self._lines.empty() and len(batch) < 10_000:
                batch.append(self._lines.get())
            lines = [line for line in batch if line is not None]
            going = len(lines) == len(batch)
            with self._lock:
                self._queued -= sum(map(len, lines))
            if lines and not self.problem:
                self._try(lambda lines=lines: self._write_batch(lines))  # type: ignore[misc]
        self._try(self._file.close)

    def _write_batch(self, lines: list[str]) -> None:
        self._file.write("\n".join(lines) + "\n")
        self._file.flush()

    def _try(self, use: Callable[[], None]) -> None:
        """Uses the file; a disk that is full or gone ends the log, not the session."""
        try:
            use()
        except (OSError, ValueError) as error:
            with self._lock:
                self.problem = self.problem or f"{self.path}: the wire log ends here: {error}"


def _note_as_json(note: Note) -> dict[str, Any]:
    if isinstance(note, Mark):
        return {"kind": "mark", "mark": note.kind, "note": note.note, "what": note.what}
    if isinstance(note, Lead):
        return {"kind": "lead", "channel": note.channel, "point": note.point}
    return {
        "kind": "trouble",
        "meter": note.meter,
        "trouble": note.kind,
        "text": note.text,
        "count": note.count,
    }
