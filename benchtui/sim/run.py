"""The set, its faults and what is done to it, gone through in time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from benchtui.model.readings import Floats

from .faults import Fault
from .mains import STEPS_PER_S
from .receiver import COLUMNS, Receiver
from .script import Act

WIDTH = len(COLUMNS)


class Run:
    """A receiver with its faults and its script. `go_to` brings it forward."""

    def __init__(self, receiver: Receiver, faults: Sequence[Fault] = (), script: Sequence[Act] = ()) -> None:
        self.receiver = receiver
        self.faults = tuple(faults)
        self.done: list[Act] = []
        """What was done, each with the time of the step before which it was."""
        self.power: list[tuple[float, bool]] = []
        """When the power came on and went off."""
        self.first_step = 0
        """The step of the trace's first row."""
        self._script = sorted(script, key=lambda act: act.at_s)
        self._next = 0

    def go_to(self, step: int) -> None:
        """Steps until this many steps have been made."""
        receiver, faults = self.receiver, self.faults
        while receiver.steps < step:
            now_s = receiver.steps / STEPS_PER_S
            while self._next < len(self._script) and self._script[self._next].at_s <= now_s:
                self.do(self._script[self._next])
                self._next += 1
            for fault in faults:
                fault.act(receiver, now_s)
            receiver.step()

    def do(self, act: Act) -> None:
        """One act, before the next step."""
        receiver, now_s = self.receiver, self.receiver.seconds
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
                if fault.about.name == act.name:
                    fault.until_s = now_s
        else:
            raise ValueError(f"nobody can do {act.what!r} to the set")
        self.done.append(Act(now_s, act.what, act.note, act.value, act.name))

    def trace(self) -> Floats:
        """A row a step from `first_step` on, a column for each of COLUMNS."""
        return np.array(self.receiver.rows, dtype=np.float64).reshape(-1, WIDTH)

    def forget(self, before_step: int) -> None:
        """Drops the rows before this step, so that a long demo does not grow."""
        many = before_step - self.first_step
        if many > 0:
            del self.receiver.rows[: many * WIDTH]
            self.first_step += many
