"""Tables of what was foreseen against what came."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from .asking import Told, ToldBleed
from .case import PHASES, ROADS
from .fits import METHODS, Guess

KNOWN = "at latest unknown"
HEAD = f"{'':<18} {'asked':>5} {'none':>5} {'in 1 %':>6} {'in 5 %':>6} {'error':>6} {'width':>6} {'holds':>6}"
HEAD_BLEED = f"{'':<28} {'asked':>5} {'none':>5} {'early':>6} {'error':>6} {'latest':>6} {'unknown':>7}"


@dataclass(frozen=True, slots=True)
class Line:
    """How well one method did; shares of all that was asked, a refusal counting as a miss."""

    asked: int
    refused: float
    in_1: float
    in_5: float
    error: float
    """Median, as a part of the truth; of those given."""
    width: float
    """Median of the interval, as a part of the truth; of those given."""
    holds: float
    """How often the interval holds the truth, of those given; NaN where the method gives none."""

    def __str__(self) -> str:
        parts = (self.refused, self.in_1, self.in_5, self.error, self.width, self.holds)
        return f"{self.asked:>5} " + " ".join(
            f"{100 * p:>{w}.{d}f}" if p == p else f"{'-':>{w}}"
            for p, w, d in zip(parts, (5, 6, 6, 6, 6, 6), (1, 1, 1, 2, 1, 1), strict=True)
        )


def line(asked: Sequence[Told], guesses: Sequence[Guess | None]) -> Line:
    """One line of the table of settled values."""
    rows = [(a.ask.truth, g) for a, g in zip(asked, guesses, strict=True) if g is not None]
    off = np.array([abs(g[0] - truth) / abs(truth) for truth, g in rows])
    bounds = [(truth, *sorted((g[1], g[2]))) for truth, g in rows if g[1] is not None and g[2] is not None]
    many = max(len(asked), 1)
    return Line(
        asked=len(asked),
        refused=1.0 - len(rows) / many,
        in_1=float((off <= 0.01).sum()) / many,
        in_5=float((off <= 0.05).sum()) / many,
        error=_median(off),
        width=_median([(high - low) / abs(truth) for truth, low, high in bounds]),
        holds=float(np.mean([low <= truth <= high for truth, low, high in bounds])) if bounds else np.nan,
    )


def settled(told: Sequence[Told]) -> Iterator[str]:
    """Where points settle, phase by phase, sets as charted and sets with parts far off apart."""
    for phase in PHASES:
        for off_chart in (False, True):
            asked = [a for a in told if a.ask.phase == phase and a.ask.off_chart == off_chart]
            if not asked:
                continue
            yield f"{phase}, {'two parts far off' if off_chart else 'healthy'}"
            yield f"  {'foreseen':<16} {line(asked, [_ours(a) for a in asked])}"
            for name, method in METHODS.items():
                yield f"  {name:<16} {line(asked, [method(a) for a in asked])}"


def times(told: Sequence[Told]) -> Iterator[str]:
    """When they settle: error of the time since power-on, and how often the interval holds."""
    for phase in PHASES:
        for off_chart in (False, True):
            rows = [a for a in told if a.ask.phase == phase and a.ask.off_chart == off_chart]
            given = [a for a in rows if a.at_s is not None]
            off = [abs(a.at_s - a.ask.settles_s) / (a.ask.settles_s - a.ask.on_s) for a in given if a.at_s]
            open_ = [a for a in given if not a.settled]
            held = [(a.at_low_s or 0) <= a.ask.settles_s <= (a.at_high_s or 0) for a in open_]
            holds = f"{100 * float(np.mean(held)):5.1f}" if held else "    -"
            name = f"{phase}, {'two parts far off' if off_chart else 'healthy'}"
            yield f"  {name:<26} asked {len(rows):>4}, error {100 * _median(off):5.1f}, holds {holds}"


def bleeds(told: Sequence[ToldBleed]) -> Iterator[str]:
    """When points are below the warning level after power-off."""
    for road in ROADS:
        for off_chart in (False, True):
            rows = [a for a in told if a.ask.road == road and a.ask.off_chart == off_chart]
            if rows:
                yield f"  {road + (', two parts far off' if off_chart else ', healthy'):<26} {_bleed(rows)}"


def _bleed(rows: Sequence[ToldBleed]) -> str:
    given = [a for a in rows if a.at_s is not None and a.at_high_s is not None]
    left = np.array([a.ask.below_s - a.ask.at_s for a in given])
    off = np.abs([a.at_s - a.ask.below_s for a in given if a.at_s is not None]) / left
    latest = np.array([a.at_high_s - a.ask.at_s for a in given if a.at_high_s is not None]) / left
    known = np.array([not a.why.startswith(KNOWN) for a in given], dtype=np.bool_)
    early = 100 * float((latest < 1.0).mean()) if len(given) else np.nan
    return (
        f"{len(rows):>5} {100 * (1 - len(given) / len(rows)):>5.1f} {early:>6.1f} {100 * _median(off):>6.1f} "
        f"{_median(latest):>6.2f} {100 * float(1 - known.mean()) if len(given) else np.nan:>7.1f}"
    )


def _ours(a: Told) -> Guess | None:
    return None if a.value is None else (a.value, a.low, a.high)


def _median(values: Sequence[float] | np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
    return float(np.median(values)) if len(values) else float("nan")
