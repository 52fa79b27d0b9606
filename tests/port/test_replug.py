"""Pulled and replugged cables: each noticed, none crashes, no reading ever comes from the wrong meter."""

from __future__ import annotations

import random
import sys
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from benchtui.chart.chart import Chart, Point
from benchtui.chart.settings import Settings
from benchtui.model.units import Unit
from benchtui.port.opener import Port, PortSettings, open_port
from benchtui.port.usb import resolve
from benchtui.watch.bank import Bank

from .cables import Cable, Session, meter, session

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals")

LEVEL = {"A": 100.0, "B": 200.0}


def speak(live: Session, cable: Cable, name: str, n: int) -> None:
    """The meter says its n-th value until it has been heard."""
    value = LEVEL[name] + n / 10
    seen = len(live.values)

    def heard() -> bool:
        cable.send(b"\n%.1f V DC\n" % value)
        live.drain()
        return value in live.values[seen:]

    live.until(heard)


@pytest.mark.parametrize("cycles", [30, pytest.param(100, marks=pytest.mark.long)])
def test_pulled_and_replugged_cables(cycles: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two meters, one cable at a time, a new device behind the stable name each time.

    Each loss and each return is told once; nothing is read of a meter between them; the gap is a finding; the
    other meter goes on. How long it took is printed, by the session's clock: it is no matter of pass or fail.
    """
    cables = {name: Cable(tmp_path / name) for name in "AB"}
    rng = random.Random(7)
    took: dict[str, list[float]] = {"lost": [], "back": []}
    pulled = Counter[str]()
    with session(*(meter(name, cable.name) for name, cable in cables.items())) as live:

        def noticed(kind: str, since_ns: int, n: int) -> None:
            live.until(lambda: len(live.troubles(kind)) == n)
            took[kind].append((live.troubles(kind)[-1].t_ns - since_ns) / 1e9)

        for name in "AB":
            speak(live, cables[name], name, 0)
        for n in range(1, cycles + 1):
            name = rng.choice("AB")
            pulled[name] += 1
            cables[name].unplug()
            noticed("lost", live.wires.clock.now_ns(), n)
            other = "B" if name == "A" else "A"
            speak(live, cables[other], other, n)
            cables[name].plug()
            noticed("back", live.wires.clock.now_ns(), n)
            speak(live, cables[name], name, n)
    for cable in cables.values():
        cable.unplug()
    assert Counter(t.meter for t in live.troubles("lost")) == pulled
    assert Counter(t.meter for t in live.troubles("back")) == pulled
    assert {t.kind for t in live.troubles()} <= {"lost", "back"}
    readings = live.readings
    assert ((readings.value < 150) == (readings.channel == 0)).all()
    away = list(zip(live.troubles("lost"), live.troubles("back"), strict=True))
    for lost, back in away:
        channel = "AB".index(lost.meter)
        between = (readings.t_ns > lost.t_ns) & (readings.t_ns < back.t_ns) & (readings.channel == channel)
        assert lost.meter == back.meter
        assert not between.any()
    found = findings(live)
    assert Counter(kind for kind, _ in found if kind in ("lost", "driver")) == {"lost": cycles}
    with capsys.disabled():
        for kind, seconds in took.items():
            print(f"\n{cycles} cables {kind}: noticed within {max(seconds):.3f} s at most", end="")


def findings(live: Session) -> list[tuple[str, str]]:
    """(kind, severity) of what the watchers make of the session."""
    chart = Chart("test", points=tuple(Point(f"point {name}", Unit.V) for name in "AB"))
    bank = Bank(chart, live.hookup.channels, Settings())
    for block in live.blocks:
        bank.feed(block)
    return [(f.kind, f.severity) for f in bank.folding.listed()]


@dataclass(frozen=True)
class Adapter:
    """A USB adapter as the serial library lists it."""

    device: str
    serial_number: str
    vid: int = 0x1209
    pid: int = 0x0001
    location: str = "1-1"


def test_adapters_that_come_back_under_each_others_names(tmp_path: Path) -> None:
    """ttyUSB0 and ttyUSB1 swapped by a replug: each meter is found by its adapter, not by its number."""
    names = [tmp_path / "ttyUSB0", tmp_path / "ttyUSB1"]
    cables = {"A": Cable(names[0]), "B": Cable(names[1])}
    plugged = [Adapter(str(names[0]), "SERIAL-A"), Adapter(str(names[1]), "SERIAL-B")]

    def opener(settings: PortSettings) -> Port:
        return open_port(replace(settings, port=resolve(settings.port, lambda: plugged)))

    entries = [meter(name, f"usb:1209:0001:SERIAL-{name}") for name in "AB"]
    with session(*entries, opener=opener) as live:
        for name in "AB":
            speak(live, cables[name], name, 0)
        for cycle in range(1, 11):
            for name in "AB":
                cables[name].unplug()
            plugged.clear()
            live.until(lambda cycle=cycle: len(live.troubles("lost")) == 2 * cycle)
            swapped = names if cycle % 2 == 0 else names[::-1]
            cables = {"A": Cable(swapped[0]), "B": Cable(swapped[1])}
            plugged += [Adapter(str(swapped[0]), "SERIAL-A"), Adapter(str(swapped[1]), "SERIAL-B")]
            live.until(lambda cycle=cycle: len(live.troubles("back")) == 2 * cycle)
            for name in "AB":
                speak(live, cables[name], name, cycle)
    for cable in cables.values():
        cable.unplug()
    assert ((live.readings.value < 150) == (live.readings.channel == 0)).all()
    assert "no such adapter is plugged in" not in {t.text for t in live.troubles("back")}


def test_a_meter_turned_to_another_function_is_told_and_not_judged(tmp_path: Path) -> None:
    """Volts to ohms, DC to AC, where DC volts are expected: a finding of the meter, none of the set."""
    cable = Cable(tmp_path / "A")
    with session(meter("A", cable.name)) as live:
        live.until_state("A", "silent")
        said = [b"100.1 V DC", b"1.2 kohm", b"0.02 V AC", b"100.2 V DC"]
        cable.send(b"\n")
        for n, text in enumerate(said):
            for k in range(8):
                cable.send(text + b"\n")
                live.until(lambda n=n, k=k: len(live.values) > 8 * n + k)
    cable.unplug()
    units = [Unit(u) for u in live.readings.unit.tolist()]
    assert units == [Unit.V] * 8 + [Unit.OHM] * 8 + [Unit.VAC] * 8 + [Unit.V] * 8
    found = findings(live)
    assert ("function", "meter") in found
    assert {severity for _, severity in found} == {"meter"}


def test_bytes_at_the_wrong_speed_are_told(tmp_path: Path) -> None:
    """Nothing fits: a finding of the meter that says to check the speed."""
    cable = Cable(tmp_path / "A")
    rng = random.Random(5)
    with session(meter("A", cable.name)) as live:

        def told() -> bool:
            cable.send(bytes(rng.choice(b"\xe6\x98\x00\x1e\xf8\x7f\x80") for _ in range(9)))
            return any("check the speed" in t.text for t in live.troubles("garbled"))

        live.until(told)
    cable.unplug()
    assert live.values == []
    assert ("garbled", "meter") in findings(live)
