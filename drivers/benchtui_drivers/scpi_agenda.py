"""What a SCPI meter is asked next: its setup first, then round and round for readings."""

from __future__ import annotations

from collections import deque

from benchtui.model.units import Unit

from .scpi_known import Known
from .scpi_plan import Plan
from .scpi_step import ASK_ERROR, ASK_REFUSED, IDENTIFY, Step


class Agenda:
    """The steps of one meter, in order."""

    def __init__(self, plan: Plan, known: Known) -> None:
        self._plan = plan
        self._known = known
        self._queue: deque[Step] = deque()
        self._next = 0
        """Which of the plan's questions comes next."""
        self._round_ns = 0
        """When the first of them was sent last."""

    def begin(self) -> None:
        """The meter is set up, from the first step on."""
        plan, known, queue = self._plan, self._known, self._queue
        queue.clear()
        self._next = 0
        queue.extend(Step(text) for text in plan.at_start)
        if plan.identify:
            queue.append(IDENTIFY)
        if known.asks_errors:
            queue.append(ASK_ERROR)  # old errors are not to be taken for an answer to what follows
        if plan.configure:
            queue.append(Step(plan.configure))
            if known.asks_errors:
                queue.append(ASK_REFUSED)
        if not known.function.known:
            known.function.restart()
        if known.function.question and Unit.UNKNOWN in plan.measures:
            queue.append(known.ask_function)

    def first(self, step: Step) -> None:
        """This before all others."""
        self._queue.appendleft(step)

    def last(self, step: Step) -> None:
        """This after what is waiting, before the next question for readings."""
        self._queue.append(step)

    def step(self, at_ns: int, *, doubt: bool) -> Step:
        """The next. `doubt`: nothing is to be read before something was answered that can be nothing else."""
        if self._queue:
            return self._queue.popleft()
        marker = self._known.marker
        if doubt and marker is not None:
            self._known.begin_errors()
            return marker
        if self._known.errors_are_due(at_ns):
            self._known.begin_errors()
            return ASK_ERROR
        ask = self._plan.asks[self._next]
        if self._next == 0:
            self._round_ns = at_ns
        self._next = (self._next + 1) % len(self._plan.asks)
        return Step(ask.text, "values", channels=ask.channels)

    def next_values_ns(self, at_ns: int) -> int:
        """When the next question for readings is due."""
        return at_ns if self._next else max(self._round_ns + self._plan.every_ns, at_ns)
