"""A simulated bench on simulated cables: every byte with its instant, no thread and no clock.

The meters and the drivers are the real ones; between them stands a queue in order of time. What comes out is
the wire log that a live session with the same set would have written.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from benchtui.chart.bench_file import read_bench
from benchtui.chart.chart_file import read_chart
from benchtui.driver.contract import Out
from benchtui.driver.listener import Listener
from benchtui.model.notes import Note
from benchtui.port.hookup import hook_up
from benchtui.sim.demo_bench import bench_text
from benchtui.sim.faults import Fault
from benchtui.sim.mains import STEPS_PER_S
from benchtui.sim.run import Run
from benchtui.sim.setup import Setup
from benchtui.sim.simulate import chart_text, marks_of
from benchtui.sim.talker import Talker, Voice
from benchtui.store.wirelog import Header, WireLog

_STEP_NS = 1_000_000_000 // STEPS_PER_S
_CHARACTER_NS = 1_041_667
"""Ten bits at 9600 baud."""
STARTED = "1957-10-04T19:30:00+00:00"


@dataclass(slots=True)
class _Cable:
    """One meter, its driver, and what is on the way between them."""

    talker: Talker
    listener: Listener
    name: str
    on_the_way: list[tuple[int, int, bytes]] = field(default_factory=list)


def record(
    path: Path, setup: Setup, voices: Sequence[Voice], faults: Sequence[Fault], duration_s: float
) -> Run:
    """Writes a wire log of this set; gives the run that it was made from."""
    ports = [f"COM{n}" for n in range(3, 3 + len(voices))]
    chart, bench = chart_text(setup.rectifier), bench_text(voices, ports)
    hookup = hook_up(read_bench(bench, "bench"), read_chart(chart, "chart"))
    descriptions = tuple(m.description for m in hookup.meters)
    log = WireLog(path, Header(STARTED, hookup.channels, descriptions, chart, bench))
    session = _Session(log, setup.run(faults), setup.seed)
    for voice, meter in zip(voices, hookup.meters, strict=True):
        session.cables.append(_Cable(Talker(voice, setup.seed), meter.listener, voice.model.name))
    session.go_through(hookup.leads, duration_s)
    if log.problem:
        raise OSError(log.problem)
    return session.run


class _Session:
    """Goes through simulated time, 20 ms a turn."""

    def __init__(self, log: WireLog, run: Run, seed: int) -> None:
        self.log, self.run = log, run
        self.cables: list[_Cable] = []
        self._rng = np.random.default_rng([seed, 0x10])
        self._stamp = 0
        self._order = 0

    def go_through(self, leads: Sequence[Note], duration_s: float) -> None:
        for lead in leads:
            self.log.note(lead)
        for cable in self.cables:
            at = self._instant(0)
            self.log.event(at, cable.name, "start")
            self._send(cable, at, [cable.listener.start(at)])
        for step in range(1, round(duration_s * STEPS_PER_S) + 1):
            self._turn(step)
            if step % STEPS_PER_S == 0:
                self.log.upto(self._instant(step * _STEP_NS))
        self.log.end(self._instant(round(duration_s * 1e9)))

    def _turn(self, step: int) -> None:
        done = len(self.run.done)
        self.run.go_to(step)
        for mark in marks_of(self.run.done[done:]):
            if mark.kind == "tap":
                self.log.note(type(mark)(self._instant(mark.t_ns), mark.kind, mark.note))
        trace = None
        for cable in self.cables:
            if cable.talker.meter.due_s < step / STEPS_PER_S:
                trace = self.run.trace() if trace is None else trace
                for t_ns, data in cable.talker.say(trace, self.run.first_step, step):
                    self._put(cable, t_ns, data)
        while (due := self._next(step * _STEP_NS)) is not None:
            self._deliver(due)
        self.run.forget(step - 12 * STEPS_PER_S)

    def _next(self, before_ns: int) -> _Cable | None:
        """The cable on which something happens next, if before this instant."""
        soonest = [(self._when(c), i) for i, c in enumerate(self.cables)]
        at, i = min(soonest)
        return self.cables[i] if at < before_ns else None

    def _when(self, cable: _Cable) -> int:
        wake = cable.listener.wake_ns
        coming = cable.on_the_way[0][0] if cable.on_the_way else 1 << 62
        return min(coming, 1 << 62 if wake is None else wake)

    def _deliver(self, cable: _Cable) -> None:
        """One call of the meter's listener, as a link makes it."""
        wake = cable.listener.wake_ns
        outs = []
        if cable.on_the_way and (wake is None or cable.on_the_way[0][0] <= wake):
            t_ns, _, data = heapq.heappop(cable.on_the_way)
            at = self._instant(t_ns)
            self.log.rx(at, cable.name, data)
            outs.append(cable.listener.feed(data, at))
            wake = cable.listener.wake_ns
        else:
            at = self._instant(wake or 0)
        if wake is not None and wake <= at:
            self.log.event(at, cable.name, "tick")
            outs.append(cable.listener.tick(at))
        self._send(cable, at, outs)

    def _send(self, cable: _Cable, at: int, outs: Sequence[Out]) -> None:
        send = b"".join(out.send for out in outs)
        if send:
            self.log.tx(at, cable.name, send)
            arrives = at + len(send) * _CHARACTER_NS
            answer = cable.talker.hear(send, arrives / 1e9)
            if answer:
                self._put(cable, arrives, answer)

    def _put(self, cable: _Cable, t_ns: int, data: bytes) -> None:
        """Sends bytes on their way; now and then the port hands them over in two pieces."""
        late = int(self._rng.integers(0, 2_000_000))
        cut = (
            int(self._rng.integers(1, len(data)))
            if len(data) > 2 and self._rng.random() < 0.05
            else len(data)
        )
        begins = max(t_ns, cable.on_the_way[-1][0] - 1 if cable.on_the_way else 0)
        for piece, upto in ((data[:cut], cut), (data[cut:], len(data))):
            if piece:
                self._order += 1
                heapq.heappush(cable.on_the_way, (begins + upto * _CHARACTER_NS + late, self._order, piece))

    def _instant(self, t_ns: int) -> int:
        """An instant that nothing else has."""
        self._stamp = max(self._stamp + 1, t_ns)
        return self._stamp
