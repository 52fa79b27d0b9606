"""From when on a course tells of the load."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.watch.foresee.onset import tells

RISES = (0, True)


def told(pairs: list[tuple[float, float]], *, leads: bool = True, small: bool = False) -> tuple[int, bool]:
    t, y = np.array(pairs).T
    return tells(t, y, float(t[-1]), leads, small)


SLEPT = [(0.9, 0.0), (8.6, 1.66), (10.4, 1.59), (12.4, 1.19), (14.3, 1.02), (16.3, 0.97), (18.1, 0.96)]


@pytest.mark.parametrize("many", [2, 3, 4, 7])
def test_a_meter_that_slept_through_the_rise_saw_no_late_one(many: int) -> None:
    """Nothing, then nothing read for eight seconds, then far above the scale: it leads its load."""
    assert told(SLEPT[:many])[1] is False


def test_what_rises_late_rises_with_the_load() -> None:
    """Read every second and seen to rise from 10 s on: the load's own course, from its first bin on."""
    late = [(float(t), max(0.0, min(1.0, 0.1 * (t - 10)))) for t in range(1, 18)]
    assert told(late) == RISES
    assert told(late, small=True) == RISES


def test_the_end_of_charging_tells_nothing_of_the_load() -> None:
    """1 - exp(-t / 0.5 s): what is told begins where the reservoir is full."""
    charging = [(0.5 * k + 0.25, 1.2 * (1 - np.exp(-(0.5 * k + 0.25) / 0.5))) for k in range(12)]
    first, rises = told(charging)
    assert not rises
    assert charging[first][1] > 1.195


def test_a_rectifier_beside_its_load_rises_until_it_is_up() -> None:
    """The whole is one rise; once it goes on no more, what comes then tells of the load."""
    rise = [(float(t), 1.05 / (1 + np.exp(-(t - 14.0) / 1.5))) for t in range(1, 26)]
    assert told(rise[:14], leads=False) == RISES
    first, rises = told(rise, leads=False)
    assert not rises
    assert rise[first][0] > 16.0


def test_of_nothing_read_it_is_known_how_the_rectifier_warms() -> None:
    """A supply that leads is not expected to rise late; one beside its load is."""
    nothing = np.empty(0)
    assert tells(nothing, nothing, 1.0, True, False) == (0, False)
    assert tells(nothing, nothing, 1.0, False, False) == RISES
