"""Panel meters and power meters on a Modbus RTU line, by a table of their registers.

Options:

    register        [[meter.register]], one for each quantity:
      name            of its channel: the point that it reads; needed where there are several
      station         its address on the line, 1 to 247; the entry's own `station` where it is left out
      number          like 30001 or 40001; or function (3 or 4) and address (from 0)
      type            int16, uint16, int32, uint32 or float32
      order           of its bytes: AB, BA; ABCD, CDAB, BADC, DCBA; A is the highest
      scale, unit     what one count is: scale = 0.1, unit = "V"
      resolution      one count of the display, where it is coarser: "0.1 V"
      overload        what stands there when there is no value: [0x7FFF]
    station         for registers that name none
    every           how often all are read: "1 s"; answer_within: how long to wait for an answer: "1 s"
    pause           silence between an answer and the next question: "20 ms"; below 2400 baud "40 ms"
    join            false: one request for each register
    echo            false: never ask a station to return a number (function 8, which only tests the line)

How answers are kept from shifting by one: one question is out at a time; an answer must have its station,
function, length and CRC; after a miss its answer is waited for, and where the station can, it is asked to
return a number before anything else: it answers in order, so all that came before that is old.
"""

from __future__ import annotations

from collections import deque

from benchtui.driver.contract import Driver, DriverOptions, LineDefaults, Out

from .frames_junk import FrameJunk
from .gathered import Gathered
from .modbus_frames import ECHO, EXCEPTIONS, LONGEST, Reply, Request, answers_in, reply_to
from .modbus_plan import Plan, Question, read_plan
from .modbus_station import Station

_SETTLE_NS = 200_000_000
"""So long nothing must come before a first question."""
_SETTLE_MOST_NS = 2_000_000_000
"""A line that never falls silent is used all the same."""
_HELD = 2 * LONGEST


