"""Plays a case through the bank, stops at each question and notes what the program says."""

from __future__ import annotations

import time
from dataclasses import dataclass, field

import numpy as np

from benchtui.chart.settings import Settings
from benchtui.model.block import Block
from benchtui.model.readings import Floats
from benchtui.watch.bank import Bank

from .case import Ask, AskBleed, Case


@dataclass(slots=True)
class Told:
    """One answer. None where the program gave none."""

    ask: Ask
    value: float | None
    low: float | None
    high: float | None
    at_s: float | None
    at_low_s: float | None
    at_high_s: float | None
    settled: bool
    """The program called the point settled; then these are the settled level's."""
    why: str
    seconds: float
    t: Floats = field(repr=False)
    x: Floats = field(repr=False)
    """What was read of the point in this run so far, for the baselines."""
    nominal: float | None = None
    mains: float | None = None


@dataclass(slots=True)
class ToldBleed:
    """One answer about a discharge."""

    ask: AskBleed
    at_s: float | None
    at_high_s: float | None
    why: str


def play(case: Case) -> tuple[list[Told], list[ToldBleed]]:
    """Asks everything that the case asks, each at its moment and knowing nothing of later."""
    bank = Bank(case.chart, case.channels, Settings())
    told: list[Told] = []
    bleeds: list[ToldBleed] = []
    questions: list[Ask | AskBleed] = sorted((*case.asks, *case.bleeds), key=lambda a: a.at_s)
    done = -1
    for ask in questions:
        upto = round(ask.at_s * 1e9)
        if upto > done:
            bank.feed(_between(case.block, done, upto))
            done = upto
        if isinstance(ask, Ask):
            told.append(_told(bank, ask))
        else:
            bleeds.append(_told_bleed(bank, ask))
    return told, bleeds


def _between(block: Block, after_ns: int, upto_ns: int) -> Block:
    t = block.readings.t_ns
    a, b = np.searchsorted(t, (after_ns, upto_ns), side="right")
    notes = tuple(n for n in block.notes if after_ns < n.t_ns <= upto_ns)
    return Block(block.readings.take(slice(int(a), int(b))), notes, upto_ns)


def _told(bank: Bank, ask: Ask) -> Told:
    desk = bank.placer.desk
    track = desk.tracks[ask.point]
    t, x = track.segment.history.between(round(ask.on_s * 1e9), desk.now_ns)
    begun = time.process_time()
    found, why = bank.placer.foresight.predicted(track)
    spent = time.process_time() - begun
    nominal, mains = track.point.nominal, desk.mains_factor() if track.point.follows_mains else None
    common = {"why": why or "", "seconds": spent, "t": t * 1e-9, "x": x, "nominal": nominal, "mains": mains}
    if found is not None:
        return Told(
            ask, found["value"], found["low"], found["high"], found["at_s"], found["at_low_s"],
            found["at_high_s"], False, **common,
        )  # fmt: skip
    if track.settled_ns is not None:
        level, tol = track.settled_level, bank.placer.settling.tolerance(track, track.settled_level)
        at = track.settled_ns / 1e9
        return Told(ask, level, level - tol, level + tol, at, at, at, True, **common)
    return Told(ask, None, None, None, None, None, None, False, **common)


def _told_bleed(bank: Bank, ask: AskBleed) -> ToldBleed:
    found, why = bank.placer.foresight.bleed(bank.placer.desk.tracks[ask.point], guess=True)
    if found is None:
        return ToldBleed(ask, None, None, why or "")
    return ToldBleed(ask, found["at_s"], found["at_high_s"], why or "")
