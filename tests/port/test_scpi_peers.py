"""SCPI over TCP and over a pseudo-terminal, against far ends that this project did not write.

`scpipy` is a SCPI server with its own parser and error queue; `pyvisa-sim` answers from a description.
"""

from __future__ import annotations

import itertools
import math
import sys
from contextlib import ExitStack

import pytest

from benchtui.model.readings import Flag
from benchtui.model.units import Unit
from tests.peers import scpi_meter, scpi_meter_on_a_pty

from .cables import meter, session


def test_a_scpi_meter_over_tcp() -> None:
    """Its values arrive exactly, with the resolution of their digits; special numbers arrive as flags."""
    answers = ["+2.850000E+02", "285.25", "-12", "9.9E37", "9.91E37", "+1.0E-3"]
    with scpi_meter(answers) as port, session(meter("A", port, "scpi", every=0.02)) as live:
        live.until(lambda: len(live.values) >= 6)
        got = live.readings
        assert got.value.tolist()[:3] == [285.0, 285.25, -12.0]
        assert got.resolution.tolist()[:3] == [1e-4, 0.01, 1.0]
        assert [math.isnan(v) for v in got.value.tolist()[3:5]] == [True, True]
        assert got.flags.tolist()[3:5] == [Flag.OVERLOAD, Flag.INVALID]
        assert (got.unit == Unit.V).all()
        assert live.wires.status()["A"].identity == "SALTMARSH TESTS, BENCH VOLTMETER, 1.0"
        assert live.troubles() == []


def test_a_function_that_the_peer_refuses() -> None:
    """Its own error queue says so, and the readings carry no unit."""
    with (
        scpi_meter(["1.5"], knows_function=False) as port,
        session(meter("A", port, "scpi", measures=Unit.OHM, every=0.02)) as live,
    ):
        live.until(lambda: len(live.values) >= 2)
        assert (live.readings.unit == Unit.UNKNOWN).all()
        texts = [t.text for t in live.troubles("driver")]
        assert "-110: Command header error" in texts[0]
        assert "refused CONF:RES" in texts[1]


def test_a_slow_peer_is_waited_for() -> None:
    """It takes longer than it is given at first: a late answer is thrown away, the next are in step."""
    answers = [str(n) for n in range(1, 100)]
    with scpi_meter(answers, slow_s=0.4) as port:
        entry = meter("A", port, "scpi", every=0.02, answer_within=0.15, identify=False)
        with session(entry) as live:
            live.until(lambda: len(live.values) >= 4)
            values = live.values
            assert values == sorted(values)
            assert values[0] >= 2
            assert [b - a for a, b in itertools.pairwise(values)] == [1.0] * (len(values) - 1)


def test_a_peer_that_goes_away_and_comes_back() -> None:
    """The far end ends: lost, once. It is there again: back, identified, set up and read."""
    with ExitStack() as running:
        with scpi_meter(["1.5"]) as port:
            number = int(port.rpartition(":")[2])
            live = running.enter_context(session(meter("A", port, "scpi", every=0.02)))
            live.until(lambda: len(live.values) >= 2)
        live.until(lambda: len(live.troubles("lost")) == 1)
        before = len(live.values)
        with scpi_meter(["2.5"], number=number):
            live.until(lambda: len(live.values) > before)
        live.until(lambda: len(live.troubles("lost")) == 2)
    assert live.values[:before] == [1.5] * before
    assert set(live.values[before:]) == {2.5}
    assert [t.kind for t in live.troubles()] == ["lost", "back", "lost"]


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals")
def test_a_scpi_meter_on_a_pseudo_terminal() -> None:
    """Random values between two bounds; an unknown command comes back out of the peer's error queue."""
    with scpi_meter_on_a_pty((280.0, 290.0)) as port, session(meter("A", port, "scpi", every=0.02)) as live:
        live.until(lambda: len(live.values) >= 20)
        assert all(280.0 <= v <= 290.0 for v in live.values)
        assert len(set(live.values)) > 10
        assert live.troubles() == []
    with (
        scpi_meter_on_a_pty((1.0, 2.0)) as port,
        session(meter("A", port, "scpi", every=0.02, at_start=["VOLT:FROB"])) as live,
    ):
        live.until(lambda: len(live.values) >= 2)
        assert "-113: Undefined header" in live.troubles("driver")[0].text
