"""The wire logs are what they claim to be, and the watchers find in them what happened and nothing else."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from benchtui.model.readings import NO_VALUE
from benchtui.model.units import Unit
from benchtui.sim.receiver import COLUMNS
from benchtui.store.recording import read

from .cables import record
from .found import expectations, judged, missed, unasked
from .make_logs import LOGS
from .scenes import SCENES, Scene, expected, truth

EACH = pytest.mark.parametrize("scene", SCENES, ids=[s.name for s in SCENES])


@EACH
def test_all_that_must_be_found_is_found(scene: Scene) -> None:
    """Judging a log tells every event of its expectations, at its point and in its time."""
    wanted = expectations(scene.name)
    assert not missed(judged(LOGS / f"{scene.name}.jsonl"), wanted)


@EACH
def test_nothing_else_is_found(scene: Scene) -> None:
    """Judging a log tells nothing that did not happen."""
    wanted = expectations(scene.name)
    told = [
        (f.kind, f.point, f.start_ns / 1e9) for f in unasked(judged(LOGS / f"{scene.name}.jsonl"), wanted)
    ]
    assert told == []


@EACH
def test_a_log_plays_without_damage(scene: Scene) -> None:
    """Every line of a log is whole, and its drivers throw no byte away once they have joined."""
    recording = read(LOGS / f"{scene.name}.jsonl")
    notes = [n for block in recording.blocks() for n in block.notes]
    assert [n for n in notes if type(n).__name__ == "Trouble"] == []
    assert recording.remarks == []


@EACH
def test_what_came_down_the_wire_is_what_the_set_did(scene: Scene) -> None:
    """Each settled reading lies within its meter's stated accuracy of what the model did at its point."""
    recording = read(LOGS / f"{scene.name}.jsonl")
    trace = truth(scene)[1].trace
    points = {c: m.point for c, m in enumerate(recording.bench.meters)}
    checked = 0
    for block in recording.blocks():
        r = block.readings
        for channel, point in points.items():
            rows = (r.channel == channel) & ((r.flags & NO_VALUE) == 0) & (r.t_ns > 2e9)
            accuracy = recording.channels[channel].accuracy
            for t_ns, value, resolution in zip(r.t_ns[rows], r.value[rows], r.resolution[rows], strict=True):
                step = round(t_ns / 2e7)
                course = trace[max(0, step - 200) : step + 1, COLUMNS.index(str(point))]
                bound = accuracy.bound(float(value), float(resolution)) if accuracy else 0.0
                slack = bound + 3 * float(resolution) + 3e-3
                assert course.min() - slack <= value <= course.max() + slack, (point, t_ns / 1e9, value)
                checked += 1
    assert checked > 1000


@EACH
def test_the_expectations_are_the_simulators_truth(scene: Scene) -> None:
    """Made again from the simulated set, the expectations are those in the file, to 0.25 s."""
    again, filed = expected(scene), expectations(scene.name)
    key = lambda e: (e.begins, e.kinds, e.point or "")  # noqa: E731 - a sort key
    assert len(again) == len(filed)
    for a, b in zip(sorted(again, key=key), sorted(filed, key=key), strict=True):
        assert (a.kinds, a.point, a.must) == (b.kinds, b.point, b.must)
        assert a.begins == pytest.approx(b.begins, abs=0.25)


def test_a_log_made_twice_is_the_same_to_the_last_byte(tmp_path: Path) -> None:
    """The same seed gives the same bytes at the same instants."""
    scene = SCENES[1]
    for name in ("a", "b"):
        record(tmp_path / name, scene.setup(), scene.voices(), scene.faults(), 30.0)
    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()


def test_a_log_made_today_agrees_with_the_one_that_is_kept(tmp_path: Path) -> None:
    """Made again, a log has the kept one's readings at the kept one's instants, to some counts.

    To the last byte only on one machine: other mathematics libraries round the last bit differently.
    """
    scene = SCENES[0]
    record(tmp_path / "again.jsonl", scene.setup(), scene.voices(), scene.faults(), 40.0)
    new, old = (
        next(iter(read(path).blocks(rows=10**9, until_ns=39_000_000_000))).readings
        for path in (tmp_path / "again.jsonl", LOGS / f"{scene.name}.jsonl")
    )
    assert len(new) == len(old)
    assert np.array_equal(new.channel, old.channel)
    apart = np.abs(new.value - old.value)
    states = old.unit == int(Unit.STATE)
    assert np.nanmax(np.where(states, 0, apart / np.maximum(old.resolution, 1e-9))) <= 20


def test_logs_are_small_and_name_no_machine() -> None:
    """No log is above a megabyte, and none holds a path of the machine that made it."""
    for path in LOGS.iterdir():
        text = path.read_text(encoding="utf-8")
        assert path.stat().st_size < 1_000_000
        assert not re.search(r"/(home|tmp|work|dev|usr)/", text)
