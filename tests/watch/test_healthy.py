"""A healthy set gives no alarm for half an hour, whatever rectifies and however it is read."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchtui.chart.chart_file import read_chart
from benchtui.chart.settings import Settings
from benchtui.sim import MainsCharacter, MeterModel, bench_of, once, simulate
from benchtui.sim.receiver import POINTS

from .cutting import Session
from .streams import Judged

LONG = pytest.mark.long
RECTIFIERS = ("solid", "direct", "indirect")
IN_CI = (1, 3)


def cases(known: dict[tuple[str, int], str]) -> list[object]:
    """Every rectifier with fifteen seeds, two of them in CI; those known to fail with the reason."""
    made: list[object] = []
    for rectifier in RECTIFIERS:
        for seed in range(1, 16):
            marks = [] if seed in IN_CI else [LONG]
            if (rectifier, seed) in known:
                marks.append(pytest.mark.xfail(reason=known[rectifier, seed]))
            made.append(pytest.param(rectifier, seed, marks=marks))
    return made


PLAIN: dict[tuple[str, int], str] = {}
UNEVEN: dict[tuple[str, int], str] = {}
NO_MAINS: dict[tuple[str, int], str] = {}


def half_hour(
    rectifier: str,
    seed: int,
    meters: tuple[MeterModel, ...],
    mains: MainsCharacter,
    marks: bool,
    on_s: float = 12.0,
) -> Judged:
    """Half an hour of the set, switched off at 1770 s."""
    power = once(on_s, 1770.0)
    run = simulate(
        seed, [], 1800.0, rectifier=rectifier, meters=meters, mains=mains, script=power, marks=marks
    )
    session = Session(read_chart(run.chart_text, "chart.toml"), run.channels, Settings(), run.block())
    bank = session.bank()
    return Judged(bank, bank.feed(session.block))


def assert_healthy(said: Judged, measured: int = 8) -> None:
    """No fault and no warning, not even one that was taken back; one run; every DC and AC point settled."""
    assert not said.ever_wrong(), said.said()
    assert len(said.of("power_on")) == 1, said.said()
    assert len(said.of("power_off")) == 1, said.said()
    assert len({f.point for f in said.of("settled")}) == measured
    assert not said.of("gap", "overload", "frozen", "function", "reversed")


@pytest.mark.parametrize(("rectifier", "seed"), cases(PLAIN))
def test_a_healthy_half_hour_gives_no_fault_and_no_warning(rectifier: str, seed: int) -> None:
    """Nine meters, two readings a second, a mains that wanders; the power marked."""
    assert_healthy(half_hour(rectifier, seed, bench_of(2.0), MainsCharacter(), True))


@pytest.mark.parametrize(("rectifier", "seed"), cases(UNEVEN))
def test_a_healthy_half_hour_with_sags_and_uneven_meters_blames_nobody(rectifier: str, seed: int) -> None:
    """Rates of 0.5 to 5 a second, six sags an hour, nothing marked: the sags are the mains'."""
    rates = (1.0, 5.0, 0.5, 2.0)
    meters = tuple(
        replace(m, rate=rates[(n + seed) % 4], jitter_s=0.03) for n, m in enumerate(bench_of(2.0))
    )  # fmt: skip
    sags = MainsCharacter(wander=0.006, sags_per_h=6.0)
    assert_healthy(half_hour(rectifier, seed + 50, meters, sags, False))


@pytest.mark.parametrize(("rectifier", "seed"), cases(NO_MAINS))
def test_a_healthy_half_hour_without_a_mains_meter_blames_nobody(rectifier: str, seed: int) -> None:
    """No meter on the mains, sags all the same: what all points do together is not a fault of one."""
    points = tuple(p for p in POINTS if p != "mains")
    sags = MainsCharacter(wander=0.006, sags_per_h=6.0)
    assert_healthy(half_hour(rectifier, seed + 100, bench_of(2.0, points=points), sags, True), measured=7)


@pytest.mark.parametrize("rectifier", ["solid", "indirect"])
def test_a_record_that_begins_with_the_switch_on_is_of_a_set_that_warms_up(rectifier: str) -> None:
    """Set and program are started together: B+ leaps and the cathodes are still cold, so the run is new."""
    rates = (1.0, 5.0, 0.5, 2.0)
    meters = tuple(replace(m, rate=rates[(n + 1) % 4], jitter_s=0.03) for n, m in enumerate(bench_of(2.0)))
    assert_healthy(half_hour(rectifier, 51, meters, MainsCharacter(), False, on_s=2.0))
