"""The table in which a score is printed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from .matching import UNSCORED, Said
from .tally import QUICK, Figures, Scored, by_kind, overall, poisson_upper


def table(scored: list[Scored], only: frozenset[str] | None = None) -> str:
    """The whole table, ready to print; `only`: these kinds of findings."""
    kinds = by_kind(scored)
    lines = [f"{'kind':<12} {'told':>5} {'missed':>6} {'false':>5}  {'prec':>5} {'recall':>6} {'F1':>5}"]
    for kind in sorted(kinds, key=lambda k: (k in UNSCORED, -kinds[k].told - kinds[k].missed)):
        if only is None or kind in only:
            lines.append(_row(kind, kinds[kind]))
    lines += [_row("ALL EVENTS", overall(kinds, only)), "", *_rates(scored), _mains(scored), *_delays(scored)]
    return "\n".join([*lines, _decisions(scored), *_settled(scored), _speed(scored)])


def alarms(case: Scored) -> list[Said]:
    """False alarms of one case, the withdrawn ones too."""
    return [s for s in (*case.outcome.wrong, *case.outcome.retracted) if s.kind not in UNSCORED]


def _row(name: str, f: Figures) -> str:
    counts = f"{name:<12} {f.told:>5} {f.missed:>6} {f.wrong:>5}"
    return f"{counts}  {f.precision:>5.2f} {f.recall:>6.2f} {f.f1:>5.3f}"


def _rates(scored: list[Scored]) -> Iterator[str]:
    free = [c for c in scored if c.fault_free]
    hours = sum(c.hours for c in free)
    yield f"false alarms in {hours:.1f} fault-free channel-hours, withdrawn ones counted:"
    for title, which in (("set", ("fault", "warning")), ("meters", ("meter",)), ("mains", ("info",))):
        count = sum(s.severity in which for c in free for s in alarms(c))
        rate = 100 * count / hours if hours else float("nan")
        most = 100 * poisson_upper(count, hours)
        yield f"  of the {title}: {count}, {rate:.1f} in 100 h, at most {most:.1f} (95 %)"
    told = sum(s.kind == "mains" for c in free for s in c.outcome.allowed)
    yield f"  mains told of its own wandering, allowed: {told}"
    retracted = sum(len(c.outcome.retracted) for c in scored)
    renamed = sum(len(c.outcome.renamed) for c in scored)
    yield f"withdrawn again, and false, {retracted}; merged after a wrong name {renamed}"


def _mains(scored: list[Scored]) -> str:
    moves = [s.kind for c in scored for t, s in c.outcome.pairs if t.accept[0][0] == "mains"]
    lost = sum(t.accept[0][0] == "mains" for c in scored for t in c.outcome.missed)
    right, total = moves.count("mains"), len(moves) + lost
    share = f" ({100 * right / total:.0f} %)" if total else ""
    blamed = sum(len(c.outcome.blamed) for c in scored)
    return (
        f"mains moves told as such {right} of {total}{share}; told of the only branch {len(moves) - right}; "
        f"points blamed for the mains {blamed}"
    )


def _delays(scored: list[Scored]) -> Iterator[str]:
    for kind in QUICK:
        delays = [n for c in scored for k, n in c.delays if k == kind]
        if delays:
            middle, late = np.quantile(delays, (0.5, 0.9))
            yield f"{kind}: told after {middle:.0f} readings in the median, 90 % within {late:.0f}"
    marks = [m for c in scored for m in c.marks]
    if marks:
        yield f"mark named with what followed it: {sum(marks)} of {len(marks)}"


def _decisions(scored: list[Scored]) -> str:
    answers = [(right, a) for c in scored for _, right, a in c.decisions]
    good = sum(a in right for right, a in answers)
    slips = Counter(f"{'/'.join(sorted(right))} -> {a}" for right, a in answers if a not in right)
    return f"decisions right {good} of {len(answers)}" + "".join(
        f"; {k} x{n}" for k, n in slips.most_common(5)
    )


def _settled(scored: list[Scored]) -> Iterator[str]:
    told, wanted = sum(c.settled.told for c in scored), sum(c.settled.wanted for c in scored)
    early = sum(len(c.settled.early) for c in scored)
    waits = [w for c in scored for w in c.settled.waits_s] or [float("nan")]
    states = [s for c in scored for _, s in c.states]
    wait = np.median(waits)
    yield f"settled told {told} of {wanted}, too early {early}, announced {wait:.0f} s after in the median"
    slips = np.abs([s for c in scored for s in c.settled.slips_s] or [np.nan])
    middle, most = np.quantile(slips, (0.5, 0.9))
    yield f"the instant of settling is stated within {middle:.1f} s in the median, {most:.1f} s in 90 %"
    yield f"state at the end settled {states.count('settled')} of {len(states)}"


def _speed(scored: list[Scored]) -> str:
    readings, seconds = sum(c.readings for c in scored), sum(c.seconds for c in scored)
    return f"{len(scored)} cases, {readings} readings, {readings / max(seconds, 1e-9):,.0f} readings a second"
