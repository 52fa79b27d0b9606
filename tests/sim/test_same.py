"""The same seed gives the same, however time is cut and however fast it runs."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.sim import MainsCharacter, make_fault, simulate
from benchtui.sim.demo import demo_faults, demo_setup
from benchtui.sim.mains import STEPS_PER_S
from benchtui.sim.metermodel import bench_of
from benchtui.sim.meters import Meter, Taken
from benchtui.sim.setup import Setup
from benchtui.sim.talker import Talker

SAGS = MainsCharacter(sags_per_h=60.0)


def test_the_same_seed_gives_the_same_readings_and_the_same_truth() -> None:
    """Two calls agree to the last bit; another seed does not."""
    runs = [
        simulate(seed, [make_fault("dropper_blinks", at_s=40, seed=seed)], 120.0, mains=SAGS)
        for seed in (7, 7, 8)
    ]
    assert np.array_equal(runs[0].trace, runs[1].trace)
    for name in ("t_ns", "channel", "unit", "value", "resolution", "flags"):
        a, b = (getattr(run.readings, name) for run in runs[:2])
        assert np.array_equal(a, b, equal_nan=name == "value"), name
    assert runs[0].truth == runs[1].truth
    assert not np.array_equal(runs[0].trace, runs[2].trace)


def test_a_run_does_not_depend_on_how_it_is_cut() -> None:
    """Going forward by odd numbers of steps gives the trace of going in one."""
    setup, _ = demo_setup()
    whole, pieces = (setup.run(demo_faults(None, setup.seed)) for _ in range(2))
    whole.go_to(100 * STEPS_PER_S)
    rng = np.random.default_rng(1)
    while pieces.receiver.steps < 100 * STEPS_PER_S:
        pieces.go_to(min(100 * STEPS_PER_S, pieces.receiver.steps + int(rng.integers(1, 90))))
    assert np.array_equal(whole.trace(), pieces.trace())


@pytest.mark.parametrize("seed", range(4))
def test_a_meter_s_readings_do_not_depend_on_how_they_are_fetched(seed: int) -> None:
    """Fetched in odd pieces, old rows dropped, a meter gives what it gives in one go."""
    models = bench_of(rate=3.7, counts=6000)
    run = Setup(seed, "solid", meters=models).run(())
    run.receiver.switch = True
    run.go_to(60 * STEPS_PER_S)
    trace = run.trace()
    rng = np.random.default_rng(seed)
    for model in models:
        whole = Meter(model, seed).take(trace, 0, len(trace))
        meter, parts, at, first = Meter(model, seed), [], 0, 0
        while at < len(trace):
            at = min(len(trace), at + int(rng.integers(1, 200)))
            parts.append(meter.take(trace[first:at], first, at))
            first = max(0, at - 2 * STEPS_PER_S)
        _same(whole, parts)


def _same(whole: Taken, parts: list[Taken]) -> None:
    for name in ("t_ns", "value", "decimals", "flags", "unit"):
        joined = np.concatenate([getattr(p, name) for p in parts])
        assert np.array_equal(getattr(whole, name), joined, equal_nan=name == "value"), name


@pytest.mark.parametrize("turn", [1, 7, 60])
def test_speed_changes_no_byte_of_what_a_meter_says(turn: int) -> None:
    """Turns of 20 ms or of more than a second, as at 60 times the speed: the same bytes at the same times."""
    said = []
    for steps in (3, turn):
        setup, voices = demo_setup()
        run = setup.run(demo_faults(None, setup.seed))
        talkers = [Talker(voice, setup.seed) for voice in voices if voice.speaks != "scpi"]
        heard: list[tuple[int, int, bytes]] = []
        while run.receiver.steps < 90 * STEPS_PER_S:
            run.go_to(min(90 * STEPS_PER_S, run.receiver.steps + steps))
            trace, first, upto = run.trace(), run.first_step, run.receiver.steps
            heard += [(t, i, b) for i, k in enumerate(talkers) for t, b in k.say(trace, first, upto)]
            run.forget(upto - 12 * STEPS_PER_S)
        said.append(sorted(heard))
    assert said[0] == said[1]
    assert len(said[0]) > 1000


def test_the_model_is_measured(capsys: pytest.CaptureFixture[str]) -> None:
    """How many times faster than the set itself the model runs, printed; wished are a thousand."""
    import time

    setup, _ = demo_setup()
    run = setup.run(())
    start = time.process_time()
    run.go_to(200 * STEPS_PER_S)
    took = time.process_time() - start
    with capsys.disabled():
        print(f"\nsimulated set: {200 / took:.0f} times real time on one core")
    assert run.receiver.steps == 200 * STEPS_PER_S
