"""The readings of a SCPI meter: into which channel, in which unit, and whether they are believed yet."""

from __future__ import annotations

from benchtui.model.readings import NO_VALUE, Flag
from benchtui.model.units import Unit

from .gathered import Gathered
from .scpi_function import FunctionWatch
from .scpi_plan import Plan
from .scpi_text import Value


class Values:
    """Takes the answers to one question after the other."""

    def __init__(self, plan: Plan, function: FunctionWatch, gathered: Gathered) -> None:
        self.refused = False
        """Whether the meter did not take its function: then it is not known what it measures."""
        self._plan = plan
        self._function = function
        self._gathered = gathered
        self._channels: tuple[int | None, ...] = ()
        self._held: tuple[Value, ...] = ()

    @property
    def held(self) -> bool:
        """Whether a reading waits for the meter to say what it is set to."""
        return bool(self._held)

    def asked(self, channels: tuple[int | None, ...]) -> None:
        """A question is out, for these channels."""
        self._channels, self._held = channels, ()

    def drop(self) -> None:
        """What is held will not be believed any more."""
        self._held = ()

    def answered(self, values: tuple[Value, ...], *, doubted: bool) -> None:
        """Takes them; or holds back what may be of another function or, `doubted`, of an older question."""
        if (len(values) == 1 and self._function.doubts(values[0])) or doubted:
            self._held = values
        else:
            self._take(values)

    def release(self) -> None:
        """The meter has said what it is set to."""
        if self._held:
            self._take(self._held)
            self._held = ()

    def _take(self, values: tuple[Value, ...]) -> None:
        fixed = self._plan.resolution
        for channel, given in zip(self._channels, values, strict=True):
            if channel is not None:
                unit, value = self._as_measured(channel, given)
                counted = fixed if fixed is not None and not value.flags & NO_VALUE else value.resolution
                self._gathered.reading(channel, unit, value.value, counted, value.flags)

    def _as_measured(self, channel: int, value: Value) -> tuple[Unit, Value]:
        """With the unit that it has: as the meter says, where it says so, else as the bench says."""
        if self._function.known:
            if self._function.unit is None:  # a diode test is no voltage of the set
                return Unit.UNKNOWN, Value(float("nan"), 0.0, value.flags | Flag.INVALID)
            return self._function.unit, value
        return Unit.UNKNOWN if self.refused else self._plan.measures[channel], value
