"""Timelines built by hand: what a few meters read of a set that does what the test says, to the reading."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from benchtui.chart.chart import Chart, Point
from benchtui.chart.settings import Settings
from benchtui.model.block import Block
from benchtui.model.findings import Event, Finding
from benchtui.model.notes import Lead, Mark, Note
from benchtui.model.readings import Accuracy, Channel, Floats, Ints, Readings
from benchtui.model.units import Unit
from benchtui.watch.bank import Bank

from .cutting import Session

Shape = Callable[[Floats], Floats]
"""The true value at these times, in seconds since the session began."""


def ns(t_s: float) -> int:
    """Seconds as whole nanoseconds."""
    return round(t_s * 1e9)


class Timeline:
    """Readings and notes being put together; every meter has one channel, in the order in which it came."""

    def __init__(self, chart: Chart, until_s: float, seed: int = 0) -> None:
        self.chart = chart
        self.until_s = until_s
        self.channels: list[Channel] = []
        self.notes: list[Note] = []
        self._parts: list[Readings] = []
        self._rng = np.random.default_rng([6, seed])

    def meter(
        self, point: str, shape: Shape | None, *, rate: float = 2.0, step: float = 0.1, noise: float = 1.0,
        start_s: float = 0.05, until_s: float | None = None, unit: Unit | None = None, eye: bool = False,
        accuracy: Accuracy | None = None, ohms: float | None = None, window_s: float = 0.0,
    ) -> int:  # fmt: skip
        """A meter on a point, reading a shape with noise (in counts); gives its channel. None: silent."""
        number = len(self.channels)
        name = f"meter of {point}"
        self.channels.append(Channel(name, name, accuracy, ohms, eye))
        self.notes.append(Lead(0, number, point))
        if shape is not None:
            end = self.until_s if until_s is None else until_s
            self.reads(
                number, shape, start_s, end, rate=rate, step=step, noise=noise,
                unit=self._unit(point) if unit is None else unit, window_s=window_s,
            )  # fmt: skip
        return number

    def reads(
        self, channel: int, shape: Shape, start_s: float, until_s: float, *, rate: float = 2.0,
        step: float = 0.1, noise: float = 1.0, unit: Unit = Unit.V, window_s: float = 0.0,
    ) -> None:  # fmt: skip
        """More readings of a channel, evenly spaced; a window averages what was before each."""
        t_s = np.arange(start_s, until_s, 1.0 / rate)
        if window_s:
            parts = [shape(t_s - window_s * (k + 0.5) / 16) for k in range(16)]
            true = np.mean(parts, axis=0)
        else:
            true = shape(t_s)
        shown = true + self._rng.normal(0.0, noise * step, len(t_s)) if noise else true
        values = np.round(shown / step) * step if step else shown
        self.add(channel, np.round(t_s * 1e9).astype(np.int64), values, step=step, unit=unit)

    def add(
        self, channel: int, t_ns: Sequence[int] | Ints, values: Sequence[float] | Floats, *,
        step: float = 0.1, unit: Unit = Unit.V, flags: int = 0,
    ) -> None:  # fmt: skip
        """These very readings."""
        self._parts.append(Readings.of(t_ns, channel, int(unit), values, step, flags))

    def at(self, channel: int, t_s: float, value: float, **more: Any) -> None:
        """One reading."""
        self.add(channel, [ns(t_s)], [value], **more)

    def drop(self, channel: int, start_s: float, end_s: float) -> None:
        """Takes away a channel's readings of a stretch of time."""
        self._parts = [
            p.take(~((p.channel == channel) & (p.t_ns >= ns(start_s)) & (p.t_ns < ns(end_s))))
            for p in self._parts
        ]

    def mark(self, t_s: float, kind: str, note: str = "") -> None:
        self.notes.append(Mark(ns(t_s), kind, note))

    def lead(self, t_s: float, channel: int, point: str | None) -> None:
        self.notes.append(Lead(ns(t_s), channel, point))

    def session(self, settings: Settings | None = None) -> Session:
        """All of it, in order."""
        notes = tuple(sorted(self.notes, key=lambda n: n.t_ns))
        block = Block(Readings.joined(self._parts).in_order(), notes, ns(self.until_s))
        return Session(self.chart, tuple(self.channels), settings or Settings(), block)

    def judged(self, settings: Settings | None = None) -> Judged:
        """The bank after all of it."""
        session = self.session(settings)
        bank = session.bank()
        return Judged(bank, bank.feed(session.block))

    def _unit(self, point: str) -> Unit:
        known = self.chart.point(point)
        return known.unit if known is not None else Unit.V


class Judged:
    """What was said of a timeline."""

    def __init__(self, bank: Bank, events: list[Event]) -> None:
        self.bank = bank
        self.events = events
        self.listed: list[Finding] = bank.folding.listed()

    def of(self, *kinds: str, point: str | None = None) -> list[Finding]:
        """Listed findings of these kinds, of one point if named."""
        return [f for f in self.listed if f.kind in kinds and point in (None, f.point)]

    def one(self, kind: str, point: str | None = None) -> Finding:
        """The one finding of this kind; anything else fails the test."""
        found = self.of(kind, point=point)
        assert len(found) == 1, self.said()
        return found[0]

    def wrong(self) -> list[str]:
        """What blames the set: faults and warnings; to be compared with an empty list."""
        return [_line(f) for f in self.listed if f.severity in ("fault", "warning")]

    def ever_wrong(self) -> list[str]:
        """The same, with what was withdrawn or merged: it was announced all the same."""
        return [_line(f) for f in self.bank.folding.all() if f.severity in ("fault", "warning")]

    def said(self) -> list[str]:
        return [_line(f) for f in self.bank.folding.all()]


def _line(f: Finding) -> str:
    end = "" if f.end_ns is None else f"{f.end_ns / 1e9:.2f}"
    return f"{f.state} {f.kind} {f.point} {f.start_ns / 1e9:.2f}..{end} found {f.found_ns / 1e9:.2f}"


def dc(name: str, nominal: float, tolerance: float = 0.1, **more: Any) -> Point:
    """A DC point of a chart with a symmetric band."""
    edges = sorted((nominal * (1 - tolerance), nominal * (1 + tolerance)))
    return Point(name, Unit.V, nominal=nominal, low=edges[0], high=edges[1], **more)


def ac(name: str, nominal: float, tolerance: float = 0.1, **more: Any) -> Point:
    """An AC point of a chart with a symmetric band."""
    low, high = nominal * (1 - tolerance), nominal * (1 + tolerance)
    return Point(name, Unit.VAC, nominal=nominal, low=low, high=high, **more)
