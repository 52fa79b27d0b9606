"""What really happened: from the components, and from the same set without the fault. No meter decides it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import Bools, Floats

from .faults import Fault
from .mains import STEPS_PER_S
from .metermodel import MeterModel
from .meters import Taken
from .receiver import COLUMNS, POINTS
from .run import Run


@dataclass(frozen=True, slots=True)
class Label:
    """One thing that happened, in the words of findings. Times in seconds."""

    kind: str
    """A kind of finding; `lead_off` for a lead that fell off, which is no kind of its own."""
    point: str | None
    start_s: float
    end_s: float | None
    """None while it lasts to the end."""
    fault: str = ""
    """The fault behind it, by its name in FAULTS; empty for power, mains and meters."""
    or_kinds: tuple[str, ...] = ()
    """Other kinds that would be as right."""
    depth: float = 0.0
    """Greatest departure from what the same set without the fault does, signed, in the point's unit; for the
    mains as a part of it."""
    also: tuple[str, ...] = ()
    """Other points that moved with it by more than 1 %."""
    visible: bool = True
    """False where no reading of the point shows it by five counts and 0.4 %: nobody could have seen it."""


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What labels are drawn from."""

    run: Run
    trace: Floats
    healthy: Floats
    """The trace of the same set, mains and script without the faults."""
    meters: Sequence[MeterModel]
    taken: Sequence[Taken]

    @property
    def duration_s(self) -> float:
        return len(self.trace) / STEPS_PER_S

    def column(self, name: str) -> tuple[Floats, Floats]:
        """A column as it was, and as it would have been."""
        place = COLUMNS.index(name)
        return self.trace[:, place], self.healthy[:, place]


def labels_of(evidence: Evidence) -> tuple[Label, ...]:
    """All labels of a run, in order of time."""
    run, end = evidence.run, evidence.duration_s
    labels = [Label("power_on" if on else "power_off", None, t, None) for t, on in run.power]
    for start, until, depth in run.receiver.mains.sagged:
        if start < end and _powered(run, start):
            labels.append(Label("mains", None, start, min(until, end), depth=-depth))
    for fault in run.faults:
        if fault.about.kind != "glow":
            for spell in fault.spells:
                labels.extend(_departed(evidence, fault, spell.start_s, spell.end_s))
    if run.faults:
        labels += [
            *_out(evidence, "pilot", "pilot", "B+4"),
            *_out(evidence, "regulator", "regulator lit", "B+1"),
        ]
    labels.extend(_troubles(evidence.meters, end))
    return tuple(sorted(labels, key=lambda label: label.start_s))


def _powered(run: Run, t: float) -> bool:
    return next((on for at, on in reversed(run.power) if at <= t), False)


def _departed(evidence: Evidence, fault: Fault, start: float, end: float | None) -> list[Label]:
    """A time in which a component was bad, as what it did at its point."""
    about = fault.about
    a = round(start * STEPS_PER_S)
    b = len(evidence.trace) if end is None else min(len(evidence.trace), round((end + 0.5) * STEPS_PER_S))
    if b <= a:
        return []
    was, would = evidence.column(about.point)
    apart = was[a:b] - would[a:b]
    also = []
    for name in POINTS:
        real, healthy = evidence.column(name)
        most = float(np.abs(real[a:b] - healthy[a:b]).max())
        if name != about.point and most > 0.01 * max(float(np.abs(healthy[a:b]).max()), 1e-9):
            also.append(name)
    depth = float(apart[np.argmax(np.abs(apart))])
    seen = _seen(evidence, about.point, a, b)
    return [Label(about.kind, about.point, start, end, about.name, about.or_kinds, depth, tuple(also), seen)]


def _seen(evidence: Evidence, point: str, a: int, b: int) -> bool:
    """Whether any reading of the point in these steps stands clear of what the healthy set would show."""
    healthy = evidence.column(point)[1]
    for model, got in zip(evidence.meters, evidence.taken, strict=True):
        if model.point != point:
            continue
        late = b / STEPS_PER_S + model.averages_s
        inside = (got.t_ns >= a / STEPS_PER_S * 1e9) & (got.t_ns <= late * 1e9)
        rows = np.minimum((got.t_ns[inside] / 1e9 * STEPS_PER_S).astype(np.int64), len(healthy) - 1)
        off = np.abs(got.value[inside] - healthy[rows])
        counts = 10.0 ** -got.decimals[inside].astype(np.float64)
        if (off > np.maximum(5 * counts, 0.004 * np.abs(healthy[rows]))).any() or got.flags[inside].any():
            return True
    return False


def _out(evidence: Evidence, point: str, column: str, feed: str) -> list[Label]:
    """Lamp or regulator tube: out while the same set without the fault has it lit."""
    labels: list[Label] = []
    lit, would = evidence.column(column)
    given, healthy = evidence.column(feed)
    for a, b in stretches((lit < 0.5) & (would > 0.5)):
        start = a / STEPS_PER_S
        was_lit = a > 0 and lit[a - 1] > 0.5
        if b - a < 3 or not _powered(evidence.run, start) or (not was_lit and b - a < 30 * STEPS_PER_S):
            continue
        end = None if b == len(lit) else b / STEPS_PER_S
        own = [f.about.name for f in evidence.run.faults if f.about.point == point]
        fault = own[0] if own else evidence.run.faults[0].about.name
        if point == "pilot":
            labels.append(Label("dropout", point, start, end, fault, ("step",), -1.0))
        fed = point == "pilot" and abs(given[a] - healthy[a]) < 0.1 * healthy[a]
        labels.append(Label("fed_but_out" if fed else "starved", point, start, end, fault))
    return labels


def stretches(mask: Bools) -> list[tuple[int, int]]:
    """(first, past last) of each unbroken stretch of true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _troubles(meters: Sequence[MeterModel], end: float) -> list[Label]:
    """What befell the meters themselves."""
    labels = []
    for model in meters:
        kinds = {
            "gap": model.sleeps, "frozen": model.held, "function": model.wrong,
            "reversed": model.reversed, "lead_off": model.lead_off,
        }  # fmt: skip
        for kind, whiles in kinds.items():
            labels += [Label(kind, model.point, a, b if b < end else None) for a, b in whiles if a < end]
    return labels
