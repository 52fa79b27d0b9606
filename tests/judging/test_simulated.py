"""The cases of the simulated set: honest labels, every fault, every kind of meter."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from benchtui.sim import FAULTS
from benchtui.store.csv import read_marks
from benchtui.store.recording import read

from .simulated import SCENES, make, scene_of
from .simulated.scenes import FAULTS as FAULT_SCENES
from .simulated.scenes import QUIET

SOME = [0, 1, 2, 4, 11, 15]


def test_a_seed_gives_one_case() -> None:
    """Made twice, a case is the same, byte for byte and label for label; the next seed is another."""
    assert make(4) == make(4)
    assert make(4).readings != make(5).readings


def test_every_third_case_is_free_of_faults_and_says_so() -> None:
    """A fault-free case holds no label of a part: only mains, power and meters must be told of it."""
    told = {"mains", "power_on", "power_off", "gap", "overload"}
    for seed in (0, 3, 12, 15):
        case = make(seed)
        assert case.fault_free is (seed % 3 == 0)
        assert {kind for t in case.truths if t.must for kind, _ in t.accept} <= told, case.scene
        assert not {t.name for t in case.truths} & set(FAULTS)


def test_sixty_cases_play_every_sort_of_fault() -> None:
    """The first sixty-six seeds play every scene, and with them nearly every fault of the catalogue."""
    played = [scene_of(seed)[0].name for seed in range(66)]
    assert set(played) >= {scene.name for scene in FAULT_SCENES}
    assert set(played) >= {scene.name for scene in QUIET}
    named = {name for name in FAULTS for scene in SCENES if scene.startswith(name)}
    assert set(FAULTS) - named <= {
        "dropper_drifts", "pilot_ages", "rectifier_tired", "regulator_lead_joint", "reservoir_loss",
        "second_reservoir_short", "screen_capacitor_leak",
    }  # fmt: skip


def test_the_meters_are_of_every_sort() -> None:
    """Over some cases the rates go from 0.5 to 20 a second and the displays from 3 to 6 digits."""
    streams = [s for seed in range(0, 40, 3) for s in make(seed + 1).streams]
    assert min(s.period_s for s in streams) < 0.12
    assert max(s.period_s for s in streams) > 1.2
    assert {s.digits for s in streams} >= {2000, 4000, 6000, 20_000, 60_000, 200_000}


@pytest.mark.parametrize("seed", SOME)
def test_labels_lie_inside_the_case_and_have_readings(seed: int) -> None:
    """Every label begins before the end; what must be told of a point is told of one that is read."""
    case = make(seed)
    for truth in case.truths:
        assert truth.start_s <= case.until_s + 1e-6
        assert truth.end_s >= truth.start_s
        if truth.must:
            assert truth.accept[0][1] is None or truth.accept[0][1] in case.times


@pytest.mark.parametrize("seed", SOME)
def test_a_case_is_read_by_the_program_s_own_readers(seed: int, tmp_path: Path) -> None:
    """Its files are good files: readings, chart, marks and bench, with as many readings as were taken."""
    from benchtui.chart.bench_file import read_bench
    from benchtui.chart.chart_file import read_chart

    case = make(seed)
    path = case.write(tmp_path)
    bench = None if case.bench is None else read_bench(case.bench, "bench.toml")
    marks = read_marks(path.with_name("marks.csv"))
    recording = read(path, chart=read_chart(case.chart, "chart.toml"), bench=bench, marks=marks)
    rows = sum(len(block.readings) for block in recording.blocks())
    assert rows == sum(len(t) for t in case.times.values())
    assert recording.remarks == []


def test_the_two_generators_share_no_code() -> None:
    """Of this package the simulated cases import the record of a case and nothing else."""
    for path in (Path(__file__).parent / "simulated").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.level == 2:
                assert node.module == "case", path.name
