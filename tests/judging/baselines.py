"""General-purpose methods beside ours, tuned on the same seeds, scored by the same score.

`python -m tests.judging.baselines --tune 0:90 --seeds 1000:1060 --final`. Needs `ruptures` and `river` for
two of the rows. What they are all given freely, for none of them is made for it: when the set was on (marks,
or the mains meter), a hold-off while it warms, the chart's tree, and the rule that what most points share
is the mains. They are scored on moves alone: dropout, step, chatter, drift, mains.
"""

from __future__ import annotations

import argparse
import itertools
import time
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np

from . import baseline_methods as methods
from .baseline_series import Array, Series, Wiring, series
from .case import Case
from .matching import Said
from .plain import make
from .print_table import alarms
from .running import Judged, in_process
from .score import HELD_OUT, HELD_OUT_SEEDS, listed
from .tally import Figures, Scored, by_kind, overall, poisson_upper, score

Given = tuple[list[Series], Wiring]
MOVES = frozenset({"dropout", "step", "chatter", "drift", "creep", "mains"})
_COMMON = {"hold": (75.0,), "least": (0.7, 1.5, 3.0, 5.0)}
GRIDS: dict[str, tuple[methods.Method, dict[str, tuple[float, ...]]]] = {
    "rolling median, MAD": (
        methods.median_mad, {"width": (15, 31, 61, 121), "k": (6, 9, 14, 22, 40), "confirm": (1, 2)}),
    "percent of running median": (
        methods.percent, {"width": (15, 31, 61, 121), "percent": (0.7, 1.5, 3, 5), "confirm": (1, 2)}),
    "CUSUM, two-sided": (
        methods.cusum, {"learn": (10, 20, 40), "k": (0.5, 2, 6, 12, 25), "h": (10, 40, 120, 400)}),
    "EWMA": (methods.ewma, {"learn": (10, 20, 40), "lam": (0.1, 0.3, 0.7), "limit": (8, 30, 80, 200, 500)}),
    "change points (ruptures)": (methods.change_points, {"penalty": (40, 200, 1000, 5000, 25000)}),
    "streaming drift (river)": (
        methods.streaming_drift, {"delta": (5e-2, 2e-3, 1e-5), "clock": (1, 8)}),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Move:
    """A move of one point, as its changes tell it."""

    point: str
    kind: str
    start_s: float
    end_s: float | None
    found_s: float
    slack_s: float


def moves(s: Series, changes: Sequence[methods.Change], least: float) -> Iterator[Move]:
    """Changes made into dropouts (away and back within a minute), steps and chatter (five in 20 s)."""
    cuts = sorted({i: known for i, known in changes if 0 < i < len(s.x)}.items())
    levels = _levels(s.x, [i for i, _ in cuts])
    slack = 1.0 + 3 * s.period_s
    at = 0
    while at < len(cuts):
        i, known = cuts[at]
        burst = [k for k in range(at, len(cuts)) if s.t[cuts[k][0]] - s.t[i] < 20]
        before, after = levels[at], levels[at + 1]
        small = max(least / 100 * abs(before), 1.5 * s.count)
        if len(burst) >= 5:
            end = cuts[burst[-1]][0]
            yield Move(
                s.point, "chatter", float(s.t[i]), float(s.t[end]), float(s.t[cuts[burst[4]][1]]), slack
            )
            at = burst[-1] + 1
        elif abs(after - before) < small:
            at += 1
        else:
            back = _back(s, cuts, levels, at, small)
            kind, end_s = ("step", None) if back is None else ("dropout", float(s.t[cuts[back][0]]))
            yield Move(s.point, kind, float(s.t[i]), end_s, float(s.t[known]), slack)
            at = at + 1 if back is None else back + 1


def _back(s: Series, cuts: list[tuple[int, int]], levels: list[float], at: int, small: float) -> int | None:
    for k in range(at + 1, len(cuts)):
        if s.t[cuts[k][0]] - s.t[cuts[at][0]] > 60:
            return None
        if abs(levels[k + 1] - levels[at]) < max(small, 0.3 * abs(levels[at + 1] - levels[at])):
            return k
    return None


def _levels(x: Array, cuts: list[int]) -> list[float]:
    return [float(np.median(part[:200] if k else part[-200:])) for k, part in enumerate(np.split(x, cuts))]


def placed(found: Sequence[Move], wiring: Wiring, followers: int) -> Iterator[Said]:
    """Moves at the same time told once: of the mains, or of the first point of each branch."""
    rest = sorted(found, key=lambda m: m.start_s)
    while rest:
        first = rest[0]
        group = [m for m in rest if m.start_s - first.start_s <= max(m.slack_s, first.slack_s)]
        rest = [m for m in rest if m not in group]
        names = {m.point for m in group}
        end = None if first.kind == "step" else first.end_s
        if names & wiring.ac or (len(names) > 2 and len(names) >= 0.7 * followers):
            yield Said("mains", None, first.start_s, end, first.found_s, "info")
            continue
        for m in group:
            if not names & set(wiring.above(m.point)):
                yield Said(m.kind, m.point, m.start_s, m.end_s, m.found_s, "fault")


def judge(case: Case, name: str, settings: Mapping[str, float], given: Given | None = None) -> Judged:
    """One method on one case."""
    stretches, wiring = given or series(case, settings["hold"])
    begun = time.perf_counter()
    found = [m for s in stretches for m in moves(s, GRIDS[name][0](s, settings), settings["least"])]
    said = list(placed(found, wiring, len({s.point for s in stretches})))
    return Judged(said, {}, time.perf_counter() - begun)


def one(seed: int, name: str | None, settings: Mapping[str, float]) -> Scored:
    """One case under one method; no name: ours."""
    case = make(seed)
    return score(case, in_process(case) if name is None else judge(case, name, settings))


def settings_of(name: str) -> list[dict[str, float]]:
    """Every setting that is tried of a method."""
    grid = {**_COMMON, **GRIDS[name][1]}
    return [dict(zip(grid, values, strict=True)) for values in itertools.product(*grid.values())]


def rate(seed: int, name: str) -> list[Figures]:
    """One case under every setting of a method."""
    case = make(seed)
    given = {hold: series(case, hold) for hold in _COMMON["hold"]}
    return [
        overall(by_kind([score(case, judge(case, name, p, given[p["hold"]]))]), MOVES)
        for p in settings_of(name)
    ]


def tune(name: str, seeds: Sequence[int], pool: ProcessPoolExecutor) -> dict[str, float]:
    """The setting with the best F1 of moves on these seeds."""
    columns = zip(*pool.map(partial(rate, name=name), seeds, chunksize=2), strict=True)
    sums = [
        Figures(sum(f.told for f in c), sum(f.wrong for f in c), sum(f.missed for f in c)) for c in columns
    ]
    return max(zip(sums, settings_of(name), strict=True), key=lambda pair: pair[0].f1)[1]


def row(name: str, cases: list[Scored]) -> str:
    """One line of the table."""
    figures = overall(by_kind(cases), MOVES)
    free = [c for c in cases if c.fault_free]
    hours = sum(c.hours for c in free)
    false = sum(s.kind in MOVES for c in free for s in alarms(c))
    moved = [s.kind == "mains" for c in cases for t, s in c.outcome.pairs if t.accept[0][0] == "mains"]
    lost = sum(t.accept[0][0] == "mains" for c in cases for t in c.outcome.missed)
    blamed = sum(len(c.outcome.blamed) for c in cases)
    delays = [n for c in cases for k, n in c.delays if k == "dropout"] or [0]
    return (
        f"{name:<26} {figures.f1:>5.3f} {figures.precision:>5.2f} {figures.recall:>6.2f} "
        f"{100 * false / hours:>7.1f} {100 * poisson_upper(false, hours):>7.1f} "
        f"{sum(moved):>4}/{len(moved) + lost:<4} {blamed:>6} {np.median(delays):>6.0f}"
    )


HEAD = (
    f"{'method':<26} {'F1':>5} {'prec':>5} {'recall':>6} {'/100 h':>7} {'most':>7} "
    f"{'mains':>9} {'blamed':>6} {'delay':>6}"
)


def main(argv: Sequence[str] | None = None) -> None:
    """Tunes each method, then prints one table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tune", default="0:90", help="seeds to tune on")
    parser.add_argument("--seeds", default="100:200", help="seeds to score on")
    parser.add_argument("--method", action="append", choices=sorted(GRIDS), help="only these")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--final", action="store_true", help="allow seeds that are held out")
    options = parser.parse_args(argv)
    tuned, scored_on = listed(options.tune), listed(options.seeds)
    if any(s in HELD_OUT for s in (tuned if options.final else [*tuned, *scored_on])):
        parser.error(HELD_OUT_SEEDS)
    with ProcessPoolExecutor(options.jobs) as pool:
        ours = list(pool.map(partial(one, name=None, settings={}), scored_on, chunksize=4))
        print(HEAD, row("the watchers", ours), sep="\n", flush=True)
        for name in options.method or GRIDS:
            best = tune(name, tuned, pool)
            cases = list(pool.map(partial(one, name=name, settings=best), scored_on, chunksize=4))
            print(row(name, cases), {k: f"{v:g}" for k, v in best.items()}, flush=True)


if __name__ == "__main__":
    main()
