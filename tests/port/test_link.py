"""Links on pseudo-terminals: half lines, garbage, pauses, pulled cables, ports that are not there yet."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from benchtui.driver.contract import LineDefaults, Out
from benchtui.driver.description import MeterDescription
from benchtui.driver.listener import Listener
from benchtui.model.notes import Lead
from benchtui.model.readings import Readings
from benchtui.model.units import Unit
from benchtui.port.clock import Clock
from benchtui.port.intake import Intake
from benchtui.port.link import Link
from benchtui.port.opener import PortSettings

from .cables import Cable, meter, session

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals")


@pytest.fixture
def cable(tmp_path: Path) -> Cable:
    """A plugged cable."""
    made = Cable(tmp_path / "meter-a")
    yield made
    made.unplug()


def test_a_text_meter_at_9600_baud(cable: Cable) -> None:
    """Half a line and garbage at the start, lines in pieces, a pause in one: every whole line is read.

    The pieces come at the pace of the line; what is asserted is what was read, never when.
    """
    with session(meter("A", cable.name)) as live:
        live.until_state("A", "silent", "live")
        cable.send_at(b"85.1 V DC\r\n\x00\xfe\x1b[2J\x07[/x]\r\n285.2 V DC\r\n285.3 V")
        live.until(lambda: live.values == [285.2])
        live.until_state("A", "silent")
        cable.send_at(b" DC\r\n" + b"".join(b"%d.5 V DC\r\n" % n for n in range(100, 150)))
        live.until(lambda: len(live.values) == 52)
        assert live.values == [285.2, 285.3, *(n + 0.5 for n in range(100, 150))]
        assert (live.readings.unit == Unit.V).all()
        assert [(t.kind, t.count) for t in live.troubles()] == [("garbled", 11)]
        assert live.wires.status()["A"].skipped == len(b"85.1 V DC")


def test_the_leads_of_the_bench_stand_at_the_start(cable: Cable) -> None:
    """Where each channel's lead is, at 0, before anything else."""
    with session(meter("A", cable.name)) as live:
        live.until(lambda: bool(live.notes))
        assert live.notes[0] == Lead(0, 0, "point A")


def test_a_port_that_is_not_there_yet_is_waited_for(tmp_path: Path) -> None:
    """One word that it is missing, one that it is there; then its readings."""
    cable = Cable(tmp_path / "late")
    cable.unplug()
    with session(meter("A", cable.name)) as live:
        live.until(lambda: bool(live.troubles("lost")))
        assert "there is no such port" in live.troubles("lost")[0].text
        live.until_state("A", "backing off", "lost")
        cable.plug()
        live.until(lambda: bool(live.troubles("back")))
        cable.send(b"\n285.3\n")
        live.until(lambda: live.values == [285.3])
        assert len(live.troubles()) == 2
    cable.unplug()


def test_two_meters_on_one_device_are_not_mixed(cable: Cable, tmp_path: Path) -> None:
    """Two names for one device: the second meter is refused, with the reason."""
    (tmp_path / "alias").symlink_to(cable.name)
    with session(meter("A", cable.name), meter("B", tmp_path / "alias")) as live:
        live.until(lambda: bool(live.troubles("lost")))
        assert "another meter of this bench" in live.troubles("lost")[0].text


def test_a_meter_that_is_asked(cable: Cable) -> None:
    """The question goes out, the answer is the reading."""
    with session(meter("A", cable.name, request="D", every=0.02)) as live:
        for n in range(5):
            assert cable.heard() == b"D"
            cable.send(b"%d.5\r" % n)
        live.until(lambda: len(live.values) == 5)
        assert live.values == [0.5, 1.5, 2.5, 3.5, 4.5]


class Fragile:
    """A stranger's driver that falls over the third line."""

    channels = ("",)
    line = LineDefaults()
    wake_ns = None

    def __init__(self) -> None:
        self.lines = 0

    def start(self, at_ns: int) -> Out:
        return Out()

    def feed(self, data: bytes, at_ns: int) -> Out:
        self.lines += data.count(b"\n")
        if self.lines >= 3:
            raise RuntimeError("too many")
        return Out(Readings.of([at_ns], 0, int(Unit.V), [1.0]))

    def tick(self, at_ns: int) -> Out:
        return Out()


def test_a_driver_that_fails_ends_its_own_meter_only(tmp_path: Path) -> None:
    """One trouble of kind driver; the other meter goes on."""
    one, other = Cable(tmp_path / "a"), Cable(tmp_path / "b")
    with session(meter("B", other.name)) as live:
        intake, clock = live.wires.intake, Clock()
        listener = Listener(Fragile(), MeterDescription("A", "fragile", channels=(1,)))
        link = Link(listener, PortSettings(str(one.name)), intake.slot("A"), clock)
        link.start()
        live.until(lambda: link.status.state == "silent")
        for _ in range(3):
            one.send(b"x\n")
            live.until(lambda: link.status.state in ("live", "ended"))
        live.until(lambda: bool(live.troubles("driver")) or bool(one.send(b"x\n")))
        assert "RuntimeError: too many" in live.troubles("driver")[0].text
        live.until(lambda: link.status.state == "ended")
        other.send(b"\n285.3\n")
        live.until(lambda: 285.3 in live.values)
        link.close()
    one.unplug()
    other.unplug()


def test_a_link_that_fails_itself_is_told() -> None:
    """An opener that breaks its word costs one meter, and leaves no slot pending."""

    def opener(settings: PortSettings) -> object:
        raise KeyError("no such thing")

    clock = Clock()
    intake = Intake(clock.now_ns)
    listener = Listener(Fragile(), MeterDescription("A", "fragile"))
    link = Link(listener, PortSettings("x"), intake.slot("A"), clock, opener=opener)  # type: ignore[arg-type]
    link.start()
    link.close()
    block = intake.drain()
    assert [(n.kind, "KeyError" in n.text) for n in block.notes] == [("driver", True)]  # type: ignore[union-attr]
    assert link.status.state == "ended"
