"""The set, its faults and its script, gone through in time; and the trace of what every point really did."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .faults import Fault
from .mains import STEPS_PER_S
from .receiver import COLUMNS, Receiver
from .script import Act

WIDTH = len(COLUMNS)


class Run:
    """A receiver with what is done to it. `go_to` brings it forward; `trace` gives what it did."""

    def __init__(self, receiver: Receiver, faults: Sequence[Fault] = (), script: Sequence[Act] = ()) -> None:
        self.receiver = receiver
        self.faults = list(faults)
        self.script = sorted(script, key=lambda act: act.at_s)
        self.done: list[Act] = []
        """What was done, with the time of the step at which it was."""
        self._next = 0
        self._dropped = 0
        self.power: list[tuple[float, bool]] = []

    def go_to(self, step: int) -> None:
        """Steps up to, not including, this one."""
        receiver, faults = self.receiver, self.faults
        while receiver.steps < step:
            now_s = receiver.steps / STEPS_PER_S
            while self._next < len(self.script) and self.script[self._next].at_s <= now_s:
                self.do(self.script[self._next])
                self._next += 1
            for fault in faults:
                fault.act(receiver, now_s)
            receiver.step()

    def do(self, act: Act) -> None:
        """One act, now."""
        receiver = self.receiver
        now_s = receiver.steps / STEPS_PER_S
        if act.what in ("on", "off"):
            receiver.switch = act.what == "on"
            self.power.append((now_s, receiver.switch))
        elif act.what == "variac":
            receiver.variac = act.value
        elif act.what == "tap":
            for fault in self.faults:
                fault.tap(now_s)
        elif act.what == "replace":
            for fault in self.faults:
                if fault.name == act.name:
                    fault.until_s = now_s
        else:
            raise ValueError(f"nobody can do {act.what!r} to the set")
        self.done.append(act)

    def trace(self) -> NDArray[np.float64]:
        """A row a step since `forget`, a column for each of COLUMNS."""
        return np.array(self.receiver.rows, dtype=np.float64).reshape(-1, WIDTH)

    @property
    def first_step(self) -> int:
        """The step of the trace's first row."""
        return self._dropped

    def forget(self, before_step: int) -> None:
        """Drops rows before this step, so that a long demo does not grow."""
        many = before_step - self._dropped
        if many > 0:
            del self.receiver.rows[: many * WIDTH]
            self._dropped += many
