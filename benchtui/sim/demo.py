"""The simulated bench, live: the set runs on a clock and its meters speak over real cables."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable, Sequence

from .catalogue import FAULTS, make_fault
from .demo_bench import bench_text, demo_voices
from .faults import Fault
from .mains import STEPS_PER_S, MainsCharacter
from .run import Run
from .script import Act
from .setup import Setup
from .simulate import chart_text
from .talker import Talker, Voice
from .wires import Wire, open_wire

RUN_S, PAUSE_S, ROUNDS = 240.0, 35.0, 300
"""The power stays for RUN_S and comes back after PAUSE_S: a day of that."""
DEMO_SEED = 4
_KEPT_S = 12
_AT_ONCE = 50 * STEPS_PER_S
_TURN_S = 0.008


def comes_on_s(speed: float = 1.0) -> float:
    """When the power comes on by itself: two seconds or so, and the half second in which ports are opened."""
    return min(2.0 + 0.5 * speed, 50.0)


def demo_script(on_s: float) -> tuple[Act, ...]:
    """The power of the demo: on, off, on again, for about a day."""
    acts: list[Act] = []
    for start in (on_s + i * (RUN_S + PAUSE_S) for i in range(ROUNDS)):
        acts += [Act(start, "on"), Act(start + RUN_S, "off")]
    return tuple(acts)


def demo_faults(fault: str | None, seed: int, on_s: float = comes_on_s()) -> list[Fault]:
    """What is wrong with the demo's set.

    Args:
        fault: None: an aged pilot and a dry joint in the regulator's feed; `healthy`: nothing; `pilot` or
            `regulator`: the one or the other; else a name of the catalogue, from a minute after power-on.
        seed: of the faults' own moods.
        on_s: when the power comes on.

    Raises:
        ValueError: there is no fault of that name.
    """
    joint = {"opens_at_c": 39.5, "own_heat_c": 14.0}
    if fault == "healthy":
        return []
    if fault is None or fault in ("pilot", "regulator"):
        made = [] if fault == "regulator" else [make_fault("pilot_aged", amount=55.0, seed=seed)]
        return made if fault == "pilot" else [*made, make_fault("regulator_joint", seed=seed, **joint)]
    at_once = fault in FAULTS and FAULTS[fault].how in ("lamp", "joint")
    return [make_fault(fault, at_s=0.0 if at_once else on_s + 60.0, seed=seed)]


class DemoBench:
    """A running demo. Made by `start_demo`; every method may be called from any thread."""

    chart_text: str
    """The chart of the set."""
    bench_text: str
    """The bench file, ports filled in."""

    def __init__(
        self, setup: Setup, faults: Sequence[Fault], voices: Sequence[Voice], now_ns: Callable[[], int],
        speed: float, transport: str | None,
    ) -> None:  # fmt: skip
        self.faults = tuple(faults)
        self._wires: list[Wire] = []
        try:
            self._wires.extend(open_wire(transport) for _ in voices)
        except BaseException:
            self._close_wires()
            raise
        self.ports = tuple(wire.port for wire in self._wires)
        self.chart_text = chart_text(setup.rectifier)
        self.bench_text = bench_text(voices, self.ports)
        self._talkers = [Talker(voice, setup.seed) for voice in voices]
        self._run: Run = setup.run(self.faults)
        self._now_ns = now_ns
        self._turn_s = max(0.001, min(_TURN_S, 0.05 / speed))
        self._acts: deque[Act] = deque()
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._live, name="simulated set", daemon=True)
        self._thread.start()

    def tap(self) -> None:
        """The technician taps the chassis: it reaches the model within a step or two."""
        self.do("tap")

    def do(self, what: str, *, value: float = 0.0, name: str = "") -> None:
        """Does something to the set as soon as it can: on, off, variac, tap or replace (see script.Act)."""
        self._acts.append(Act(0.0, what, "", value, name))

    @property
    def seconds(self) -> float:
        """How far the simulated time has come."""
        return self._run.receiver.seconds

    def close(self) -> None:
        """Ends the simulation and pulls every cable. A second call does nothing."""
        if not self._closing.is_set():
            self._closing.set()
            self._thread.join(5.0)
            self._close_wires()

    def __enter__(self) -> DemoBench:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _close_wires(self) -> None:
        for wire in self._wires:
            wire.close()

    def _live(self) -> None:
        while not self._closing.wait(self._turn_s):
            target = int(self._now_ns() * STEPS_PER_S / 1e9)
            while self._run.receiver.steps < target and not self._closing.is_set():
                self._turn(min(target, self._run.receiver.steps + _AT_ONCE))
            self._turn(target)

    def _turn(self, target: int) -> None:
        """Acts, steps, speech and answers, once."""
        run = self._run
        while self._acts:
            run.do(self._acts.popleft())
        run.go_to(target)
        now_s = run.receiver.seconds
        for talker, wire in zip(self._talkers, self._wires, strict=True):
            if talker.asked is not None:
                answer = talker.hear(wire.read(), now_s)
                if answer:
                    wire.write(answer)
        due = [i for i, t in enumerate(self._talkers) if t.meter.due_s < now_s]
        if not due:
            return
        trace, first, steps = run.trace(), run.first_step, run.receiver.steps
        said = [(t_ns, i, data) for i in due for t_ns, data in self._talkers[i].say(trace, first, steps)]
        for _, i, data in sorted(said, key=lambda s: s[:2]):
            self._wires[i].write(data)
        run.forget(steps - _KEPT_S * STEPS_PER_S)


def start_demo(
    speed: float = 1.0,
    fault: str | None = None,
    seed: int = DEMO_SEED,
    *,
    now_ns: Callable[[], int] | None = None,
    transport: str | None = None,
    rectifier: str = "direct",
) -> DemoBench:
    """Starts the simulated bench.

    Args:
        speed: how many times faster than the wall simulated time runs; with `now_ns`, what that clock does.
        fault: as in `demo_faults`.
        seed: everything that is random comes from it.
        now_ns: simulated time, such as the session clock's; None: an own clock that starts now.
        transport: pty or socket; None: what the system has.
        rectifier: solid, direct or indirect.

    Raises:
        ValueError: no such fault, rectifier or transport, or a speed that is not above 0.
        OSError: the system gives no pseudo-terminal or socket.
    """
    if not speed > 0:
        raise ValueError(f"the speed must be above 0, not {speed}")
    on_s = comes_on_s(speed)
    setup, voices = demo_setup(seed, rectifier, on_s)
    if now_ns is None:
        start = time.monotonic_ns()

        def now_ns() -> int:
            return int((time.monotonic_ns() - start) * speed)

    return DemoBench(setup, demo_faults(fault, seed, on_s), voices, now_ns, speed, transport)


def demo_setup(
    seed: int = DEMO_SEED, rectifier: str = "direct", on_s: float = comes_on_s()
) -> tuple[Setup, tuple[Voice, ...]]:
    """The set, the mains and the meters of the demo, without cables."""
    rounds = [on_s + i * (RUN_S + PAUSE_S) for i in range(ROUNDS)]
    sags = tuple((start + 98.0, 1.6, 0.06) for start in rounds)
    voices = demo_voices(sleeps={"heater": ((on_s + 148.0, on_s + 170.0),)})
    mains = MainsCharacter(wander=0.004, sags=sags)
    return Setup(seed, rectifier, mains, 1.0, tuple(v.model for v in voices), demo_script(on_s)), voices


__all__ = ["DEMO_SEED", "DemoBench", "comes_on_s", "demo_faults", "demo_script", "demo_setup", "start_demo"]
