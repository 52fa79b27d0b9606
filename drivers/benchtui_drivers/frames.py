"""Meters that send binary or packed frames, as described in TOML: no Python for a meter nobody has met.

Options:

    description     the name of a description that comes with the program, or its tables
    every           how often to ask, where the meter must be asked: "0.5 s"
    answer_within   how long to wait for the answer: "1 s"

What a description says is in the guide, benchtui/guide/frames.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from benchtui.driver.contract import Driver, DriverOptions, Out
from benchtui.driver.options import Options
from benchtui.model.errors import DriverError
from benchtui.model.notes import Trouble
from benchtui.model.readings import Readings

from .frames_asking import Patient
from .frames_copies import Copies
from .frames_description import Ask, Description, read_description
from .frames_finder import Bursts, Found, Piece, Stream
from .frames_format import Decoded
from .frames_junk import FrameJunk
from .frames_shipped import shipped

_STRIPPED = bytes(n & 0x7F for n in range(256))


class FramesDriver:
    """One meter that sends frames, by itself or when asked."""

    channels: tuple[str, ...] = ("",)

    def __init__(self, description: Description, resolved: Mapping[str, Any]) -> None:
        """`resolved`: the options with the description itself in place of its name."""
        self.line = description.line
        self.resolved = resolved
        """What a session keeps, so that it is heard the same when a description has changed."""
        self._form = description.form
        self._finder = _finder(description)
        self._copies = Copies(description.repeats, self._form.length) if description.repeats > 1 else None
        self._strip = description.strip_high_bit
        self._patient = _patient(description.ask)
        self._junk = FrameJunk()
        self._partial = (2 if description.weak else 1) * self._form.length - 1
        """The most bytes that joining in the middle of a frame costs."""
        self._joined: bytes | None = b""
        """What came since the start, while no frame has come; None once one has."""

    def start(self, at_ns: int) -> Out:
        """Joins the stream wherever it is: the first piece of a frame is thrown away and counted."""
        skipped = len(self._finder.restart()) + len(self._joined or b"")
        self._joined = b""
        if self._copies is not None:
            self._copies.restart()
        if self._patient is not None:
            self._patient.start(at_ns)
        return Out(troubles=self._junk.rest(at_ns), skipped=skipped)

    def feed(self, data: bytes, at_ns: int) -> Out:
        """Bytes; any complete frame in them is a reading, or junk."""
        if self._strip:
            data = data.translate(_STRIPPED)
        patient = self._patient
        if patient is not None and not patient.waiting:
            patient.unasked(len(data), self._form.length, at_ns)
            return Out(skipped=len(data))
        return self._heard(self._finder.feed(data, at_ns), at_ns)

    def tick(self, at_ns: int) -> Out:
        """Ends a burst; asks when it is time to; tells junk that nothing has followed."""
        out = self._heard(self._finder.tick(at_ns), at_ns)
        troubles, send = [*out.troubles, *self._junk.tick(at_ns)], b""
        if self._patient is not None and self._patient.is_due(at_ns):
            left = self._finder.restart()
            troubles += self._junk.add(left, at_ns) if left else ()
            send = self._patient.tick(at_ns)
        return replace(out, troubles=tuple(troubles), send=send)

    @property
    def wake_ns(self) -> int | None:
        """The end of a burst, the next question, or the next time to tell junk."""
        asking = None if self._patient is None else self._patient.wake_ns
        due = [self._finder.wake_ns, self._junk.wake_ns, asking]
        return min((d for d in due if d is not None), default=None)

    def _heard(self, found: Found, at_ns: int) -> Out:
        """Where a question is out, the first frame is its answer, and everything behind it is old."""
        if self._patient is None or not found.count:
            return self._taken(found, at_ns)
        self._patient.answered(at_ns)
        length = self._form.length
        old = (found.count - 1) * length + sum(len(p.data) for p in found.pieces if p.after)
        old += len(self._finder.restart())
        out = self._taken(found.first(), at_ns)
        return replace(out, skipped=out.skipped + old)

    def _taken(self, found: Found, at_ns: int) -> Out:
        """Readings out of frames, trouble out of the bytes between them."""
        if not found.count and not found.pieces:
            return Out()
        troubles: list[Trouble] = []
        skipped, done = 0, 0
        kept = [np.empty(0, np.int64)]
        for frames, piece in found.in_order():
            if frames:
                skipped += len(self._joined or b"")
                self._joined = None
                troubles += self._junk.good(at_ns, frames)
                if self._copies is not None and found.frames is not None:
                    firsts = self._copies.firsts(found.frames[done : done + frames])
                    kept.append(done + np.flatnonzero(firsts))
                done += frames
            if piece is not None:
                troubles += self._lost(piece, at_ns)
        if found.readings is None:
            return Out(troubles=tuple(troubles), skipped=skipped)
        chosen = found.readings if self._copies is None else found.readings.take(np.concatenate(kept))
        return Out(_readings(chosen, at_ns), tuple(troubles), skipped=skipped)

    def _lost(self, piece: Piece, at_ns: int) -> tuple[Trouble, ...]:
        """Bytes that are no frame: junk, or what joining in the middle of one costs."""
        if self._copies is not None:
            self._copies.lost(len(piece.data))
        if self._joined is not None:
            self._joined += piece.data
            if len(self._joined) <= self._partial:
                return ()
            data, self._joined = self._joined, None
            return self._junk.add(data, at_ns)
        return self._junk.add(piece.data, at_ns, partial(self._form.why, piece.near) if piece.near else None)


def _finder(description: Description) -> Stream | Bursts:
    if description.gap_ns:
        return Bursts(description.form, description.gap_ns)
    return Stream(description.form, weak=description.weak)


def _patient(ask: Ask | None) -> Patient | None:
    return None if ask is None else Patient(ask.send, ask.every_ns, ask.within_ns)


def _readings(decoded: Decoded, at_ns: int) -> Readings:
    n = len(decoded.value)
    t_ns = np.empty(n, np.int64)
    t_ns.fill(at_ns)
    return Readings(
        t_ns, np.zeros(n, np.int16), decoded.unit, decoded.value,
        decoded.resolution, decoded.flags,
    )  # fmt: skip


def open_driver(options: DriverOptions) -> Driver:
    """A driver for one meter whose frames are described.

    Raises:
        DriverError: an option or the description is wrong; with every mistake.
    """
    given = Options(options.options, "frames")
    said = given.raw("description")
    description: Description | None = None
    try:
        if isinstance(said, str):
            said = shipped(said)
        if isinstance(said, Mapping):
            description = read_description(said, options.measures)
        else:
            given.wrong("description", "is needed: the name of a description, or its tables")
    except DriverError as error:
        for problem in str(error).splitlines():
            given.wrong("", problem)
    if description is None or description.ask is not None:
        description = _asked(given, description)
    given.finish()
    assert description is not None, "without one there is a problem, which `finish` has raised"
    return FramesDriver(description, {**options.options, "description": dict(said)})


def _asked(given: Options, description: Description | None) -> Description | None:
    """With the times of the bench entry."""
    every, within = given.seconds("every", 0.5, 0.01), given.seconds("answer_within", 1.0, 0.02, 60.0)
    if description is None or description.ask is None:
        return description
    ask = description.ask
    return replace(
        description,
        ask=Ask(
            ask.send,
            int(every * 1e9) if given.given("every") else ask.every_ns,
            int(within * 1e9) if given.given("answer_within") else ask.within_ns,
        ),
    )
