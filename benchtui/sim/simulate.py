"""One call: a set, its faults, its meters; out come readings, notes and the truth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib import resources

import numpy as np

from benchtui.model.block import Block
from benchtui.model.notes import Lead, Mark, Note
from benchtui.model.readings import Channel, Floats, Readings
from benchtui.model.units import Unit

from .catalogue import make_fault
from .faults import Fault
from .mains import STEPS_PER_S, MainsCharacter
from .metermodel import MeterModel, bench_of
from .meters import Meter, Taken
from .script import Act, once
from .setup import Setup
from .truth import Evidence, Label, labels_of


@dataclass(frozen=True, slots=True, eq=False)
class Simulated:
    """What the meters of a simulated bench gave, and what really happened."""

    readings: Readings
    """In order of (time, channel)."""
    channels: tuple[Channel, ...]
    leads: tuple[Lead, ...]
    marks: tuple[Mark, ...]
    truth: tuple[Label, ...]
    duration_s: float
    chart_text: str
    trace: Floats
    """A row a step of 20 ms, a column for each of receiver.COLUMNS: no meter's view."""
    healthy: Floats
    """The same of the same set without its faults."""

    def block(self) -> Block:
        """Everything as one block, as the bank takes it."""
        notes: list[Note] = [*self.leads, *self.marks]
        notes.sort(key=lambda note: note.t_ns)
        return Block(self.readings, tuple(notes), round(self.duration_s * 1e9))


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
    """A simulated bench, gone through at once.

    Args:
        seed: everything that is random comes from it.
        faults: names of the catalogue (from the start), or faults of `make_fault`, each good for one call.
        duration_s: simulated seconds; the power comes on at 2 s unless `script` says otherwise.
        rate: readings a second of each meter, unless `meters` says otherwise.
        counts: of each meter's display, unless `meters` says otherwise.
        rectifier: solid, direct or indirect.
        script: what is done to the set.
        meters: None: one on each point.
        mains: None: a quiet mains that wanders.
        spread: how much sets differ from each other; 0: the nominal set.
        marks: whether taps, replaced parts and the power switch are written down as marks.
    """
    made = [make_fault(f, seed=seed) if isinstance(f, str) else f for f in faults]
    models = tuple(bench_of(rate, counts) if meters is None else meters)
    setup = Setup(
        seed,
        rectifier,
        mains or MainsCharacter(),
        spread,
        models,
        tuple(once() if script is None else script),
    )
    steps = round(duration_s * STEPS_PER_S)
    run = setup.run(made)
    run.go_to(steps)
    trace = healthy = run.trace()
    if made:
        twin = setup.run(())
        twin.go_to(steps)
        healthy = twin.trace()
    taken = [Meter(model, seed).take(trace, 0, len(trace)) for model in models]
    return Simulated(
        readings=together(taken),
        channels=tuple(Channel(m.name, m.name, m.accuracy, _ohms(m)) for m in models),
        leads=tuple(Lead(0, i, m.point) for i, m in enumerate(models)),
        marks=tuple(marks_of(run.done)) if marks else (),
        truth=labels_of(Evidence(run, trace, healthy, models, taken)),
        duration_s=duration_s,
        chart_text=chart_text(rectifier),
        trace=trace,
        healthy=healthy,
    )


_MARKED = {"tap": "tap", "replace": "swap", "on": "on", "off": "off"}


def marks_of(done: Sequence[Act]) -> list[Mark]:
    """What a technician writes down of what they did."""
    return [Mark(round(a.at_s * 1e9), _MARKED[a.what], a.note) for a in done if a.what in _MARKED]


def _ohms(model: MeterModel) -> float | None:
    return None if model.unit is Unit.STATE else model.input_ohms


def together(taken: Sequence[Taken]) -> Readings:
    """Readings of all meters in order of time; the channel is the meter's place."""
    parts = [
        Readings.of(t.t_ns, channel, t.unit, t.value, _resolution(t), t.flags)
        for channel, t in enumerate(taken)
    ]
    return Readings.joined(parts).in_order()


def _resolution(taken: Taken) -> Floats:
    """One count, as the float that its decimal text reads as; a state has none."""
    states = taken.unit == int(Unit.STATE)
    table = {d: 0.0 if d is None else float(f"1e{-d}") for d in set(taken.decimals.tolist())}
    counts = np.array([table[d] for d in taken.decimals.tolist()], dtype=np.float64)
    return np.where(states, 0.0, counts)
