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

from collections.abc import Mapping
from typing import Any

from benchtui.driver.contract import Driver, DriverOptions, LineDefaults, Out
from benchtui.driver.framing import LineFramer, text_of
from benchtui.driver.junk import Junk

from .gathered import Gathered
from .scpi_agenda import Agenda
from .scpi_function import FunctionWatch, function
from .scpi_known import Known
from .scpi_patience import Patience
from .scpi_plan import Plan, read_plan
from .scpi_step import ASK_ERROR, IDENTIFY, Step
from .scpi_text import error, identity, numbers
from .scpi_values import Values

_SETTLE_NS = 300_000_000
"""So long nothing must come before a first question, or after a miss."""
_SETTLE_MOST_NS = 2_000_000_000
"""A meter that never falls silent is asked all the same."""


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
        self._function = FunctionWatch(plan.function, plan.function_every_ns)
        self._known = Known(self._function, errors=plan.errors, errors_every_ns=plan.errors_every_ns)
        self._agenda = Agenda(plan, self._known)
        self._patience = Patience(plan.within_ns)
        self._gathered = Gathered()
        self._values = Values(plan, self._function, self._gathered)
        self._framer = LineFramer(synchronised=True)
        self._junk = Junk("answer")
        self._state = "idle"
        """settling, pausing, waiting or idle."""
        self._wake_ns: int | None = None
        self._settle_end_ns = 0
        self._step = Step("")
        self._asked_ns = 0
        self._echo_due = False
        self._doubt = False
        self._misses = 0
        self._asleep = True
        self._setup_answered = False
        self._told_count = False

    def start(self, at_ns: int) -> Out:
        """Waits for quiet, then sets the meter up."""
        self._gathered.skipped += len(self._framer.restart(synchronised=True))
        self._gathered.troubles(self._junk.rest(at_ns))
        self._known.restart()
        self._patience.restart()
        self._fall_asleep()
        self._settle(at_ns)
        return self._gathered.out(at_ns)

    def feed(self, data: bytes, at_ns: int) -> Out:
        """Bytes: the answer that is waited for, or old ones."""
        got = self._framer.feed(data)
        if self._state == "settling":
            self._drop(data, got.lines(), at_ns)
            return self._gathered.out(at_ns)
        self._gathered.troubles(self._junk.add(got.before, at_ns))
        for line in got.lines():
            self._hear(line, at_ns)
        self._gathered.troubles(self._junk.add(got.after, at_ns))
        return self._gathered.out(at_ns)

    def tick(self, at_ns: int) -> Out:
        """Time is up for an answer, a pause, or the next question."""
        self._gathered.troubles(self._junk.tick(at_ns))
        if self._wake_ns is None or at_ns < self._wake_ns:
            return self._gathered.out(at_ns)
        if self._state == "waiting":
            self._miss(at_ns)
            return self._gathered.out(at_ns)
        return self._gathered.out(at_ns, send=self._ask(at_ns))

    @property
    def wake_ns(self) -> int | None:
        """The end of the wait for an answer, of a pause, or the next question."""
        due = [d for d in (self._wake_ns, self._junk.wake_ns) if d is not None]
        return min(due, default=None)

    def _ask(self, at_ns: int) -> bytes:
        """Sends the next step; whatever is half there is old."""
        self._gathered.skipped += len(self._framer.restart(synchronised=True))
        step = self._agenda.step(at_ns, doubt=self._doubt)
        self._step, self._echo_due = step, True
        if step.expects == "values":
            self._asked_ns = at_ns
            self._values.asked(step.channels)
        self._state = "waiting" if step.expects else "pausing"
        self._wake_ns = at_ns + self._patience.for_step(step, self._known)
        return step.text.encode("ascii") + self._plan.end

    def _hear(self, line: bytes, at_ns: int) -> None:
        if self._echo_due and text_of(line).strip().upper() == self._step.text.upper():
            self._echo_due = False
            return
        if self._state == "settling":  # an answer before it in the same bytes did not fit
            self._gathered.skipped += len(line)
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
            self._gathered.troubles(self._junk.add(line, at_ns))
            self._doubt = True
            self._settle(at_ns)
            return
        self._misses = 0
        self._known.valued()
        self._gathered.troubles(self._junk.good(at_ns))
        if self._asleep and not self._setup_answered and self._needs_setup:
            # It woke while it was being set up, so it may measure something else: set it up, then believe it.
            self._gathered.skipped += len(line)
            self._begin_setup()
            self._asleep = False
            self._rest(at_ns)
            return
        self._asleep = False
        unproven = self._doubt and self._known.marker is None and bool(self._function.question)
        self._values.answered(values, doubted=unproven)
        if self._values.held or self._function.is_due(at_ns):
            self._agenda.first(self._known.ask_function)
            self._rest(at_ns)
        else:
            self._rest(self._agenda.next_values_ns(at_ns))

    def _tell_count(self, count: int, named: int, at_ns: int) -> None:
        if not self._told_count:
            self._told_count = True
            text = f"its answers hold {count} values, the bench entry names {named}: name them in `channels`"
            self._gathered.tell(text, at_ns)

    def _hear_function(self, line: bytes, at_ns: int) -> None:
        said = function(line)
        if said is None:
            self._throw_away(line, at_ns)
            return
        name, unit = said
        doubted = self._doubt
        self._answered()
        self._setup_answered = True
        if self._function.told(name, unit, at_ns) and unit is None:
            self._gathered.tell(f"the meter is set to {name}: its readings are of no use here", at_ns)
        if doubted:  # what was read just now may have answered an earlier question
            self._values.drop()
        else:
            self._values.release()
        self._rest(self._agenda.next_values_ns(at_ns))

    def _hear_error(self, line: bytes, at_ns: int) -> None:
        said = error(line)
        if said is None:
            self._throw_away(line, at_ns)
            return
        self._answered()
        self._setup_answered = True
        none = said[0] == 0
        more = self._known.told_errors(at_ns, none=none)
        if not none:
            if not (self._known.probed and -199 <= said[0] <= -100):  # it does not know what was a try
                self._gathered.tell_once(f"the meter reports error {said[0]}: {said[1]}", at_ns)
            if more:
                self._agenda.first(ASK_ERROR)
            if self._step.after_configure:
                self._refuse(at_ns)
        elif self._known.identity_owed and not self._known.identity_again:
            self._known.identity_again = True  # it was asleep when it was asked
            self._agenda.first(IDENTIFY)
        self._rest(at_ns)

    def _hear_identity(self, line: bytes, at_ns: int) -> None:
        name = identity(line) if function(line) is None else ""
        if not name:
            self._throw_away(line, at_ns)
            return
        self._know(name)
        self._answered()
        self._rest(at_ns)

    def _answered(self) -> None:
        """A question whose answer can be of no other: nothing from before it is still to come."""
        self._doubt, self._misses = False, 0

    def _know(self, name: str) -> None:
        self._gathered.identity = name
        self._known.told_name(name)
        self._setup_answered = True

    def _refuse(self, at_ns: int) -> None:
        """The meter did not take its function: what its values are is not known."""
        self._values.refused = True
        if self._function.question:
            self._agenda.last(self._known.ask_function)
        self._gathered.tell(
            f"the meter refused {self._plan.configure}: its readings are kept without a unit; "
            "if it measures nothing else anyway, write configure = false",
            at_ns,
        )

    def _rest(self, until_ns: int) -> None:
        self._state, self._wake_ns = "idle", until_ns

    def _miss(self, at_ns: int) -> None:
        """No answer came in time."""
        expected, known = self._step.expects, self._known
        self._misses += 1
        self._doubt = True
        patience_ns = 0
        if expected == "values":
            patience_ns = self._patience.missed(self._asked_ns, known)
            if self._misses >= 2:
                self._fall_asleep()
        elif expected == "identity":
            known.identity_owed = True
            if known.identity:
                self._fall_asleep()
        elif expected == "function":
            self._miss_function(at_ns)
        elif known.errors:
            self._fall_asleep()
        else:
            known.missed_errors(at_ns)
        self._settle(at_ns, patience_ns)

    def _miss_function(self, at_ns: int) -> None:
        """A meter that has answered this before is gone; one that has not may not know the question."""
        self._values.drop()
        if self._function.known:
            self._fall_asleep()
            return
        self._function.missed(at_ns)
        self._known.probed = True
        if self._known.errors:
            self._agenda.first(ASK_ERROR)

    def _settle(self, at_ns: int, patience_ns: int = 0) -> None:
        """Throws away what comes until nothing has come for a while; waits so long for anything to come."""
        self._state = "settling"
        self._wake_ns = at_ns + max(patience_ns, _SETTLE_NS)
        self._settle_end_ns = max(self._wake_ns, at_ns + _SETTLE_MOST_NS)

    def _old(self, line: bytes) -> bool:
        """Whether this answers an earlier question that was given up."""
        if error(line) is None and function(line) is None:
            name = identity(line)
            if not name or not (self._known.identity_owed or name == self._known.name):
                return False
            self._know(name)
        self._gathered.skipped += len(line)
        return True

    def _drop(self, data: bytes, lines: list[bytes], at_ns: int) -> None:
        self._gathered.skipped += len(data)
        self._wake_ns = min(at_ns + _SETTLE_NS, self._settle_end_ns)
        for line in lines:
            self._learn_late(line, at_ns)

    def _throw_away(self, line: bytes, at_ns: int) -> None:
        """A line that answers no question that is out; an old answer is reason for more patience."""
        self._gathered.skipped += len(line)
        self._learn_late(line, at_ns)

    def _learn_late(self, line: bytes, at_ns: int) -> None:
        """An answer that comes when it is not waited for any more."""
        if numbers(line) is not None:
            until_ns = self._patience.late(at_ns, settling=self._state == "settling")
            if until_ns is not None:
                self._settle_end_ns = self._wake_ns = until_ns
        elif (said := function(line)) is not None:
            self._function.told_late(*said, at_ns)

    def _fall_asleep(self) -> None:
        """Nobody is there: when it answers again it may have been switched off, so it is set up again."""
        self._asleep = True
        self._setup_answered = self._known.identity_again = False
        self._begin_setup()

    @property
    def _needs_setup(self) -> bool:
        return bool(self._plan.configure or self._plan.at_start or self._plan.function)

    def _begin_setup(self) -> None:
        self._values.drop()
        self._values.refused = False
        self._known.begin()
        self._agenda.begin()


def open_driver(options: DriverOptions) -> Driver:
    """A driver for one meter that is asked in SCPI.

    Raises:
        DriverError: an option is unknown or wrong.
    """
    return ScpiDriver(read_plan(options), options.options)
