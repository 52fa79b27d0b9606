"""Scores the watchers on labelled cases: `python -m tests.judging.score plain --seeds 0:60 --show misses`."""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from importlib import import_module

from .case import Case, Truth
from .matching import Said
from .print_table import alarms, table
from .running import JUDGES, in_process
from .tally import Scored, score

HELD_OUT = range(1000, 100_000)
"""Seeds for the final figure alone; those below and above may be tuned on."""
HELD_OUT_SEEDS = f"seeds {HELD_OUT.start} to {HELD_OUT.stop - 1} are held out"
GENERATORS = ("plain", "simulated", "network")
"""Packages beside this file; each has `make(seed) -> Case` and shares no code with the others."""


def maker(generator: str) -> Callable[[int], Case]:
    """The function that makes the case of a seed."""
    make: Callable[[int], Case] = import_module(f".{generator}", __package__).make
    return make


def run(seed: int, generator: str = "plain", how: str = "process", false_alarms: str = "") -> Scored:
    """Makes, judges and compares one case; `false_alarms`: the setting, where not the default."""
    case = maker(generator)(seed)
    if false_alarms:
        return score(case, in_process(case, {"false_alarms": false_alarms}))
    return score(case, JUDGES[how](case))


def scored(
    seeds: Sequence[int],
    jobs: int = 1,
    generator: str = "plain",
    how: str = "process",
    false_alarms: str = "",
) -> list[Scored]:
    """All cases, in the order of the seeds."""
    each = partial(run, generator=generator, how=how, false_alarms=false_alarms)
    if jobs == 1:
        return [each(seed) for seed in seeds]
    with ProcessPoolExecutor(jobs) as pool:
        return list(pool.map(each, seeds, chunksize=2))


def listed(text: str) -> list[int]:
    """The seeds that `0:60` or `3,7` name."""
    if ":" in text:
        first, _, last = text.partition(":")
        return list(range(int(first), int(last)))
    return [int(s) for s in text.split(",")]


def chosen(seeds: list[int], generator: str, scenes: Sequence[str], quiet: bool) -> list[int]:
    """The seeds that play one of these scenes, and the fault-free ones, where that is asked."""
    if not scenes and not quiet:
        return seeds
    module = import_module(f".{generator}", __package__)
    if hasattr(module, "scene_of"):
        played = {s: (scene.name, free) for s in seeds for scene, free in [module.scene_of(s)]}
    else:
        played = {s: (case.scene, case.fault_free) for s in seeds for case in [module.make(s)]}
    return [s for s in seeds if (not scenes or played[s][0] in scenes) and (not quiet or played[s][1])]


def details(cases: list[Scored], show: str) -> list[str]:
    """One line for each miss or false alarm, worst scenes first."""
    lines: list[tuple[int, str]] = []
    weight = Counter[str]()
    for case in cases:
        weight[case.scene] += len(case.outcome.missed) + len(alarms(case))
        lines += [(case.seed, f"seed {case.seed} {case.scene}: {line}") for line in _lines(case, show)]
    order = {c.seed: (-weight[c.scene], c.scene, c.seed) for c in cases}
    return [line for _, line in sorted(lines, key=lambda pair: order[pair[0]])]


def _lines(case: Scored, show: str) -> list[str]:
    lines: list[str] = []
    if show in ("misses", "all"):
        lines += [f"MISSED {_truth(t)}" for t in case.outcome.missed]
    lines += [f"FALSE {_said(s)}" for s in case.outcome.wrong]
    lines += [f"WITHDRAWN {_said(s)}" for s in case.outcome.retracted]
    if show == "all":
        lines += [f"MERGED {_said(s)}" for s in case.outcome.renamed]
        lines += [f"EARLY, true {a.at_s:.1f} s: {_said(s)}" for a, s in case.settled.early]
        wrong = [(p, right, a) for p, right, a in case.decisions if a not in right]
        lines += [f"DECISION {p}: {a}, right is {'/'.join(sorted(right))}" for p, right, a in wrong]
    return lines


def _truth(t: Truth) -> str:
    kinds = "/".join(dict.fromkeys(k for k, _ in t.accept))
    return f"{t.name} ({kinds}) {t.accept[0][1]} {t.start_s:.2f}..{t.end_s:.2f}"


def _said(s: Said) -> str:
    end = "" if s.end_s is None else f"{s.end_s:.2f}"
    return f"{s.kind} {s.point} {s.start_s:.2f}..{end} found {s.found_s:.2f}: {s.text}"


def main(argv: Sequence[str] | None = None) -> None:
    """Prints the table and, where asked, the worst misses."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("generator", choices=GENERATORS)
    parser.add_argument("--seeds", default="0:60", help="0:60, or 3,7,12")
    parser.add_argument("--scene", action="append", default=[], help="only these scenes")
    parser.add_argument("--quiet", action="store_true", help="only the fault-free cases")
    parser.add_argument("--kinds", default="", help="only these kinds in the table: dropout,step,mains")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--show", choices=["misses", "false", "all"])
    parser.add_argument("--most", type=int, default=60, help="so many lines of misses")
    parser.add_argument("--by", choices=sorted(JUDGES), default="process")
    parser.add_argument("--false-alarms", default="", help="the setting, where not the default: '1 in 10 h'")
    parser.add_argument("--final", action="store_true", help="allow seeds that are held out")
    options = parser.parse_args(argv)
    seeds = listed(options.seeds)
    if not options.final and any(s in HELD_OUT for s in seeds):
        parser.error(f"{HELD_OUT_SEEDS}: nothing may be tuned on them (--final)")
    seeds = chosen(seeds, options.generator, options.scene, options.quiet)
    cases = scored(seeds, options.jobs, options.generator, options.by, options.false_alarms)
    print(table(cases, frozenset(options.kinds.split(",")) if options.kinds else None))
    if options.show:
        print("", *details(cases, options.show)[: options.most], sep="\n")


if __name__ == "__main__":
    main()
