"""Faults of the Saltmarsh Six: each changes a component, and the set does the rest.

A fault keeps in `spells` what it did to the component and when; what follows on the test points is worked out
by the model, not written here.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from benchtui.model.readings import Floats

from .mains import STEPS_PER_S
from .receiver import COLUMNS, Receiver

Trial = Callable[["Fault", float], Floats]
"""Runs the same set with one fault for so many seconds; gives its trace."""

OPEN = 50e6
"""Ohms of a joint or a resistor that is open: dirt and damp still carry a little."""


@dataclass(slots=True)
class Spell:
    """A time in which the component was bad."""

    start_s: float
    end_s: float | None = None
    """None while it lasts."""


@dataclass(frozen=True, slots=True)
class About:
    """What a fault is, for those who judge."""

    name: str
    point: str
    """The test point nearest to the component: where a skilled person would say the fault is."""
    kind: str
    """What it does there, in the words of findings; `glow` for a lamp, judged by when it is lit."""
    or_kinds: tuple[str, ...] = ()
    """Other words that would be as right."""
    at_s: float = 0.0
    until_s: float | None = None
    seed: int = 0


@dataclass(slots=True)
class Fault:
    """A change of one component from `about.at_s` until `until_s` (None: for good)."""

    about: About
    until_s: float | None = None
    """As in `about`, or earlier where the part was replaced."""
    spells: list[Spell] = field(default_factory=list)

    def fit(self, trial: Trial) -> None:
        """Before the run, for a fault that is measured against this very set."""

    def act(self, receiver: Receiver, now_s: float) -> None:
        """Called before each step."""
        raise NotImplementedError

    def tap(self, now_s: float) -> None:
        """The technician tapped the chassis: most parts do not care."""

    def record(self, now_s: float, bad: bool) -> None:
        """Keeps `spells`; a spell that begins within a second of the last one goes on with it."""
        last = self.spells[-1] if self.spells else None
        if bad and (last is None or (last.end_s is not None and now_s - last.end_s > 1.0)):
            self.spells.append(Spell(now_s))
        elif bad and last is not None:
            last.end_s = None
        elif last is not None and last.end_s is None:
            last.end_s = now_s

    def over(self, now_s: float) -> bool:
        """True once the part is good again for good."""
        return self.until_s is not None and now_s >= self.until_s


@dataclass(frozen=True, slots=True)
class To:
    """A component's new value: an amount, or a factor on what it was."""

    part: str
    amount: float
    factor: bool = False


@dataclass(slots=True)
class Change(Fault):
    """Values that move from what they were to others: at once, or over `over_s` on a logarithmic scale."""

    to: tuple[To, ...] = ()
    over_s: float = 0.0
    _were: tuple[float, ...] = ()
    _settled: bool = False

    def act(self, receiver: Receiver, now_s: float) -> None:
        if now_s < self.about.at_s or (self._settled and not self.over(now_s)):
            return
        parts = receiver.parts
        if not self._were:
            if self.over(now_s):
                return
            self._were = tuple(float(getattr(parts, to.part)) for to in self.to)
            self.record(now_s, True)
        if self.over(now_s):
            for to, was in zip(self.to, self._were, strict=True):
                setattr(parts, to.part, was)
            self._were = ()
            self.record(now_s, False)
            return
        share = min(1.0, (now_s - self.about.at_s) / self.over_s) if self.over_s > 0 else 1.0
        for to, was in zip(self.to, self._were, strict=True):
            setattr(parts, to.part, _between(was, was * to.amount if to.factor else to.amount, share))
        self._settled = share == 1.0


_BEGINS_AT = 300.0
"""A leak that grows is first felt at some hundred times the resistance that it comes to."""


def _between(start: float, end: float, share: float) -> float:
    if share < 1.0 and start > 0 and end > 0:
        start = min(start, _BEGINS_AT * end)
        return start * math.exp(share * math.log(end / start))
    return start + share * (end - start)


STRIKES_ABOVE = 22.0
RUNS_BELOW = 3.0
"""An aged lamp strikes so many volts above where it lets go, and glows with so many less across it."""


def aged(holds: float) -> tuple[To, ...]:
    """A lamp that has aged until it lets go at this voltage."""
    strikes, runs = To("pilot_strikes", holds + STRIKES_ABOVE), To("pilot_runs", holds - RUNS_BELOW)
    return (To("pilot_holds", holds), strikes, runs)


@dataclass(slots=True)
class AgedLamp(Change):
    """The pilot, aged so far that this very set keeps it lit for `lets_go_s` after power-on and no longer."""

    lets_go_s: float = 60.0

    def fit(self, trial: Trial) -> None:
        lit = replace(self, to=(*aged(97.0)[1:], To("pilot_holds", 0.0)))
        trace = trial(lit, self.about.at_s + 75.0 + self.lets_go_s)
        on = int(np.argmax(trace[:, COLUMNS.index("mains")] > 100.0))
        at = min(on + round(self.lets_go_s * STEPS_PER_S), len(trace) - 1)
        self.to = aged(float(trace[at, COLUMNS.index("B+4")]))
