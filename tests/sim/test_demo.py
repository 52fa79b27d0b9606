"""The demo, live: real pseudo-terminals and sockets, the program's own links and drivers."""

from __future__ import annotations

import socket
import sys
import threading
from collections.abc import Callable, Iterator

import pytest

from benchtui.chart.bench_file import read_bench
from benchtui.chart.chart_file import read_chart
from benchtui.model.units import Unit
from benchtui.port.clock import Clock
from benchtui.port.hookup import hook_up
from benchtui.port.wires import Wires
from benchtui.sim.demo import DemoBench, demo_faults, start_demo
from benchtui.sim.wires import SocketWire, open_wire

POSIX = pytest.mark.skipif(sys.platform == "win32", reason="there are no pseudo-terminals")
TRANSPORTS = [pytest.param("pty", marks=POSIX), "socket"]
_PATIENCE_S = 60.0


def wait_for(done: Callable[[], bool]) -> None:
    """Waits until something is so; fails if it never is."""
    paused = threading.Event()
    for _ in range(round(_PATIENCE_S / 0.01)):
        if done():
            return
        paused.wait(0.01)
    pytest.fail("waited in vain")


@pytest.fixture
def demo(request: pytest.FixtureRequest) -> Iterator[DemoBench]:
    """A demo at 20 times the speed of life."""
    with start_demo(20.0, transport=request.param) as bench:
        yield bench


@pytest.mark.parametrize("demo", TRANSPORTS, indirect=True)
def test_every_meter_is_heard_through_the_program_s_own_links(demo: DemoBench) -> None:
    """Each of the nine meters gives readings of its unit through its port and driver, and no trouble."""
    chart, bench = read_chart(demo.chart_text, "chart"), read_bench(demo.bench_text, "bench")
    hookup = hook_up(bench, chart)
    assert len(hookup.meters) == 9
    wires = Wires(hookup, Clock(20.0))
    units: dict[int, set[int]] = {}
    values: dict[int, float] = {}
    troubles: list[object] = []

    def heard() -> bool:
        block = wires.drain()
        troubles.extend(n for n in block.notes if type(n).__name__ == "Trouble")
        for channel in set(block.readings.channel.tolist()):
            rows = block.readings.channel == channel
            units.setdefault(channel, set()).update(block.readings.unit[rows].tolist())
            values[channel] = float(block.readings.value[rows][-1])
        return len(units) == 9 and values.get(0, 0) > 300

    try:
        wait_for(heard)
    finally:
        wires.close()
    assert troubles == []
    assert [units[i] for i in range(9)] == [{int(m.measures)} for m in bench.meters]


@POSIX
def test_the_clock_of_the_session_is_the_clock_of_the_set() -> None:
    """Given the session's clock, simulated time is that clock: the set stands still while it does."""
    at = [0]
    with start_demo(now_ns=lambda: at[0]) as demo:
        at[0] = 5_000_000_000
        wait_for(lambda: demo.seconds == 5.0)
        at[0] = 65_000_000_000
        wait_for(lambda: demo.seconds == 65.0)


@POSIX
def test_a_tap_reaches_the_set() -> None:
    """While the regulator's joint is open, a tap closes it with simulated time hardly gone on."""
    at = [0]
    with start_demo(fault="regulator", now_ns=lambda: at[0]) as demo:
        joint = demo.faults[0]
        while not (joint.spells and joint.spells[-1].end_s is None):
            at[0] += 1_000_000_000
            assert at[0] < 400_000_000_000
            wait_for(lambda: demo.seconds * 1e9 >= at[0] - 1)
        demo.tap()
        at[0] += 200_000_000
        wait_for(lambda: demo.seconds * 1e9 >= at[0] - 1)
        assert joint.spells[-1].end_s is not None


@POSIX
def test_a_demo_that_is_closed_leaves_no_thread_and_no_cable() -> None:
    """After `close` its thread has ended; closing twice does no harm."""
    demo = start_demo(5.0)
    demo.close()
    demo.close()
    assert "simulated set" not in [t.name for t in threading.enumerate()]


def test_what_cannot_be_is_refused() -> None:
    """No such fault, transport, rectifier or speed: an error before anything runs."""
    with pytest.raises(ValueError, match="gremlins"):
        start_demo(fault="gremlins")
    with pytest.raises(ValueError, match="carrier pigeon"):
        open_wire("carrier pigeon")
    with pytest.raises(ValueError, match="rectifier"):
        start_demo(rectifier="mercury arc")
    with pytest.raises(ValueError, match="speed"):
        start_demo(0.0)


def test_every_fault_can_be_asked_of_the_demo() -> None:
    """The names that the command offers and every name of the catalogue make faults."""
    from benchtui.sim import FAULTS

    assert demo_faults("healthy", 1) == []
    assert [f.about.name for f in demo_faults(None, 1)] == ["pilot_aged", "regulator_joint"]
    assert all(demo_faults(name, 1)[0].about.name == name for name in FAULTS)


def test_a_socket_that_hangs_up_can_be_answered_again() -> None:
    """A computer that leaves and comes back is heard and answered as before."""
    wire = SocketWire()
    host, port = wire.port.removeprefix("socket://").split(":")
    try:
        for said in (b"one\n", b"two\n"):
            with socket.create_connection((host, int(port)), timeout=_PATIENCE_S) as computer:
                computer.sendall(said)
                heard = bytearray()
                wait_for(lambda h=heard: bool(h.extend(wire.read()) or h.endswith(b"\n")))  # type: ignore[misc]
                assert bytes(heard) == said
                wire.write(b"back\n")
                assert computer.recv(16) == b"back\n"
    finally:
        wire.close()


@POSIX
def test_nobody_listening_stops_nothing() -> None:
    """With no computer on any cable the set runs on; what nobody read is lost."""
    at = [0]
    with start_demo(now_ns=lambda: at[0]) as demo:
        at[0] = 1_000_000_000_000
        wait_for(lambda: demo.seconds == 1000.0)


def test_the_bench_names_what_each_meter_measures() -> None:
    """The bench file of the demo reads without problems and leaves no point of the chart without a meter."""
    with start_demo(transport="socket") as demo:
        bench = read_bench(demo.bench_text, "bench")
        chart = read_chart(demo.chart_text, "chart")
    assert {m.point for m in bench.meters} == {p.name for p in chart.points}
    assert [m.measures for m in bench.meters if m.point == "pilot"] == [Unit.STATE]
