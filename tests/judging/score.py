"""Scores the watchers on labelled cases: `python -m tests.judging.score plain --seeds 0:60 --show misses`."""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial

from .matching import Said
from .plain import SCENES, Truth, make, scene_of
from .print_table import alarms, table
from .running import JUDGES
from .tally import Scored, score

HELD_OUT = 1000
"""Seeds from here on are for the final figure alone."""


def run(seed: int, how: str = "process") -> Scored:
    """Makes, judges and compares one case."""
    case = make(seed)
    return score(case, JUDGES[how](case))


def scored(seeds: Sequence[int], jobs: int = 1, how: str = "process") -> list[Scored]:
    """All cases, in the order of the seeds."""
    if jobs == 1:
        return [run(seed, how) for seed in seeds]
    with ProcessPoolExecutor(jobs) as pool:
        return list(pool.map(partial(run, how=how), seeds, chunksize=2))


def chosen(text: str, scenes: Sequence[str], quiet: bool) -> list[int]:
    """The seeds that `0:60` or `3,7` name, those of some scenes only where asked."""
    if ":" in text:
        first, _, last = text.partition(":")
        seeds = list(range(int(first), int(last)))
    else:
        seeds = [int(s) for s in text.split(",")]
    if quiet:
        seeds = [s for s in seeds if s % 3 == 0]
    return [s for s in seeds if scene_of(s)[0].name in scenes] if scenes else seeds


def details(cases: list[Scored], show: str) -> list[str]:
    """One line for each miss or false alarm, worst scenes first."""
    lines: list[tuple[int, str]] = []
    weight = Counter[str]()
    for case in cases:
        weight[case.scene] += len(case.outcome.missed) + len(alarms(case))
        head = f"seed {case.seed} {case.scene}"
        if show in ("misses", "all"):
            lines += [(case.seed, f"{head}: MISSED {_truth(t)}") for t in case.outcome.missed]
        if show in ("false", "misses", "all"):
            lines += [(case.seed, f"{head}: FALSE {_said(s)}") for s in case.outcome.wrong]
            lines += [(case.seed, f"{head}: WITHDRAWN {_said(s)}") for s in case.outcome.retracted]
        if show == "all":
            lines += [(case.seed, f"{head}: MERGED {_said(s)}") for s in case.outcome.renamed]
            lines += [
                (case.seed, f"{head}: EARLY, true {a.at_s:.1f} s: {_said(s)}") for a, s in case.settled.early
            ]
            lines += [(case.seed, f"{head}: DECISION {p}: {a}, right is {'/'.join(sorted(right))}")
                      for p, right, a in case.decisions if a not in right]  # fmt: skip
    order = {c.seed: (-weight[c.scene], c.scene, c.seed) for c in cases}
    return [line for _, line in sorted(lines, key=lambda pair: order[pair[0]])]


def _truth(t: Truth) -> str:
    kinds = "/".join(dict.fromkeys(k for k, _ in t.accept))
    return f"{t.name} ({kinds}) {t.accept[0][1]} {t.start_s:.2f}..{t.end_s:.2f}"


def _said(s: Said) -> str:
    end = "" if s.end_s is None else f"{s.end_s:.2f}"
    return f"{s.kind} {s.point} {s.start_s:.2f}..{end} found {s.found_s:.2f}: {s.text}"


def main(argv: Sequence[str] | None = None) -> None:
    """Prints the table and, where asked, the worst misses."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("generator", choices=["plain"])
    parser.add_argument("--seeds", default="0:60", help="0:60, or 3,7,12")
    parser.add_argument(
        "--scene", action="append", default=[], choices=sorted(SCENES), help="only these scenes"
    )
    parser.add_argument("--quiet", action="store_true", help="only the fault-free cases")
    parser.add_argument("--kinds", default="", help="only these kinds in the table: dropout,step,mains")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--show", choices=["misses", "false", "all"])
    parser.add_argument("--most", type=int, default=60, help="so many lines of misses")
    parser.add_argument("--by", choices=sorted(JUDGES), default="process")
    parser.add_argument(
        "--final", action="store_true", help=f"allow seeds from {HELD_OUT} on, kept for the end"
    )
    options = parser.parse_args(argv)
    seeds = chosen(options.seeds, options.scene, options.quiet)
    if not options.final and any(s >= HELD_OUT for s in seeds):
        parser.error(f"seeds from {HELD_OUT} on are held out: nothing may be tuned on them (--final)")
    cases = scored(seeds, options.jobs, options.by)
    print(table(cases, frozenset(options.kinds.split(",")) if options.kinds else None))
    if options.show:
        print("", *details(cases, options.show)[: options.most], sep="\n")


if __name__ == "__main__":
    main()