class ModbusDriver:
    """All stations of one line. At most one question is out at any time."""

    line = LineDefaults(baud=19200, parity="even")

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self.channels: tuple[str, ...] = tuple(r.name for r in plan.registers)
        self.units = tuple(r.unit for r in plan.registers)
        self._stations = {q.request.station: Station.fresh(plan.within_ns) for q in plan.questions}
        self._round: deque[Question] = deque()
        self._round_ns = 0
        self._state = "idle"
        """settling, waiting or idle."""
        self._wake_ns: int | None = None
        self._settle_end_ns = 0
        self._out: Question | None = None
        """The question that is out; None beside a request to return a number."""
        self._request: Request | None = None
        self._heard = b""
        self._echoes = False
        """Whether the line returns what is sent on it, as adapters with two wires can."""
        self._number = 0
        self._junk = FrameJunk()
        self._gathered = Gathered()

    def start(self, at_ns: int) -> Out:
        """Waits for quiet, then asks."""
        self._gathered.skipped += len(self._heard)
        self._heard = b""
        self._gathered.troubles(self._junk.rest(at_ns))
        self._stations = {s: Station.fresh(self._plan.within_ns) for s in self._stations}
        self._round.clear()
        self._round_ns = at_ns
        self._settle(at_ns, _SETTLE_NS)
        return self._gathered.out(at_ns)

    def feed(self, data: bytes, at_ns: int) -> Out:
        """Bytes: the answer that is waited for, or old ones."""
        self._heard += data
        if self._state != "waiting":
            self._throw_away(at_ns)
            return self._gathered.out(at_ns)
        assert self._request is not None
        start = self._own_echo(self._request)
        reply = reply_to(self._request, self._heard, start)
        if reply is not None:
            self._take(self._request, reply, start, at_ns)
        elif len(self._heard) > _HELD:
            lost, self._heard = self._heard[:-LONGEST], self._heard[-LONGEST:]
            self._gathered.troubles(self._junk.add(lost, at_ns))
        return self._gathered.out(at_ns)

    def tick(self, at_ns: int) -> Out:
        """Time is up for an answer, a silence, or the next question."""
        self._gathered.troubles(self._junk.tick(at_ns))
        if self._wake_ns is None or at_ns < self._wake_ns:
            return self._gathered.out(at_ns)
        if self._state == "waiting":
            self._miss(at_ns)
            return self._gathered.out(at_ns)
        return self._gathered.out(at_ns, self._ask(at_ns))

    @property
    def wake_ns(self) -> int | None:
        """The end of the wait for an answer, of a silence, or the next question."""
        due = [d for d in (self._wake_ns, self._junk.wake_ns) if d is not None]
        return min(due, default=None)

    def _ask(self, at_ns: int) -> bytes:
        """Sends the next question; whatever is half there is old."""
        self._gathered.skipped += len(self._heard)
        self._heard = b""
        question = self._next(at_ns)
        if question is None:
            return b""
        station = self._stations[question.request.station]
        self._out, self._request = question, question.request
        if station.doubt and self._plan.echo and station.may_return:
            self._number = (self._number + 1) & 0xFFFF
            self._round.appendleft(question)
            self._out, self._request = None, Request(question.request.station, ECHO, 0, self._number)
        else:
            station.doubt = False
        self._state, self._wake_ns = "waiting", at_ns + station.within_ns
        return self._request.frame

    def _next(self, at_ns: int) -> Question | None:
        """The next of this round, or the first of the next; None, with the time set, if it is too early."""
        if not self._round:
            if at_ns < self._round_ns:
                self._state, self._wake_ns = "idle", self._round_ns
                return None
            self._round_ns = max(self._round_ns + self._plan.every_ns, at_ns)
            awake = [q for q in self._plan.questions if at_ns >= self._of(q).rests_until_ns]
            if not awake:
                soonest = min(station.rests_until_ns for station in self._stations.values())
                self._state, self._wake_ns = "idle", max(self._round_ns, soonest, at_ns + 1)
                return None
            self._round.extend(awake)
        return self._round.popleft()

    def _of(self, question: Question) -> Station:
        return self._stations[question.request.station]

    def _own_echo(self, request: Request) -> int:
        """Where the answer can begin: behind our own question, if the line returns it."""
        sent = request.frame
        if not self._heard.startswith(sent):
            return 0
        if request.function != ECHO:
            self._echoes = True
        return len(sent) if self._echoes else 0

    def _take(self, request: Request, reply: Reply, start: int, at_ns: int) -> None:
        """The answer has come; what came before it is old or junk, what came behind it is unasked."""
        heard, self._heard = self._heard, b""
        self._sort_out(heard[start : reply.start], at_ns)
        self._gathered.skipped += start
        sure = self._stations[request.station].heard(marker=self._out is None)
        self._gathered.troubles(self._junk.good(at_ns, 1))
        if self._out is not None and sure:
            self._read(self._out, reply, at_ns)
        elif self._out is not None:
            self._gathered.skipped += reply.end - reply.start  # of which question, nobody knows
        self._out = self._request = None
        self._state, self._wake_ns = "idle", at_ns + self._plan.pause_ns
        if heard[reply.end :]:
            self._heard = heard[reply.end :]
            self._throw_away(at_ns)

    def _read(self, question: Question, reply: Reply, at_ns: int) -> None:
        request = question.request
        if reply.exception:
            self._refused(question, reply.exception, at_ns)
            return
        for channel, register in question.holds:
            first = 2 * (register.address - request.address)
            read = register.read(reply.data[first : first + 2 * register.count])
            self._gathered.reading(channel, register.unit, read.value, read.resolution, read.flags)

    def _refused(self, question: Question, code: int, at_ns: int) -> None:
        request = question.request
        names = ", ".join(f"“{r.name}”" for _, r in question.holds if r.name)
        what = f" ({names})" if names else ""
        kind = "input" if request.function == 4 else "holding"
        why = EXCEPTIONS.get(code, "an exception that the standard does not name")
        self._gathered.tell_once(
            f"station {request.station} refuses {request.count} {kind} register"
            f"{'s' if request.count > 1 else ''} from {request.address}{what}: {why} (exception {code})",
            at_ns,
        )

    def _miss(self, at_ns: int) -> None:
        """No answer came in time."""
        assert self._request is not None
        number = self._request.station
        station = self._stations[number]
        start = self._own_echo(self._request)
        self._gathered.skipped += start
        self._sort_out(self._heard[start:], at_ns)
        self._heard = b""
        may_return = self._plan.echo and station.may_return
        quiet_ns = station.missed(marker=self._out is None, may_return=may_return)
        if station.falls_asleep(at_ns, self._plan.every_ns):
            self._round = deque(q for q in self._round if q.request.station != number)
            if station.has_just_gone:
                told = "does not answer: check its address, the speed and parity, and the wires"
                self._gathered.tell_once(f"station {number} {told}", at_ns)
        self._out = self._request = None
        self._settle(at_ns, quiet_ns)

    def _settle(self, at_ns: int, quiet_ns: int) -> None:
        """Throws away what comes until nothing has come for a while."""
        self._state = "settling"
        self._wake_ns = at_ns + quiet_ns
        self._settle_end_ns = max(self._wake_ns, at_ns + _SETTLE_MOST_NS)

    def _throw_away(self, at_ns: int) -> None:
        """Bytes that answer no question that is out; a whole answer among them is a late one."""
        late = answers_in(self._heard)
        if late:
            end = late[-1][1]
            self._sort_out(self._heard[:end], at_ns)
            self._heard = self._heard[end:]
        if len(self._heard) > LONGEST:
            self._gathered.skipped += len(self._heard) - LONGEST
            self._heard = self._heard[-LONGEST:]
        if self._state == "settling":
            self._wake_ns = max(self._wake_ns or 0, min(at_ns + _SETTLE_NS, self._settle_end_ns))
        elif late:
            self._settle(at_ns, _SETTLE_NS)

    def _sort_out(self, old: bytes, at_ns: int) -> None:
        """Bytes beside an answer: late answers are skipped and reason for patience; the rest is junk."""
        at = 0
        for start, end in answers_in(old):
            self._lost(old[at:start], at_ns)
            self._gathered.skipped += end - start
            at = end
            station = self._stations.get(old[start])
            if station is not None:
                station.late()
                if old[start + 1] & 0x7F == ECHO and not self._echoes:
                    station.returns = True
        self._lost(old[at:], at_ns)

    def _lost(self, data: bytes, at_ns: int) -> None:
        if self._state == "waiting":
            self._gathered.troubles(self._junk.add(data, at_ns) if data else ())
        else:
            self._gathered.skipped += len(data)


def open_driver(options: DriverOptions) -> Driver:
    """A driver for the meters on one Modbus line.

    Raises:
        DriverError: an option is unknown or wrong; with every mistake.
    """
    return ModbusDriver(read_plan(options))
