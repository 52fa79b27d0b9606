"""The score: what a perfect, a silent and a hasty judge get."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from benchtui.model.findings import SEVERITY

from .case import Case
from .matching import Said, compare, compare_settled
from .plain import make
from .print_table import table
from .running import Judged
from .tally import by_kind, overall, poisson_upper, score

SEEDS = range(30)


def perfect(case: Case) -> list[Said]:
    """Every label that must be told, told at once and no more."""
    said = [
        Said(t.accept[0][0], t.accept[0][1], t.start_s, t.end_s, t.start_s + 0.5, SEVERITY[t.accept[0][0]])
        for t in case.truths
        if t.must
    ]
    for point, each in case.settlings.items():
        said += [Said("settled", point, s.at_s, None, s.at_s + 1, "info") for s in each if s.must]
    return said


def judged(case: Case, said: list[Said]) -> Judged:
    points = {p: {"decision": min(right), "state": "settled"} for p, right in case.decisions.items()}
    return Judged(said, points, 1.0)


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    return [make(seed) for seed in SEEDS]


def test_a_perfect_judge_scores_one(cases: list[Case]) -> None:
    """Who says every label and nothing else has F1 1, no false alarm and every decision right."""
    scored = [score(c, judged(c, perfect(c))) for c in cases]
    assert overall(by_kind(scored)).f1 == 1
    assert not any(c.outcome.wrong or c.outcome.retracted or c.outcome.blamed for c in scored)
    assert not any(c.settled.early for c in scored)
    assert all(c.settled.told == c.settled.wanted for c in scored)
    assert "ALL EVENTS" in table(scored)


def test_a_silent_judge_misses_everything(cases: list[Case]) -> None:
    """Who says nothing has no false alarm and finds nothing."""
    scored = [score(c, Judged([], {}, 1.0)) for c in cases]
    figures = overall(by_kind(scored))
    assert (figures.told, figures.wrong) == (0, 0)
    assert figures.missed > 30


def a_dropout() -> tuple[Case, Said]:
    case = make(1)
    truth = next(t for t in case.truths if t.must and t.accept == (("dropout", t.accept[0][1]),))
    return case, Said("dropout", truth.accept[0][1], truth.start_s, truth.end_s, truth.start_s + 1, "fault")


def test_the_wrong_point_the_wrong_time_and_the_wrong_kind_are_false() -> None:
    """A finding counts only at its point, in its time and by its name."""
    case, good = a_dropout()
    other = next(p for p in case.times if p != good.point)
    slips = (
        replace(good, point=other),
        replace(good, start_s=good.start_s - 30),
        replace(good, kind="frozen"),
    )
    assert [len(compare(case, [good]).wrong), *(len(compare(case, [s]).wrong) for s in slips)] == [0, 1, 1, 1]


def test_saying_it_twice_is_false_once() -> None:
    """Two findings for one dropout are one too many."""
    case, good = a_dropout()
    out = compare(case, [good, replace(good, start_s=good.start_s + 0.1)])
    assert (len(out.pairs), len(out.wrong)) == (1, 1)


def test_a_false_finding_that_was_withdrawn_still_counts() -> None:
    """What was announced cried wolf, though it was taken back; a true one taken back did not."""
    case, good = a_dropout()
    early = replace(good, start_s=good.start_s - 40, state="withdrawn")
    out = compare(case, [early, replace(good, state="withdrawn")])
    assert out.retracted == [early]
    assert any(t.accept[0] == ("dropout", good.point) for t in out.missed)


def test_a_point_blamed_for_the_mains_is_told_apart() -> None:
    """A dropout told of a point while the mains sagged is counted as blame."""
    case = make(9)
    move = next(t for t in case.truths if t.must and t.accept[0] == ("mains", None))
    point = next(p for p in case.settlings if ("step", p) not in move.accept)
    blame = Said("step", point, move.start_s, None, move.start_s + 3, "warning")
    assert compare(case, [blame]).blamed == [blame]


def test_settled_before_it_is_settled_is_early() -> None:
    """To tell a point settled on the flat top before the valves conduct is an error, not a success."""
    case = make(42)
    assert case.scene == "long_flat_top"
    point, (settling, *_) = next((p, s) for p, s in case.settlings.items() if s and s[0].must)
    hasty = Said("settled", point, settling.on_s + 5, None, settling.on_s + 6, "info")
    out = compare_settled(case, [hasty])
    assert len(out.early) == 1
    assert out.told == 0


def test_the_bound_of_a_rate_after_no_alarm_is_three_over_the_time() -> None:
    """Exact: -ln 0.05 = 2.996 (e-Handbook 8.4.5.1; no failure in time T)."""
    assert poisson_upper(0, 100) == pytest.approx(-math.log(0.05) / 100, rel=1e-9)
    assert poisson_upper(3, 1) == pytest.approx(7.7537, abs=1e-4)  # Garwood 1936, 90 % two-sided; from memory
