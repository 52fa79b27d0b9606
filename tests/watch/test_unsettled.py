"""Points that should have settled and have not: told once where one feeds the others."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart

from .shapes import flat, switched
from .streams import Judged, Shape, Timeline, dc

SET = Chart(
    "a set",
    points=(
        dc("B+1", 285.0),
        dc("B+2", 240.0, 0.9, fed_from="B+1"),
        dc("anode", 120.0, 0.9, fed_from="B+2"),
        dc("screen", 90.0, 0.9, fed_from="B+2"),
    ),
)
ON = 2.0


def walks(level: float) -> Shape:
    """Down by a tenth in a minute at first, and never still."""
    return switched(lambda t: level * np.exp(-np.maximum(t - ON, 0.0) / 600.0), ON)


def judged(rates: dict[str, float]) -> Judged:
    time = Timeline(SET, 480.0)
    for name, rate in rates.items():
        level = SET.point(name).nominal  # type: ignore[union-attr]
        shape = switched(flat(level), ON) if name == "B+1" else walks(level)
        time.meter(name, shape, rate=rate)
    time.mark(ON, "on")
    return time.judged()


@pytest.mark.parametrize("first", ["B+2", "anode"])
def test_what_a_branch_shares_is_told_once_at_its_feed(first: str) -> None:
    """Whichever of them a quick meter shows first."""
    rates = {"B+1": 2.0, "B+2": 1.0, "anode": 1.0, "screen": 1.0} | {first: 4.0}
    said = judged(rates)
    told = said.one("unsettled")
    assert told.point == "B+2", said.said()
    assert sorted(told.evidence["also"]) == ["anode", "screen"]


def test_a_branch_whose_feed_is_not_measured_is_told_at_its_points() -> None:
    """Nobody knows of B+2."""
    said = judged({"B+1": 2.0, "anode": 2.0, "screen": 2.0})
    assert {f.point for f in said.of("unsettled")} == {"anode", "screen"}, said.said()
