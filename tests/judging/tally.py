"""The figures over many cases, and the table in which they are printed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from scipy.stats import chi2

from .case import Case
from .matching import UNSCORED, Outcome, SettledOutcome, compare, compare_settled
from .running import Judged

QUICK = ("dropout", "step")


@dataclass(slots=True)
class Scored:
    """One case with all that is counted of it; small enough to come back from another process."""

    seed: int
    scene: str
    fault_free: bool
    hours: float
    readings: int
    seconds: float
    outcome: Outcome
    settled: SettledOutcome
    decisions: list[tuple[str, frozenset[str], str]]
    """(point, right answers, answer)."""
    states: list[tuple[str, str]]
    """(point, state at the end) of points that are settled at the end."""
    delays: list[tuple[str, int]] = field(default_factory=list)
    """(kind, readings of that point until it was told)."""
    marks: list[bool] = field(default_factory=list)


def score(case: Case, judged: Judged) -> Scored:
    """Compares what was said with the labels of the case."""
    outcome = compare(case, judged.said)
    settled_at_end = [p for p, each in case.settlings.items() if each and each[-1].must
                      and each[-1].off_s >= case.until_s and p in case.decisions]  # fmt: skip
    marked = [(t.after_mark, s.after_mark) for t, s in outcome.pairs if t.after_mark is not None]
    return Scored(
        seed=case.seed, scene=case.scene, fault_free=case.fault_free,
        hours=sum(s.hours for s in case.streams), readings=sum(len(t) for t in case.times.values()),
        seconds=judged.seconds, outcome=outcome, settled=compare_settled(case, judged.said),
        decisions=[(p, right, str(judged.points.get(p, {}).get("decision")))
                   for p, right in case.decisions.items()],
        states=[(p, str(judged.points.get(p, {}).get("state"))) for p in settled_at_end],
        delays=list(_delays(case, outcome)),
        marks=[b is not None and abs(a - b) < 0.01 for a, b in marked],
    )  # fmt: skip


def _delays(case: Case, outcome: Outcome) -> Iterator[tuple[str, int]]:
    for truth, said in outcome.pairs:
        if (
            said.kind in QUICK
            and said.point is not None
            and said.point in case.times
            and truth.accept[0][0] in QUICK
        ):
            times = np.array(case.times[said.point], dtype=np.float64)
            yield truth.accept[0][0], int(((times > truth.start_s) & (times <= said.found_s)).sum())


def poisson_upper(count: int, hours: float) -> float:
    """Upper 95 % bound of a rate per hour after `count` events (exact; 3/T for none)."""
    return float(chi2.ppf(0.95, 2 * (count + 1)) / 2 / hours) if hours else float("nan")


@dataclass(slots=True)
class Figures:
    """Counts of a kind, or of all of them."""

    told: int = 0
    wrong: int = 0
    missed: int = 0

    @property
    def precision(self) -> float:
        return self.told / (self.told + self.wrong) if self.told + self.wrong else float("nan")

    @property
    def recall(self) -> float:
        return self.told / (self.told + self.missed) if self.told + self.missed else float("nan")

    @property
    def f1(self) -> float:
        return (
            2 * self.told / (2 * self.told + self.wrong + self.missed)
            if self.told + self.missed
            else float("nan")
        )


def by_kind(scored: list[Scored]) -> dict[str, Figures]:
    """Figures of each kind; a pair counts under the kind that the label names first."""
    found: dict[str, Figures] = {}
    for case in scored:
        for truth, _ in case.outcome.pairs:
            found.setdefault(truth.accept[0][0], Figures()).told += 1
        for truth in case.outcome.missed:
            found.setdefault(truth.accept[0][0], Figures()).missed += 1
        for said in (*case.outcome.wrong, *case.outcome.retracted):
            found.setdefault(said.kind, Figures()).wrong += 1
    return found


def overall(kinds: dict[str, Figures], only: frozenset[str] | None = None) -> Figures:
    """All kinds of the event F1 together, or those of `only`."""
    wanted = [f for k, f in kinds.items() if (k in only if only else k not in UNSCORED)]
    return Figures(sum(f.told for f in wanted), sum(f.wrong for f in wanted), sum(f.missed for f in wanted))
