"""General-purpose change detection, as text books and libraries give it: change indices out of a series.

Each method gives (index at which a change begins, index at which it was known). None knows of meters,
supplies or one another; what is common to all of them is in `baselines.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from .baseline_series import Array, Series

Change = tuple[int, int]
Method = Callable[[Series, Mapping[str, float]], list[Change]]


def _before(x: Array, width: int) -> tuple[Array, Array]:
    """Median and MAD (scaled to a deviation) of the `width` readings before each reading."""
    padded = np.concatenate([np.full(width, np.median(x[:width])), x])[:-1]
    windows = sliding_window_view(padded, width)
    middle = np.median(windows, axis=1)
    return middle, 1.4826 * np.median(np.abs(windows - middle[:, None]), axis=1)


def _of_mask(mask: NDArray[np.bool_], confirm: int) -> list[Change]:
    """Begin and end of each stretch of at least `confirm` readings, each known `confirm` readings later."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int)))
    last = len(mask) - 1
    found: list[Change] = []
    for a, b in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if b - a >= confirm:
            found += [(a, min(a + confirm - 1, last)), (min(b, last), min(b, last))]
    return found


def median_mad(s: Series, p: Mapping[str, float]) -> list[Change]:
    """Rolling median; a reading `k` scaled MADs away (floored at half a count) is out."""
    middle, spread = _before(s.x, int(p["width"]))
    return _of_mask(np.abs(s.x - middle) > p["k"] * np.maximum(spread, 0.5 * s.count), int(p["confirm"]))


def percent(s: Series, p: Mapping[str, float]) -> list[Change]:
    """A reading further than `percent` from the running median is out."""
    middle, _ = _before(s.x, int(p["width"]))
    far = np.abs(s.x - middle) > np.maximum(p["percent"] / 100 * np.abs(middle), 1.5 * s.count)
    return _of_mask(far, int(p["confirm"]))


def _restarting(s: Series, learn: int, run: Callable[[Array], int | None]) -> list[Change]:
    """A control chart on a level learnt from `learn` readings, learnt anew every 4 times as many in control.

    After an alarm the old level is kept for a minute, to see the return; without one, all is learnt anew.
    """
    found: list[Change] = []
    patience = max(5, round(60 / s.period_s))
    at = learn
    while at + 2 < len(s.x):
        first = s.x[at - learn : at]
        level = float(np.median(first))
        spread = max(1.4826 * float(np.median(np.abs(first - level))), 0.5 * s.count)
        z = (s.x[at : at + 4 * learn + patience] - level) / spread
        alarm = run(z[: 4 * learn])
        if alarm is None:
            at += 4 * learn
            continue
        begin = alarm
        while begin > 0 and abs(z[begin - 1]) > 2:
            begin -= 1
        found.append((at + begin, at + alarm))
        calm = (np.abs(z[alarm + 1 :]) < 3).astype(int)
        back = np.flatnonzero(calm[:-1] + calm[1:] == 2)
        if len(back) and back[0] <= patience:
            returned = at + alarm + 1 + int(back[0])
            found.append((returned, returned + 1))
            at = returned + learn
        else:
            at += alarm + learn
    return found


def cusum(s: Series, p: Mapping[str, float]) -> list[Change]:
    """Two-sided tabular CUSUM with reference value `k` and decision interval `h`, restarted at each alarm."""

    def run(z: Array) -> int | None:
        high = low = 0.0
        for i, value in enumerate(z.tolist()):
            high, low = max(0.0, high + value - p["k"]), max(0.0, low - value - p["k"])
            if high > p["h"] or low > p["h"]:
                return i
        return None

    return _restarting(s, int(p["learn"]), run)


def ewma(s: Series, p: Mapping[str, float]) -> list[Change]:
    """EWMA chart with weight `lam` and limits at `limit` of its own deviations, restarted at each alarm."""
    width = p["limit"] * np.sqrt(p["lam"] / (2 - p["lam"]))

    def run(z: Array) -> int | None:
        mean = 0.0
        for i, value in enumerate(z.tolist()):
            mean += p["lam"] * (value - mean)
            if abs(mean) > width:
                return i
        return None

    return _restarting(s, int(p["learn"]), run)


def change_points(s: Series, p: Mapping[str, float]) -> list[Change]:
    """Optimal segmentation with a linear penalty (ruptures, kernel change point detection); not causal."""
    import ruptures

    step = max(1, len(s.x) // 3000)
    x = s.x[: len(s.x) // step * step].reshape(-1, step).mean(axis=1)
    spread = max(1.4826 * float(np.median(np.abs(np.diff(x)))) / np.sqrt(2), 0.5 * s.count)
    found: Any = ruptures.KernelCPD(kernel="linear", min_size=2).fit((x / spread)[:, None])
    ends = found.predict(pen=p["penalty"] * np.log(len(x)))
    return [(int(e) * step, len(s.x) - 1) for e in ends[:-1]]


def streaming_drift(s: Series, p: Mapping[str, float]) -> list[Change]:
    """Adaptive windowing of a stream (river, ADWIN)."""
    from river.drift import ADWIN

    scale = max(float(np.ptp(s.x[: max(30, len(s.x) // 10)])), 4 * s.count)
    detector = ADWIN(delta=p["delta"], clock=int(p["clock"]), min_window_length=3, grace_period=10)
    found: list[Change] = []
    for i, value in enumerate(((s.x - s.x[0]) / scale).tolist()):
        detector.update(value)
        if detector.drift_detected:
            found.append(
                (max(0, i - round(detector.width) if detector.width < 40 else i - int(p["clock"])), i)
            )
    return found
