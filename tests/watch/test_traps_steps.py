"""Traps about small steps, seen on whole grains: the mains taken out of them, and what it may not explain."""

from __future__ import annotations

import numpy as np
import pytest

from .shapes import away, flat, steps, switched, times
from .streams import Judged, Shape, Timeline
from .test_traps_mains import LEVELS, ON, SET, wander


def judged(
    own: dict[str, Shape], course: Shape | None = None, *, lost_s: float | None = None,
    counts: float = 1.0, seed: int = 0,
) -> Judged:  # fmt: skip
    """All follow one course of the mains, with moves of their own; `lost_s`: the mains' lead comes off;
    `counts`: the noise of B+2, in counts."""
    time = Timeline(SET, 300.0, seed)
    for name, level in LEVELS.items():
        shape = times(times(flat(level), course or flat(1.0)), own.get(name, flat(1.0)))
        until_s = lost_s if name == "mains" else None
        step = 0.1 if abs(level) > 60 else 0.01
        noise = counts if name == "B+2" else 1.0
        channel = time.meter(name, switched(shape, ON), rate=4.0, step=step, noise=noise, until_s=until_s)
        if until_s is not None:
            time.lead(until_s, channel, None)
    return time.judged()


@pytest.mark.parametrize("rate", [1.0, 4.0])
def test_a_mains_probe_that_slips_off_while_a_small_step_is_open_is_survived(rate: float) -> None:
    """The mains meter reads 0 from 190 s on, the set plays on: the step stands as it was told."""
    time = Timeline(SET, 260.0)
    for name, level in LEVELS.items():
        shape = switched(steps(flat(level), 150.0, -0.007 if name == "B+2" else 0.0), ON)
        if name == "mains":
            time.meter(name, steps(shape, 190.0, -1.0), rate=rate, step=0.1, noise=0.0)
        else:
            noise, quick = (5.0, 10.0) if name == "B+2" else (1.0, 4.0)
            time.meter(name, shape, rate=quick, step=0.1 if abs(level) > 60 else 0.01, noise=noise)
    assert time.judged().one("step", "B+2").start_ns * 1e-9 == pytest.approx(150.0, abs=0.5)


@pytest.mark.parametrize("seed", range(8))
def test_small_steps_of_a_quiet_mains_are_left_in_no_point(seed: int) -> None:
    """Half a per cent, up and down: too little before them to learn from how a point follows."""
    rng = np.random.default_rng([7, seed])
    at_s, by = np.sort(rng.uniform(90, 270, 4)), rng.choice([-1, 1], 4) * rng.uniform(0.004, 0.008, 4)
    course: Shape = lambda t: 1.0 + sum(np.where(t >= s, d, 0.0) for s, d in zip(at_s, by, strict=True))  # noqa: E731
    said = judged({}, course, seed=seed)
    assert not said.ever_wrong(), said.said()


@pytest.mark.parametrize("seed", [0, 2, 3, 5])
def test_a_step_ends_though_the_mains_meter_has_gone_meanwhile(seed: int) -> None:
    """So small beside the noise that no single reading tells it (in the seeds left out some do)."""
    said = judged({"B+2": away(flat(1.0), 150.0, 230.0, -0.007)}, lost_s=190.0, counts=5.0, seed=seed)
    gone = said.one("dropout", "B+2")
    assert gone.end_ns is not None
    assert gone.end_ns * 1e-9 == pytest.approx(230.0, abs=6.0)
    assert not said.of("step"), said.said()


def test_what_a_step_moved_from_and_to_is_what_the_meter_read() -> None:
    """The mains comes down by 3 % within two minutes; then B+2 steps by 0.7 %."""
    course: Shape = lambda t: 1.0 - 0.03 * np.clip((t - 70.0) / 120.0, 0.0, 1.0)  # noqa: E731
    said = judged({"B+2": steps(flat(1.0), 205.0, -0.007)}, course)
    step = said.one("step", "B+2")
    assert step.evidence["level"] == pytest.approx(240.0 * 0.97, abs=0.3)
    assert step.evidence["stands_at"] == pytest.approx(240.0 * 0.97 * 0.993, abs=0.3)


@pytest.mark.parametrize("until_s", [171.0, 190.0])
def test_what_was_named_with_a_fault_stays_named_once_that_is_over(until_s: float) -> None:
    lost = {name: away(flat(1.0), 150.0, until_s, -0.6) for name in ("B+1", "B+2")}
    said = judged({**lost, "heater": steps(flat(1.0), 150.3, 0.007)})
    assert "heater" in said.one("dropout", "B+1").evidence["also"], said.said()


@pytest.mark.parametrize("start_s", [152.0, 154.0])
def test_a_short_dropout_of_another_point_takes_in_no_lasting_step(start_s: float) -> None:
    said = judged({"bias": away(flat(1.0), 150.0, 150.6, -0.5), "B+2": steps(flat(1.0), start_s, -0.007)})
    assert said.one("step", "B+2").start_ns * 1e-9 == pytest.approx(start_s, abs=1.0)
    assert said.one("dropout").point == "bias"


@pytest.mark.parametrize("part", [0.008, -0.008])
@pytest.mark.parametrize("seed", range(4))
def test_a_small_step_is_told_though_the_mains_wanders_by_as_much(seed: int, part: float) -> None:
    """Some 0.8 % either way over half a minute, and with it every point; B+2 moves by 0.8 % of its own."""
    course = wander(seed, 0.004)
    said = judged({"B+2": steps(flat(1.0), 150.0, part)}, course, seed=seed)
    step = said.one("step", "B+2")
    assert step.start_ns * 1e-9 == pytest.approx(150.0, abs=2.0)
    assert not [line for line in said.ever_wrong() if "step B+2" not in line], said.said()
    assert not judged({}, course, seed=seed).of("step", "dropout"), said.said()
