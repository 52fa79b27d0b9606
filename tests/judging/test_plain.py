"""The plain generator: deterministic, well-formed, consistent, and a stranger to the program."""

from __future__ import annotations

import csv
import io
import subprocess
import sys
import tomllib
from collections import Counter
from pathlib import Path

import pytest

from benchtui.model.findings import SEVERITY
from benchtui.model.notes import MARK_KINDS
from benchtui.store.csv import read_marks, read_readings

from .case import Case
from .plain import make, scene_of
from .plain.scenes import FAULTS, QUIET

SEEDS = range(36)
OF_THE_SET = {k for k, severity in SEVERITY.items() if severity in ("fault", "warning")}


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    return [make(seed) for seed in SEEDS]


def test_the_same_seed_gives_the_same_case() -> None:
    """A case is its seed: every file and every label comes out the same twice."""
    assert make(25) == make(25)
    assert make(25).readings != make(25 + 102).readings


def test_a_third_of_the_cases_is_fault_free(cases: list[Case]) -> None:
    """Every third set has nothing wrong with it, and no label says otherwise."""
    free = [c for c in cases if c.fault_free]
    assert len(free) == len(cases) // 3
    for case in free:
        assert not {k for t in case.truths if t.must for k, _ in t.accept[:1]} & OF_THE_SET, case.seed


def test_sixty_cases_hold_every_fault_scene() -> None:
    """Any sixty seeds in a row play each scene with a fault at least once."""
    for first in (0, 1000):
        played = Counter(scene_of(seed)[0].name for seed in range(first, first + 60))
        assert set(played) >= {s.name for s in FAULTS}
        assert sum(played[s.name] for s in QUIET[:10]) > 0


def test_labels_name_kinds_and_points_that_there_are(cases: list[Case]) -> None:
    """Every label accepts promised kinds of findings, of points on the chart, within the record."""
    for case in cases:
        chart = tomllib.loads(case.chart)
        names = {p["name"] for p in chart["point"] + chart.get("glow", [])} | {None}
        for truth in case.truths:
            assert {k for k, _ in truth.accept} <= set(SEVERITY), (case.seed, truth)
            assert {p for _, p in truth.accept} <= names, (case.seed, truth)
            assert truth.end_s >= truth.start_s
            assert not truth.must or 0 <= truth.start_s < case.until_s, (case.seed, truth)


def test_the_files_are_read_by_the_program(cases: list[Case], tmp_path: Path) -> None:
    """The readers of the program take each case's readings and marks, all rows of them."""
    for case in cases:
        path = case.write(tmp_path / str(case.seed))
        table = read_readings(path)
        assert len(table.readings) == sum(len(t) for t in case.times.values())
        assert table.moved == 0
        assert {m.kind for m in read_marks(path.with_name("marks.csv"))} <= set(MARK_KINDS)


def test_readings_are_of_modest_size_and_in_order(cases: list[Case]) -> None:
    """A case is judged in about a second: at most 30,000 rows, sorted by time, each as wide as its header."""
    for case in cases:
        rows = list(csv.reader(io.StringIO(case.readings)))
        assert 500 < len(rows) < 30_000
        assert {len(r) for r in rows} == {len(rows[0])}
        times = [float(r[0]) for r in rows[1:]]
        assert times == sorted(times)


def test_the_generator_knows_nothing_of_the_program() -> None:
    """A fresh interpreter that makes a case has loaded no module of the program it is to judge."""
    told = "import sys; from tests.judging.plain import make; make(1); print(sorted(m for m in sys.modules))"
    root = Path(__file__).parents[2]
    done = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True, cwd=root)
    assert "'tests.judging.plain'" in done.stdout
    assert "'benchtui" not in done.stdout
