"""Findings set against labels: what was told rightly, what was missed, what was told wrongly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import linear_sum_assignment

from .case import Case, Settling, Truth

UNSCORED = frozenset({"settled", "power_on", "power_off", "follows", "trial", "place", "suspects"})
"""Kinds outside the event F1: the first three are scored apart, verdicts are no events."""
POINTED = frozenset({"dropout", "step", "chatter", "drift", "creep", "departs"})
"""Kinds that blame a point for having moved."""


@dataclass(frozen=True, slots=True)
class Said:
    """A finding as it stands at the end, or as it stood when it was withdrawn. Times in seconds."""

    kind: str
    point: str | None
    start_s: float
    end_s: float | None
    found_s: float
    severity: str
    state: str = "open"
    """open, closed, merged or withdrawn."""
    text: str = ""
    after_mark: float | None = None


@dataclass(slots=True)
class Outcome:
    """One case, judged and compared."""

    pairs: list[tuple[Truth, Said]] = field(default_factory=list)
    missed: list[Truth] = field(default_factory=list)
    wrong: list[Said] = field(default_factory=list)
    """False alarms that still stand."""
    retracted: list[Said] = field(default_factory=list)
    """False alarms that were announced and withdrawn."""
    renamed: list[Said] = field(default_factory=list)
    """Announced wrongly, then merged into another finding."""
    allowed: list[Said] = field(default_factory=list)
    blamed: list[Said] = field(default_factory=list)
    """Of the wrong and retracted: points blamed for a move of the mains."""


def compare(case: Case, said: Sequence[Said]) -> Outcome:
    """Pairs each label that must be told with one finding; every other finding is allowed or wrong."""
    out = Outcome()
    listed = [s for s in said if s.state in ("open", "closed") and s.kind != "settled"]
    must = [t for t in case.truths if t.must]
    paired_truths, paired_said = _paired(must, listed)
    out.pairs = [(must[i], listed[j]) for i, j in zip(paired_truths, paired_said, strict=True)]
    out.missed = [t for i, t in enumerate(must) if i not in paired_truths]
    rest = [s for j, s in enumerate(listed) if j not in paired_said]
    for finding in rest:
        fits = any(_fits(t, finding) for t in case.truths if t.many or not t.must)
        (out.allowed if fits or finding.kind in UNSCORED - _POWER else out.wrong).append(finding)
    for finding in said:
        gone = finding.state in ("merged", "withdrawn") and finding.kind != "settled"
        if gone and not any(_fits(t, finding) for t in case.truths):
            (out.retracted if finding.state == "withdrawn" else out.renamed).append(finding)
    out.blamed = [s for s in (*out.wrong, *out.retracted) if s.kind in POINTED and _in_mains(case, s)]
    return out


_POWER = frozenset({"power_on", "power_off"})


def _fits(truth: Truth, said: Said) -> bool:
    return truth.answers(said.kind, said.point, said.start_s, said.end_s)


def _paired(must: list[Truth], listed: list[Said]) -> tuple[list[int], list[int]]:
    if not must or not listed:
        return [], []
    cost = np.full((len(must), len(listed)), 1e6)
    for i, truth in enumerate(must):
        for j, said in enumerate(listed):
            if _fits(truth, said):
                cost[i, j] = abs(said.start_s - truth.start_s) + (0 if said.kind == truth.accept[0][0] else 1)
    rows, columns = linear_sum_assignment(cost)
    good = [(int(i), int(j)) for i, j in zip(rows, columns, strict=True) if cost[i, j] < 1e6]
    return [i for i, _ in good], [j for _, j in good]


def _in_mains(case: Case, said: Said) -> bool:
    moves = [t for t in case.truths if ("mains", None) in t.accept]
    return any(
        t.start_s - t.early_s <= said.start_s <= max(t.start_s + t.late_s, t.end_s + t.early_s) for t in moves
    )


@dataclass(slots=True)
class SettledOutcome:
    """How the findings `settled` stand against the noise-free course."""

    wanted: int = 0
    told: int = 0
    early: list[tuple[Settling, Said]] = field(default_factory=list)
    """Announced before they were."""
    waits_s: list[float] = field(default_factory=list)
    """From the true instant to its announcement."""
    slips_s: list[float] = field(default_factory=list)
    """The instant that the finding states, less the true one."""


def compare_settled(case: Case, said: Sequence[Said]) -> SettledOutcome:
    """Whether each point was told settled in each run, and never before it was."""
    out = SettledOutcome()
    periods = {p: s.period_s for s in case.streams for p in s.points}
    for point, settlings in case.settlings.items():
        for settling in settlings:
            slack = 2.0 + 3 * periods.get(point, 1.0)
            told = [s for s in said if s.kind == "settled" and s.point == point
                    and settling.on_s <= s.found_s <= settling.off_s + slack]  # fmt: skip
            early = [s for s in told if s.found_s < settling.not_before_s - slack]
            out.early += [(settling, s) for s in early if settling.must]
            if settling.must:
                out.wanted += 1
                good = [s for s in told if s not in early and s.state in ("open", "closed")]
                out.told += bool(good)
                out.waits_s += [good[0].found_s - settling.at_s] if good else []
                out.slips_s += [good[0].start_s - settling.at_s] if good else []
    return out
