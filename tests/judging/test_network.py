"""The cases from solved networks: the physics, honest labels, and a stranger to the program."""

from __future__ import annotations

import csv
import io
import subprocess
import sys
import tomllib
from pathlib import Path

import numpy as np
import pytest

from benchtui.chart.bench_file import read_bench
from benchtui.chart.chart_file import read_chart
from benchtui.model.findings import SEVERITY
from benchtui.store.csv import read_marks, read_readings

from .case import Case
from .network import make, scene_of
from .network.circuit import Circuit
from .network.families import FAMILIES, built, printed
from .network.scenes import FAULTS, QUIET
from .network.solving import compiled, solve

SEEDS = (0, 1, 2, 7, 10, 21, 23, 26, 33, 36, 37, 43)
OF_THE_SET = {k for k, severity in SEVERITY.items() if severity in ("fault", "warning")}


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    return [make(seed) for seed in SEEDS]


def _solved(circuit: Circuit, seconds: float, factors: dict[str, float]) -> dict[str, float]:
    t = np.arange(0, seconds, 0.001)
    ones = np.ones((len(t), 1))
    volts, _ = solve(compiled(circuit), t, ones, np.ones((len(t), 1, len(circuit.valves))),
                     {name: f * ones[:, 0] for name, f in factors.items()})  # fmt: skip
    return {name: float(volts[-1, 0, k]) for name, k in compiled(circuit).nodes.items()}


def test_a_divider_divides_and_a_capacitor_charges_by_its_time_constant() -> None:
    """100 V through 1 kohm and 1 kohm into 3 kohm: 60 V in the end, 63 % of it after one time constant."""
    circuit = Circuit()
    circuit.rectifier("source", "top", 100.0, 1000.0)
    circuit.r("R1", "top", "middle", 1000.0)
    circuit.r("R2", "middle", "0", 3000.0)
    assert _solved(circuit, 1.0, {})["middle"] == pytest.approx(60.0, rel=1e-6)
    assert _solved(circuit, 1.0, {"R1": 6.0})["middle"] == pytest.approx(30.0, rel=1e-6)
    circuit.c("C1", "middle", 100e-6)
    source = 1 / (1 / 2000 + 1 / 3000)
    assert _solved(circuit, source * 100e-6, {})["middle"] == pytest.approx(60 * 0.632, rel=0.02)


def test_a_valve_follows_the_three_halves_power() -> None:
    """Far above its knee a cathode-driven triode passes k times its drive to the power of 3/2."""
    circuit = Circuit()
    circuit.valve("V1", 10)
    circuit.rectifier("source", "anode", 1000.0, 1.0)
    circuit.triode("V1", "anode", "0", "cathode", 1e-3, 100)
    circuit.r("R1", "cathode", "0", 200.0)
    v = _solved(circuit, 1.0, {})
    plate = v["anode"] - v["cathode"]
    drive = -v["cathode"] + plate / 100
    assert v["cathode"] / 200 == pytest.approx(1e-3 * drive**1.5 * plate / (plate + 4), rel=1e-3)


def test_every_printed_set_works_as_such_sets_do() -> None:
    """B+ is some hundred volts and falls along its chain, and no set stands above its cold start."""
    for family in range(len(FAMILIES)):
        bp = built(family, 5, bench=False)
        sheet = printed(bp)
        by_name = {s.name: s for s in bp.spots}
        for spot in bp.spots:
            if spot.unit == "V" and spot.fed_from and by_name[spot.fed_from].unit == "V":
                assert abs(sheet.settled[spot.name]) < abs(sheet.settled[spot.fed_from])
            assert sheet.peak[spot.name] >= abs(sheet.settled[spot.name]) * 0.999
        assert max(abs(v) for v in sheet.settled.values()) < 460
        assert max(v for s, v in sheet.settled.items() if by_name[s].unit == "V") > 180


def test_a_seed_gives_one_case() -> None:
    """Made twice a case is the same to the last digit; another seed is another."""
    assert make(1) == make(1)
    assert make(1).readings != make(4).readings


