"""The figures over many cases, and the table in which they are printed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from scipy.stats import chi2

from .matching import UNSCORED, Outcome, Said, SettledOutcome, compare, compare_settled
from .plain import Case
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
        if said.kind in QUICK and said.point in case.times and truth.accept[0][0] in QUICK:
            times = np.array(case.times[said.point])
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


def table(scored: list[Scored], only: frozenset[str] | None = None) -> str:
    """The whole table, ready to print."""
    kinds = by_kind(scored)
    lines = [f"{'kind':<12} {'told':>5} {'missed':>6} {'false':>5}  {'prec':>5} {'recall':>6} {'F1':>5}"]
    for kind in sorted(kinds, key=lambda k: (k in UNSCORED, -kinds[k].told - kinds[k].missed)):
        if only is None or kind in only:
            lines.append(_row(kind, kinds[kind]))
    lines += [_row("ALL EVENTS", overall(kinds, only)), "", *_rates(scored), *_others(scored)]
    return "\n".join(lines)


def _row(name: str, f: Figures) -> str:
    return (f"{name:<12} {f.told:>5} {f.missed:>6} {f.wrong:>5}  {f.precision:>5.2f} {f.recall:>6.2f} "
            f"{f.f1:>5.3f}")  # fmt: skip


def alarms(case: Scored) -> list[Said]:
    """False alarms of one case, the withdrawn ones too."""
    return [s for s in (*case.outcome.wrong, *case.outcome.retracted) if s.kind not in UNSCORED]


def _rates(scored: list[Scored]) -> Iterator[str]:
    free = [c for c in scored if c.fault_free]
    hours = sum(c.hours for c in free)
    for title, which in (
        ("of the set", ("fault", "warning")),
        ("of meters", ("meter",)),
        ("mains", ("info",)),
    ):
        count = sum(s.severity in which for c in free for s in alarms(c))
        yield (f"false alarms {title:<10} {count:>4} in {hours:.1f} fault-free channel-hours: "
               f"{100 * count / hours if hours else float('nan'):.1f} in 100 h, "
               f"at most {100 * poisson_upper(count, hours):.1f} (95 %)")  # fmt: skip
    retracted = sum(len(c.outcome.retracted) for c in scored)
    yield f"withdrawn again {retracted} (counted as false), merged after a wrong name {sum(len(c.outcome.renamed) for c in scored)}"


def _others(scored: list[Scored]) -> Iterator[str]:
    moves = [(t, s.kind) for c in scored for t, s in c.outcome.pairs if t.accept[0][0] == "mains"]
    lost = sum(t.accept[0][0] == "mains" for c in scored for t in c.outcome.missed)
    right = sum(kind == "mains" for _, kind in moves)
    blamed = sum(len(c.outcome.blamed) for c in scored)
    total = len(moves) + lost
    yield (f"mains moves told as such {right} of {total}" + (f" ({100 * right / total:.0f} %)" if total else "")
           + f"; told of the only branch {len(moves) - right}; points blamed for the mains {blamed}")  # fmt: skip
    for kind in QUICK:
        delays = [n for c in scored for k, n in c.delays if k == kind]
        if delays:
            yield f"{kind}: told after {np.median(delays):.0f} readings in the median, 90 % within {np.quantile(delays, 0.9):.0f}"
    answers = [(right, a) for c in scored for _, right, a in c.decisions]
    good = sum(a in right for right, a in answers)
    slips = Counter(f"{'/'.join(sorted(right))} -> {a}" for right, a in answers if a not in right)
    yield f"decisions right {good} of {len(answers)}" + "".join(
        f"; {k} x{n}" for k, n in slips.most_common(5)
    )
    told, wanted = sum(c.settled.told for c in scored), sum(c.settled.wanted for c in scored)
    waits = [w for c in scored for w in c.settled.waits_s] or [float("nan")]
    states = [s for c in scored for _, s in c.states]
    yield (f"settled told {told} of {wanted}, too early {sum(len(c.settled.early) for c in scored)}, announced "
           f"{np.median(waits):.0f} s after in the median; settled at the end {states.count('settled')} of {len(states)}")  # fmt: skip
    marks = [m for c in scored for m in c.marks]
    if marks:
        yield f"mark named with what followed it: {sum(marks)} of {len(marks)}"
    readings, seconds = sum(c.readings for c in scored), sum(c.seconds for c in scored)
    yield f"{len(scored)} cases, {readings} readings, {readings / max(seconds, 1e-9):,.0f} readings a second"
