"""The eye on something with two states: lit or out."""

from __future__ import annotations

import numpy as np

from benchtui.model.readings import Floats, Ints
from benchtui.watch.signals import Signal, State


class Lamp:
    """A state channel; every change is told, with the last reading of the state before."""

    def __init__(self) -> None:
        self.lit: bool | None = None
        self.last_ns: int | None = None

    def take(self, t: Ints, x: Floats) -> list[Signal]:
        if not len(x):
            return []
        lit = x > 0.5
        out: list[Signal] = []
        if self.lit is None:
            out.append(State(int(t[0]), bool(lit[0]), None))
            before = np.concatenate(([lit[0]], lit[:-1]))
        else:
            before = np.concatenate(([self.lit], lit[:-1]))
        for i in np.flatnonzero(lit != before).tolist():
            was = int(t[i - 1]) if i else self.last_ns
            out.append(State(int(t[i]), bool(lit[i]), was))
        self.lit, self.last_ns = bool(lit[-1]), int(t[-1])
        return out
