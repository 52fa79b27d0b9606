"""Scores what is foreseen: `python -m tests.judging.foreseen --seeds 0:60`.

Prints, for each generator of cases, the settled values beside what anyone would say of them, the times to
settle and the discharges. Values in percent; `none`: no answer, a miss; `error`: median; `width`, `holds`: of
the 95 % interval; `latest`: the later bound against the truth; `unknown`: a guess, the latest unknown.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable

import numpy as np

from . import discharged, plain, simulated, tables
from .asking import Told, ToldBleed, play
from .case import Case

GENERATORS: dict[str, Callable[[int], Case]] = {
    "simulated": simulated.make, "plain": plain.make, "discharged": discharged.make
}  # fmt: skip


def main() -> None:
    """Plays the cases of some seeds and prints the tables."""
    parser = argparse.ArgumentParser(prog="python -m tests.judging.foreseen", description=__doc__)
    parser.add_argument("--seeds", default="0:60", help="first:end, the end left out")
    parser.add_argument("generators", nargs="*", help=f"of {', '.join(GENERATORS)}; without: all")
    args = parser.parse_args()
    first, end = map(int, args.seeds.split(":"))
    for name in args.generators or GENERATORS:
        told: list[Told] = []
        bleeds: list[ToldBleed] = []
        for seed in range(first, end):
            one, other = play(GENERATORS[name](seed))
            told += one
            bleeds += other
        _print(name, told, bleeds)


def _print(name: str, told: list[Told], bleeds: list[ToldBleed]) -> None:
    print(f"== {name} ==")
    if told:
        print(
            tables.HEAD,
            *tables.settled(told),
            "time to settle, since power-on:",
            *tables.times(told),
            sep="\n",
        )
        print(f"an answer costs {1e3 * float(np.mean([a.seconds for a in told])):.1f} ms in the mean")
    if bleeds:
        print("below the warning level:", tables.HEAD_BLEED, *tables.bleeds(bleeds), sep="\n")
    print(flush=True)


if __name__ == "__main__":
    main()
