"""One call: a set, its faults, its meters; out come readings, notes and the truth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from benchtui.model.block import Block
from benchtui.model.notes import Lead, Mark
from benchtui.model.readings import Channel, Readings
from benchtui.model.units import Unit

from .faults import Fault, make_fault
from .mains import STEPS_PER_S, MainsCharacter
from .meters import Meter, MeterModel, Taken, bench_of, input_siemens
from .receiver import Receiver
from .run import Run
from .script import Act, once
from .truth import Label, labels_of


@dataclass(frozen=True, slots=True, eq=False)
class Simulated:
    """What the meters of a simulated bench gave, and what really happened."""

    readings: Readings
    channels: tuple[Channel, ...]
    leads: tuple[Lead, ...]
    marks: tuple[Mark, ...]
    truth: tuple[Label, ...]
    duration_s: float
    chart_text: str
    trace: NDArray[np.float64]
    """A row a step of 20 ms, a column for each of receiver.COLUMNS: no meter's view."""

    def block(self) -> Block:
        """Everything as one block, as the bank takes it."""
        notes = sorted([*self.leads, *self.marks], key=lambda note: note.t_ns)
        return Block(self.readings, tuple(notes), int(self.duration_s * 1e9))


def chart_text(rectifier: str = "direct") -> str:
    """The chart of the Saltmarsh Six as it comes with the program, for a set with this rectifier."""
    text = resources.files("benchtui.sim").joinpath("saltmarsh_six.toml").read_text(encoding="utf-8")
    return text.replace('rectifier = "direct"', f'rectifier = "{rectifier}"')


def simulate(
    seed: int = 0,
    faults: Sequence[str | Fault] = (),
    duration_s: float = 600.0,
    rate: float = 2.0,
    *,
    counts: int = 6000,
    rectifier: str = "direct",
    script: Sequence[Act] | None = None,
    meters: Sequence[MeterModel] | None = None,
    mains: MainsCharacter | None = None,
    spread: float = 1.0,
    marks: bool = True,
) -> Simulated:
    """A simulated bench from power-on.

    Args:
        seed: everything that is random comes from it.
        faults: names in FAULTS (from the start), or faults made by `make_fault` (each for one call only).
        duration_s: simulated seconds; the power comes on at 2 s unless `script` says otherwise.
        rate: readings a second of each meter, unless `meters` says otherwise.
        counts: of each meter's display, unless `meters` says otherwise.
        rectifier: solid, direct or indirect.
        script: what is done to the set.
        meters: the meters; None: one on each point.
        mains: how the mains behave; None: a quiet mains that wanders.
        spread: how much sets differ from each other; 0: the nominal set.
        marks: whether taps and the like are written down as marks.
    """
    done = [make_fault(f, seed=seed) if isinstance(f, str) else f for f in faults]
    acts = tuple(once() if script is None else script)
    models = tuple(bench_of(rate, counts) if meters is None else meters)
    run = _run(seed, rectifier, mains, spread, done, acts, models, duration_s)
    twin = _run(seed, rectifier, mains, spread, [], acts, models, duration_s) if done else run
    taken = [Meter(m, seed).take(run.trace(), 0, run.receiver.steps) for m in models]
    readings = together(taken)
    channels = tuple(Channel(m.name, m.name, m.accuracy, _ohms(m), eye=False) for m in models)
    leads = tuple(Lead(0, i, m.point) for i, m in enumerate(models))
    noted = tuple(
        Mark(int(a.at_s * 1e9), _KINDS[a.what], a.note) for a in run.done if marks and a.what in _KINDS
    )
    truth = labels_of(run, twin, models, taken, duration_s)
    return Simulated(readings, channels, leads, noted, truth, duration_s, chart_text(rectifier), run.trace())


_KINDS = {"tap": "tap", "replace": "swap"}


def _ohms(model: MeterModel) -> float | None:
    return None if model.unit is Unit.STATE else model.input_ohms


def _run(
    seed: int, rectifier: str, mains: MainsCharacter | None, spread: float, faults: Sequence[Fault],
    acts: Sequence[Act], models: Sequence[MeterModel], duration_s: float,
) -> Run:  # fmt: skip
    receiver = Receiver(seed, rectifier, mains, spread)
    for model in models:
        receiver.load[model.point] += input_siemens(model)
    run = Run(receiver, faults, acts)
    run.go_to(round(duration_s * STEPS_PER_S))
    return run


def together(taken: Sequence[Taken]) -> Readings:
    """Readings of all meters in order of time; the channel is the meter's place."""
    parts = [
        Readings.of(t.t_ns, channel, t.unit, t.value, 10.0 ** -t.decimals.astype(np.float64), t.flags)
        for channel, t in enumerate(taken)
    ]
    return Readings.joined(parts).in_order()


__all__ = ["Simulated", "chart_text", "replace", "simulate", "together"]
