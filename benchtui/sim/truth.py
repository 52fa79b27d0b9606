"""What really happened, from the components and from the same set without the fault. No meter's view decides it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .mains import STEPS_PER_S
from .meters import MeterModel, Taken
from .receiver import COLUMNS, POINTS
from .run import Run


@dataclass(frozen=True, slots=True)
class Label:
    """One thing that happened: in the words of findings, with its times in seconds."""

    kind: str
    point: str | None
    start_s: float
    end_s: float | None
    """None while it lasts to the end."""
    fault: str = ""
    """The fault behind it, by its name in FAULTS; empty for power, mains and meters."""
    depth: float = 0.0
    """Greatest departure of the point from what the same set without the fault does, signed, in its unit."""
    also: tuple[str, ...] = ()
    """Other points that moved with it by more than 1 %."""
    visible: bool = True
    """False where no reading of the point's meter shows it by more than five counts: nobody could have seen it."""


def labels_of(
    run: Run, twin: Run, meters: Sequence[MeterModel], taken: Sequence[Taken], duration_s: float
) -> tuple[Label, ...]:
    """The labels of a run, in order of time. `twin` is the same set with the same mains and no fault."""
    trace, healthy = run.trace(), twin.trace()
    labels = [Label("power_on" if on else "power_off", None, t, None) for t, on in run.power]
    for start, end, _depth in run.receiver.mains.sagged:
        if start < duration_s and _powered(run, start):
            labels.append(Label("mains", None, start, min(end, duration_s), depth=-_depth))
    for fault in run.faults:
        for start, end in fault.spells:
            if start is not None:
                labels.extend(
                    _spell(fault.kind, fault.point, fault.name, start, end, trace, healthy, meters, taken)
                )
    labels.extend(_glow(run, trace, healthy))
    labels.extend(_troubles(meters, duration_s))
    return tuple(sorted(labels, key=lambda label: label.start_s))


def _powered(run: Run, t: float) -> bool:
    state = False
    for at, on in run.power:
        if at <= t:
            state = on
    return state


def _spell(
    kind: str, point: str, fault: str, start: float, end: float | None, trace: NDArray[np.float64],
    healthy: NDArray[np.float64], meters: Sequence[MeterModel], taken: Sequence[Taken],
) -> list[Label]:  # fmt: skip
    """A time in which a component was bad, as what it did at its point."""
    if kind == "glow":
        return []
    a, b = (
        int(start * STEPS_PER_S),
        len(trace) if end is None else min(len(trace), int((end + 0.5) * STEPS_PER_S)),
    )
    if b <= a:
        return []
    apart = trace[a:b] - healthy[a:b]
    column = apart[:, COLUMNS.index(point)]
    depth = float(column[np.argmax(np.abs(column))])
    also = []
    for name in POINTS:
        level = max(float(np.abs(healthy[a:b, COLUMNS.index(name)]).max()), 1e-9)
        if name != point and float(np.abs(apart[:, COLUMNS.index(name)]).max()) > 0.01 * level:
            also.append(name)
    seen = _visible(point, a, b, depth, healthy, meters, taken)
    if kind == "dropout" and end is None:
        end = None
    return [Label(kind, point, start, end, fault, depth, tuple(also), seen)]


def _visible(
    point: str, a: int, b: int, depth: float, healthy: NDArray[np.float64],
    meters: Sequence[MeterModel], taken: Sequence[Taken],
) -> bool:  # fmt: skip
    """Whether any reading of a meter on the point departs from the healthy set by five counts or more."""
    for model, got in zip(meters, taken, strict=True):
        if model.point != point:
            continue
        window = model.window_s if model.window_s is not None else 1.0 / model.rate
        inside = (got.t_ns >= a / STEPS_PER_S * 1e9) & (got.t_ns <= (b / STEPS_PER_S + window) * 1e9)
        rows = np.minimum((got.t_ns[inside] / 1e9 * STEPS_PER_S).astype(np.int64), len(healthy) - 1)
        expected = healthy[rows, COLUMNS.index(point)]
        off = np.abs(got.value[inside] - expected)
        worth = np.maximum(5 * 10.0 ** -got.decimals[inside].astype(np.float64), 0.004 * np.abs(expected))
        if (off > worth).any() or bool(got.flags[inside].any()):
            return True
    return False


def _glow(run: Run, trace: NDArray[np.float64], healthy: NDArray[np.float64]) -> list[Label]:
    """Lamp and regulator tube: out while the same set without the fault has them lit."""
    labels: list[Label] = []
    if not run.faults:
        return labels
    for point, column, feed in (("pilot", "pilot", "B+4"), ("regulator", "regulator lit", "B+1")):
        place = COLUMNS.index(column)
        out = (trace[:, place] < 0.5) & (healthy[:, place] > 0.5)
        for a, b in _stretches(out):
            if b - a < 3:
                continue
            start, end = a / STEPS_PER_S, None if b == len(trace) else b / STEPS_PER_S
            powered = _powered(run, start)
            if not powered:
                continue
            causes = [f for f in run.faults if f.point == point]
            fault = causes[0].name if causes else run.faults[0].name
            fed = (
                abs(trace[a, COLUMNS.index(feed)] - healthy[a, COLUMNS.index(feed)])
                < 0.1 * healthy[a, COLUMNS.index(feed)]
            )
            lamp = point == "pilot"
            if lamp:
                labels.append(Label("dropout", point, start, end, fault, -1.0))
            labels.append(Label("fed_but_out" if fed and lamp else "starved", point, start, end, fault))
    return labels


def _stretches(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _troubles(meters: Sequence[MeterModel], duration_s: float) -> list[Label]:
    """What befell the meters themselves."""
    labels = []
    for model in meters:
        for kind, spells in (
            ("gap", model.sleeps), ("frozen", model.held), ("function", model.wrong), ("reversed", model.reversed),
            ("lead_off", model.lead_off),
        ):  # fmt: skip
            labels += [
                Label(kind, model.point, a, b if b < duration_s else None)
                for a, b in spells
                if a < duration_s
            ]
    return labels