def test_sixty_seeds_play_every_scene_and_a_third_of_them_is_sound() -> None:
    """Any sixty seeds in a row hold every fault once; every third case has nothing wrong in it."""
    for first in (0, 300, 100_000):
        played = [scene_of(seed) for seed in range(first, first + 60)]
        assert {s.name for s, _ in played} >= {s.name for s in FAULTS + QUIET}
        assert sum(free for _, free in played) == 20


def test_sound_sets_have_no_label_of_a_fault(cases: list[Case]) -> None:
    """What must be told of a sound set is of its mains, its switch and its meters alone."""
    assert sum(c.fault_free for c in cases) > 2
    for case in cases:
        named = {t.accept[0][0] for t in case.truths if t.must}
        assert not case.fault_free or not named & OF_THE_SET, case.seed
        assert case.fault_free or named, case.seed


def test_labels_name_kinds_and_points_that_there_are(cases: list[Case]) -> None:
    """Every label accepts promised kinds, of measured points, and begins within the record."""
    for case in cases:
        for truth in case.truths:
            assert {k for k, _ in truth.accept} <= set(SEVERITY), (case.seed, truth)
            assert {p for _, p in truth.accept} <= {*case.times, None}, (case.seed, truth)
            assert truth.end_s >= truth.start_s, (case.seed, truth)
            assert not truth.must or 0 <= truth.start_s < case.until_s, (case.seed, truth)


def test_the_files_are_read_by_the_program(cases: list[Case], tmp_path: Path) -> None:
    """Readings, chart, bench and marks are good files; every reading arrives, of two to nine channels."""
    for case in cases:
        path = case.write(tmp_path / str(case.seed))
        table = read_readings(path)
        assert len(table.readings) == sum(len(t) for t in case.times.values())
        assert table.moved == 0
        read_marks(path.with_name("marks.csv"))
        chart = read_chart(case.chart, "chart.toml")
        assert set(case.times) <= {p.name for p in chart.points}
        assert case.bench is None or read_bench(case.bench, "bench.toml").meters
        assert 2 <= len(case.times) <= 9
        assert 300 < len(table.readings) < 30_000


def test_a_sound_set_at_the_chart_s_mains_lies_within_its_chart(cases: list[Case]) -> None:
    """The chart is true: what is decided of sound sets is `inside`."""
    decided = [d for c in cases if c.fault_free for d in c.decisions.values()]
    assert len(decided) > 8
    assert set(decided) == {frozenset({"inside"})}


def test_readings_have_the_digits_of_their_meters(cases: list[Case]) -> None:
    """Displays run from 3 to 6 digits, rates from 0.5 to 20 a second, and overloads have no value."""
    streams = [s for c in cases for s in c.streams]
    assert min(s.period_s for s in streams) < 0.2
    assert max(s.period_s for s in streams) > 0.9
    assert len({s.digits for s in streams}) > 4
    for case in cases:
        for row in csv.DictReader(io.StringIO(case.readings)):
            assert (row["value"] == "") == (row["flag"] == "overload")


def test_a_lamp_is_watched_and_its_chart_says_so(cases: list[Case]) -> None:
    """In the lamp's scene the eye is a meter: ones and noughts of a seen point."""
    case = next(c for c in cases if c.scene == "lamp_joint")
    rows = [r for r in csv.DictReader(io.StringIO(case.readings)) if r["unit"] == "state"]
    assert {r["value"] for r in rows} <= {"0", "1"}
    assert any(g.get("seen") for g in tomllib.loads(case.chart)["glow"])


def test_the_generator_knows_nothing_of_the_program() -> None:
    """A fresh interpreter that makes a case has loaded no module of the program or of another generator."""
    told = "import sys; from tests.judging.network import make; make(2); print(sorted(sys.modules))"
    root = Path(__file__).parents[2]
    done = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True, cwd=root)
    assert "'tests.judging.network'" in done.stdout
    for other in ("'benchtui", "judging.plain", "judging.simulated"):
        assert other not in done.stdout
