"""Heaters: side by side on a winding, or all in one chain across the mains; how cathodes warm and cool."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Heating:
    """How the heaters of a set are fed."""

    series: bool
    volts: tuple[float, ...]
    """Of each valve's heater, at the chart's mains, in the order of the circuit's valves."""
    dropper: float = 0.0
    """Volts lost before a chain."""
    tap: int = 0
    """A chain's test point stands below so many heaters."""


def heated(
    heating: Heating, warms_s: Array, t: Array, mains: Array, factors: Mapping[int, Array], tail_s: float
) -> tuple[Array, Array]:
    """(emission of each valve, heater volts at the test point): (time, variant, valve), (time, variant).

    `factors` (valve -> current that passes its heater, 1 or 0, -1 for all) belong to variant 0. 1 is the full
    emission of a cathode at its temperature; a slow tail of 5 % follows the bulb's.
    """
    volts = np.array(heating.volts)
    shape = (len(t), mains.shape[1], len(volts))
    passes = np.ones(shape)
    for valve, factor in factors.items():
        passes[:, 0, slice(None) if valve < 0 else valve] *= factor[:, None] if valve < 0 else factor
    hot = np.zeros(shape[1:])
    deep, bulb = hot.copy(), hot.copy()
    emission, tap = np.zeros(shape), np.zeros(shape[:2])
    nominal = volts.sum() + heating.dropper
    for i, dt in enumerate(np.diff(t, prepend=t[0] - 1e-3).tolist()):
        resistance = 0.18 + 0.82 * np.clip(hot, 0, 1.5) ** 0.6
        if heating.series:
            chain = (resistance * volts).sum(axis=1) + heating.dropper
            closed = passes[i].min(axis=1)
            current = mains[i] * nominal / chain * closed
            power = current[:, None] ** 2 * resistance
            below = (resistance * volts)[:, heating.tap :].sum(axis=1) * current
            above = passes[i][:, : heating.tap].min(axis=1, initial=1.0)
            tap[i] = np.where(closed > 0, below, mains[i] * nominal * above)
        else:
            load = (passes[i] / resistance).mean(axis=1)
            line = mains[i] * 1.06 / (1 + 0.06 * load)
            tap[i] = line * heating.volts[0] * passes[i].max(axis=1)
            power = passes[i] * line[:, None] ** 2 / resistance
        hot += (power - hot) * (1 - np.exp(-dt / (0.45 * warms_s)))
        deep += (hot - deep) * (1 - np.exp(-dt / (0.4 * warms_s)))
        bulb += (deep - bulb) * (1 - np.exp(-dt / tail_s))
        rise = np.clip((deep - 0.45) / 0.42, 0, 1)
        emission[i] = rise * rise * (3 - 2 * rise) * (0.95 + 0.05 * np.clip(bulb, 0, 1))
    return emission, tap
