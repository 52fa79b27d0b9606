"""Meters that answer questions: IEEE 488.2 and SCPI-99, over a serial line or a socket.

Options, none of them needed:

    request         what asks for a reading: "READ?" (default), "FETC?", "MEAS:VOLT:DC?" …
    configure       false, or the text to send; by default CONFigure by what the meter measures
    every           how often to ask: "0.5 s"; answer_within: how long to wait at first: "3 s"
    identify        false: do not ask *IDN?
    errors          false: do not ask SYSTem:ERRor?; errors_every: "10 s"
    channels        names for the values of an answer with several, in order; "" for one to leave out. Or
                    tables, each asked by itself:
                    { name = "B+2", measures = "V", request = "MEAS:VOLT:DC? (@102)" }
    function        false: do not ask what the meter is set to; or the question. By default FUNC? or CONF?,
                    every 5 s (function_every) and at once where a reading is unlike the last one
    at_start        what to send first, like ["SYST:REM"]
    terminator      lf (default), cr or crlf, behind what is sent; answers may end in any of them
    resolution      one count, where meters write more digits than they know: "0.001 V"

How replies are kept from shifting by one: nothing is asked while anything is coming; a question is sent by
`tick` only, when all that came before it has been heard; a late answer is thrown away; and after any doubt
nothing is read before the meter has answered a question whose answer has a shape of its own (the error queue,
else its identity): a meter answers in order, so all that came before that is old.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from benchtui.driver.contract import Driver, DriverOptions, LineDefaults, Out
from benchtui.driver.framing import LineFramer, text_of
from benchtui.driver.junk import Junk
from benchtui.model.notes import Trouble
from benchtui.model.readings import NO_VALUE, Flag, Readings
from benchtui.model.units import Unit

from .scpi_function import FunctionWatch, function
from .scpi_plan import Plan, read_plan
from .scpi_text import Value, error, identity, numbers

_SETTLE_NS = 300_000_000
"""So long nothing must come before a first question, or after a miss."""
_PATIENT_TIMES = 4
"""A meter that answers no question but the one for readings is waited for so many times longer after a miss:
there is no other way to tell a late answer from the next."""
_SETTLE_MOST_NS = 2_000_000_000
"""A meter that never falls silent is asked all the same."""
_PAUSE_NS = 50_000_000
"""Between a command that has no answer and what follows."""
_UNKNOWN_NS = 1_500_000_000
"""For the answer to a question that this meter may not know."""
_TRY_NS = 400_000_000
"""The same, where the error queue is there to tell when an answer is late: that one is still learnt from."""
_PATIENCE_MOST_NS = 60_000_000_000
_SAME_ERROR_NS = 60_000_000_000
_MOST_ERRORS = 20
"""Read in one go; a queue is no longer (SCPI-99 volume 2, 21.8)."""


@dataclass(frozen=True, slots=True)
class _Step:
    """One thing to send, and what is to come back."""

    text: str
    expects: str = ""
    """identity, error, function, values, or nothing."""
    after_configure: bool = False
    channels: tuple[int | None, ...] = ()
    """Where the values go."""


_IDENTIFY = _Step("*IDN?", "identity")
_ASK_ERROR = _Step("SYST:ERR?", "error")
_ASK_REFUSED = _Step("SYST:ERR?", "error", after_configure=True)


class ScpiDriver:
    """One meter that is asked. At most one question is out at any time."""

    line = LineDefaults()

    def __init__(self, plan: Plan, options: Mapping[str, Any]) -> None:
        self._plan = plan
        self.resolved: Mapping[str, Any] = {
            **options,
            "function": options.get("function", bool(plan.function)),
        }
        """What a session keeps: a log holds answers to the questions of its time, whatever is asked later."""
        self.channels: tuple[str, ...] = plan.channels
        self.units = plan.measures
        self._next = 0
        """Which of the plan's questions comes next."""
        self._round_ns = 0
        """When the first of them was sent last."""
        self._function = FunctionWatch(plan.function, plan.function_every_ns)
        self._held: tuple[Value, ...] = ()
        """A reading that is believed only when the meter has said what it is set to."""
        self._probed = False
        """Whether the error queue may hold that the meter does not know a question of ours."""
        self._framer = LineFramer(synchronised=True)
        self._junk = Junk("answer")
        self._queue: deque[_Step] = deque()
        self._state = "idle"
        """settling, pausing, waiting or idle."""
        self._wake_ns: int | None = None
        self._settle_end_ns = 0
        self._step = _Step("")
        self._asked_ns = 0
        self._value_channels: tuple[int | None, ...] = ()
        self._echo_due = False
        self._within_ns = plan.within_ns
        self._errors_on = plan.errors
        self._errors_known = False
        self._errors_ns = 0
        self._errors_read = 0
        self._strikes = 0
        self._doubt = False
        self._misses = 0
        self._asleep = True
        self._setup_answered = False
        self._valued = False
        self._identity_owed = False
        self._identity_again = False
        self._identity_known = False
        self._name = ""
        self._refused = False
        self._owed: deque[int] = deque(maxlen=8)
        self._told: dict[tuple[int, str], int] = {}
        self._told_count = False
        self._troubles: list[Trouble] = []
        self._values: list[tuple[int, Unit, Value]] = []
        self._identity = ""
        self._skipped = 0

    def start(self, at_ns: int) -> Out:
        """Waits for quiet, then sets the meter up."""
        self._skipped += len(self._framer.restart(synchronised=True))
        self._troubles += self._junk.rest(at_ns)
        self._errors_on = self._plan.errors
        self._errors_known = self._identity_known = False
        self._strikes = 0
        self._owed.clear()
        self._function.restart()
        self._fall_asleep()
        self._settle(at_ns)
        return self._out(at_ns)

    def feed(self, data: bytes, at_ns: int) -> Out:
        """Bytes: the answer that is waited for, or old ones."""
        got = self._framer.feed(data)
        if self._state == "settling":
            self._drop(data, got.lines(), at_ns)
            return self._out(at_ns)
        self._troubles += self._junk.add(got.before, at_ns)
        for line in got.lines():
            self._hear(line, at_ns)
        self._troubles += self._junk.add(got.after, at_ns)
        return self._out(at_ns)

    def tick(self, at_ns: int) -> Out:
        """Time is up for an answer, a pause, or the next question."""
        self._troubles += self._junk.tick(at_ns)
        if self._wake_ns is None or at_ns < self._wake_ns:
            return self._out(at_ns)
        if self._state == "waiting":
            self._miss(at_ns)
            return self._out(at_ns)
        return self._out(at_ns, send=self._ask(at_ns))

    @property
    def wake_ns(self) -> int | None:
        """The end of the wait for an answer, of a pause, or the next question."""
        due = [d for d in (self._wake_ns, self._junk.wake_ns) if d is not None]
        return min(due, default=None)

    def _ask(self, at_ns: int) -> bytes:
        """Sends the next step; whatever is half there is old."""
        self._skipped += len(self._framer.restart(synchronised=True))
        if self._queue:
            step = self._queue.popleft()
        elif self._doubt and self._marker is not None:
            step, self._errors_read = self._marker, 0
        elif self._errors_on and at_ns - self._errors_ns >= self._plan.errors_every_ns:
            step, self._errors_read = _ASK_ERROR, 0
        else:
            step = self._ask_values(at_ns)
        self._step, self._echo_due = step, True
        if step.expects == "values":
            self._asked_ns, self._value_channels = at_ns, step.channels
            self._held = ()
        self._state = "waiting" if step.expects else "pausing"
        self._wake_ns = at_ns + self._patience(step)
        return step.text.encode("ascii") + self._plan.end

    @property
    def _marker(self) -> _Step | None:
        """What this meter is known to answer so that it cannot be taken for a reading."""
        if self._errors_known:
            return _ASK_ERROR
        if self._identity_known:
            return _IDENTIFY
        return self._ask_function if self._function.known else None

    @property
    def _ask_function(self) -> _Step:
        return _Step(self._function.question, "function")

    def _ask_values(self, at_ns: int) -> _Step:
        """The next question for readings."""
        ask = self._plan.asks[self._next]
        if self._next == 0:
            self._round_ns = at_ns
        self._next = (self._next + 1) % len(self._plan.asks)
        return _Step(ask.text, "values", channels=ask.channels)

    def _patience(self, step: _Step) -> int:
        known = {
            "values": True,
            "identity": self._identity_known,
            "error": self._errors_known,
            "function": self._function.known,
        }
        if not step.expects:
            return _PAUSE_NS
        if step.expects == "function" and not self._function.known and self._errors_known:
            return min(self._within_ns, _TRY_NS)
        return self._within_ns if known[step.expects] else min(self._within_ns, _UNKNOWN_NS)

    def _hear(self, line: bytes, at_ns: int) -> None:
        if self._echo_due and text_of(line).strip().upper() == self._step.text.upper():
            self._echo_due = False
            return
        if self._state == "settling":  # an answer before it in the same bytes did not fit
            self._skipped += len(line)
        elif self._state != "waiting":
            self._throw_away(line, at_ns)
            self._doubt = True
        elif self._step.expects == "values":
            self._hear_values(line, at_ns)
        elif self._step.expects == "error":
            self._hear_error(line, at_ns)
        elif self._step.expects == "function":
            self._hear_function(line, at_ns)
        else:
            self._hear_identity(line, at_ns)

    def _hear_values(self, line: bytes, at_ns: int) -> None:
        values = numbers(line)
        if values is None and self._old(line):
            return
        if values is None or len(values) != len(self._step.channels):
            if values is not None:
                self._tell_count(len(values), len(self._step.channels), at_ns)
            self._troubles += self._junk.add(line, at_ns)
            self._doubt = True
            self._settle(at_ns)
            return
        self._misses = 0
        self._valued = True
        self._troubles += self._junk.good(at_ns)
        if self._asleep and not self._setup_answered and self._needs_setup:
            # It woke while it was being set up, so it may measure something else: set it up, then believe it.
            self._skipped += len(line)
            self._begin_setup()
            self._asleep = False
            self._rest(at_ns)
            return
        self._asleep = False
        if len(values) == 1 and self._function.doubts(values[0]):
            self._held = values
        else:
            self._take(values)
        if self._held or self._function.is_due(at_ns):
            self._queue.appendleft(self._ask_function)
            self._rest(at_ns)
        else:
            self._rest_until_next(at_ns)

    def _rest_until_next(self, at_ns: int) -> None:
        """Until the next question for a reading is due."""
        self._rest(at_ns if self._next else max(self._round_ns + self._plan.every_ns, at_ns))

    def _take(self, values: tuple[Value, ...]) -> None:
        """Into the channels of the question that was last asked for values."""
        for channel, value in zip(self._value_channels, values, strict=True):
            if channel is not None:
                self._values.append((channel, *self._as_measured(channel, value)))

    def _as_measured(self, channel: int, value: Value) -> tuple[Unit, Value]:
        """With the unit that it has: as the meter says, where it says so, else as the bench says."""
        if self._function.known:
            if self._function.unit is None:  # a diode test is no voltage of the set
                return Unit.UNKNOWN, Value(float("nan"), 0.0, value.flags | Flag.INVALID)
            return self._function.unit, value
        return Unit.UNKNOWN if self._refused else self._plan.measures[channel], value

    def _hear_function(self, line: bytes, at_ns: int) -> None:
        said = function(line)
        if said is None:
            self._throw_away(line, at_ns)
            return
        name, unit = said
        self._doubt = False
        self._setup_answered = True
        self._misses = 0
        if self._function.told(name, unit, at_ns) and unit is None:
            text = f"the meter is set to {name}: its readings are of no use here"
            self._troubles.append(Trouble(at_ns, "", "driver", text))
        if self._held:
            self._take(self._held)
            self._held = ()
        self._rest_until_next(at_ns)

    def _old(self, line: bytes) -> bool:
        """Whether this answers an earlier question that was given up."""
        if error(line) is None and function(line) is None:
            name = identity(line)
            if not name or not (self._identity_owed or name == self._name):
                return False
            self._know(name)
        self._skipped += len(line)
        return True

    def _hear_error(self, line: bytes, at_ns: int) -> None:
        said = error(line)
        if said is None:
            self._throw_away(line, at_ns)
            return
        self._doubt = False
        self._errors_known = self._setup_answered = True
        self._misses = 0
        self._errors_ns = at_ns
        self._errors_read += 1
        if said[0] == 0:
            self._probed = False
        if said[0] != 0:
            if not (self._probed and -199 <= said[0] <= -100):  # it does not know a question that was a try
                self._tell_error(said, at_ns)
            if self._errors_read < _MOST_ERRORS:
                self._queue.appendleft(_ASK_ERROR)
            if self._step.after_configure:
                self._refuse(at_ns)
        elif self._identity_owed and not self._identity_again:
            self._identity_again = True  # it was asleep when it was asked
            self._queue.appendleft(_IDENTIFY)
        self._rest(at_ns)

    def _hear_identity(self, line: bytes, at_ns: int) -> None:
        name = identity(line) if function(line) is None else ""
        if not name:
            self._throw_away(line, at_ns)
            return
        self._know(name)
        self._doubt = False
        self._misses = 0
        self._rest(at_ns)

    def _know(self, name: str) -> None:
        self._identity = self._name = name
        self._identity_owed = False
        self._identity_known = self._setup_answered = True

    def _refuse(self, at_ns: int) -> None:
        """The meter did not take its function: what its values are is not known."""
        self._refused = True
        if self._function.question:
            self._queue.append(self._ask_function)
        text = (
            f"the meter refused {self._plan.configure}: its readings are kept without a unit; "
            "if it measures nothing else anyway, write configure = false"
        )
        self._troubles.append(Trouble(at_ns, "", "driver", text))

    def _rest(self, until_ns: int) -> None:
        self._state, self._wake_ns = "idle", until_ns

    def _miss(self, at_ns: int) -> None:
        """No answer came in time."""
        expected = self._step.expects
        self._misses += 1
        self._doubt = True
        patience_ns = 0
        if expected == "values":
            self._owed.append(self._asked_ns)
            patience_ns = self._within_ns * (1 if self._marker is not None else _PATIENT_TIMES)
            if self._misses >= 2:
                self._fall_asleep()
        elif expected == "identity":
            self._identity_owed = True
            if self._identity_known:
                self._fall_asleep()
        elif expected == "function":
            self._miss_function(at_ns)
        elif self._errors_known:
            self._fall_asleep()
        else:
            self._strike(at_ns)
        self._settle(at_ns, patience_ns)

    def _miss_function(self, at_ns: int) -> None:
        """A meter that has answered this before is gone; one that has not may not know the question."""
        self._held = ()
        if self._function.known:
            self._fall_asleep()
            return
        self._function.missed(at_ns)
        self._probed = True
        if self._errors_known:
            self._queue.appendleft(_ASK_ERROR)

    def _strike(self, at_ns: int) -> None:
        """It may not know this question: after two in vain, with readings between, it is left alone."""
        if self._valued:
            self._strikes += 1
            self._valued = False
        self._errors_on = self._strikes < 2
        self._errors_ns = at_ns

    def _settle(self, at_ns: int, patience_ns: int = 0) -> None:
        """Throws away what comes until nothing has come for a while; waits so long for anything to come."""
        self._state = "settling"
        self._wake_ns = at_ns + max(patience_ns, _SETTLE_NS)
        self._settle_end_ns = max(self._wake_ns, at_ns + _SETTLE_MOST_NS)

    def _drop(self, data: bytes, lines: list[bytes], at_ns: int) -> None:
        self._skipped += len(data)
        self._wake_ns = min(at_ns + _SETTLE_NS, self._settle_end_ns)
        for line in lines:
            self._learn_late(line, at_ns)

    def _learn_late(self, line: bytes, at_ns: int) -> None:
        """An answer that comes when it is not waited for any more."""
        if numbers(line) is not None:
            self._come_late(at_ns)
        elif (said := function(line)) is not None:
            self._function.told_late(*said, at_ns)

    def _throw_away(self, line: bytes, at_ns: int) -> None:
        """A line that answers no question that is out; an old answer is reason for more patience."""
        self._skipped += len(line)
        self._learn_late(line, at_ns)

    def _come_late(self, at_ns: int) -> None:
        """An answer that had been given up: wait twice as long from now on, also for any other still owed."""
        while self._owed and at_ns - self._owed[0] > 8 * self._within_ns:
            self._owed.popleft()
        if not self._owed:
            return
        took = at_ns - self._owed.popleft()
        self._within_ns = min(max(self._within_ns, 2 * took), _PATIENCE_MOST_NS)
        if self._owed and self._state == "settling":
            self._settle_end_ns = self._wake_ns = self._owed[-1] + self._within_ns

    def _fall_asleep(self) -> None:
        """Nobody is there: when it answers again it may have been switched off, so it is set up again."""
        self._asleep = True
        self._setup_answered = self._identity_again = False
        self._begin_setup()

    @property
    def _needs_setup(self) -> bool:
        return bool(self._plan.configure or self._plan.at_start or self._plan.function)

    def _begin_setup(self) -> None:
        self._queue.clear()
        self._held = ()
        self._next = 0
        self._refused = self._probed = False
        self._errors_read = 0
        self._queue.extend(_Step(text) for text in self._plan.at_start)
        if self._plan.identify:
            self._queue.append(_IDENTIFY)
        if self._errors_on:
            self._queue.append(_ASK_ERROR)  # old errors are not to be taken for an answer to what follows
        if self._plan.configure:
            self._queue.append(_Step(self._plan.configure))
            if self._errors_on:
                self._queue.append(_ASK_REFUSED)
        if not self._function.known:
            self._function.restart()
        if self._function.question and Unit.UNKNOWN in self._plan.measures:
            self._queue.append(self._ask_function)

    def _tell_error(self, said: tuple[int, str], at_ns: int) -> None:
        """Once a minute for the same error."""
        told = self._told.get(said)
        if told is not None and at_ns - told < _SAME_ERROR_NS:
            return
        if len(self._told) >= 64:
            self._told.clear()
        self._told[said] = at_ns
        text = f"the meter reports error {said[0]}: {said[1]}"
        self._troubles.append(Trouble(at_ns, "", "driver", text))

    def _tell_count(self, count: int, named: int, at_ns: int) -> None:
        if not self._told_count:
            self._told_count = True
            text = f"its answers hold {count} values, the bench entry names {named}: name them in `channels`"
            self._troubles.append(Trouble(at_ns, "", "driver", text))

    def _out(self, at_ns: int, send: bytes = b"") -> Out:
        """Everything gathered since the last call."""
        readings = self._readings(at_ns) if self._values else Readings.empty()
        out = Out(readings, tuple(self._troubles), send, self._identity, self._skipped)
        self._values.clear()
        self._troubles.clear()
        self._identity, self._skipped = "", 0
        return out

    def _readings(self, at_ns: int) -> Readings:
        fixed = self._plan.resolution
        values = [value for _, _, value in self._values]
        return Readings.of(
            [at_ns] * len(values),
            [channel for channel, _, _ in self._values],
            [int(unit) for _, unit, _ in self._values],
            [v.value for v in values],
            [fixed if fixed is not None and not v.flags & NO_VALUE else v.resolution for v in values],
            [v.flags for v in values],
        )


def open_driver(options: DriverOptions) -> Driver:
    """A driver for one meter that is asked in SCPI.

    Raises:
        DriverError: an option is unknown or wrong.
    """
    return ScpiDriver(read_plan(options), options.options)
