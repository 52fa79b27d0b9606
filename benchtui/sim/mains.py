"""The mains: a slow wander, quick small moves, and sags, from a seed."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

STEPS_PER_S = 50
"""Steps of the model in a second: one a mains cycle."""


@dataclass(frozen=True, slots=True)
class MainsCharacter:
    """How a mains supply behaves. Volts are rms."""

    volts: float = 230.0
    wander: float = 0.006
    """Standard deviation of the slow wander, as a part of the voltage; it turns over in about 4 minutes."""
    flutter: float = 0.0008
    """The same of the quick moves, over about 6 s: neighbours' kettles and lifts."""
    sags_per_h: float = 0.0
    sag_depth: tuple[float, float] = (0.04, 0.12)
    """Parts of the voltage, least and greatest."""
    sag_s: tuple[float, float] = (0.2, 3.0)
    trend_per_h: float = 0.0
    """A steady change, as a part of the voltage an hour: the evening dip."""
    trend_s: float = 3600.0
    """How long the trend lasts from the start; level after that."""
    sags: tuple[tuple[float, float, float], ...] = ()
    """Sags put there on purpose: (start in seconds, seconds, part of the voltage)."""


class Mains:
    """The outlet's voltage at each step, made second by second, so that it never depends on who asks when."""

    def __init__(self, character: MainsCharacter, seed: int) -> None:
        self.character = character
        self._rng = np.random.default_rng([seed, 0xB])
        self._slow = character.wander * float(self._rng.standard_normal())
        self._quick = character.flutter * float(self._rng.standard_normal())
        self._second = 0
        self._node = self._factor(0)
        self._sags: list[tuple[float, float, float]] = sorted(character.sags)
        self.sagged: list[tuple[float, float, float]] = []
        """Sags that have begun: (start, end, depth)."""

    def _factor(self, second: int) -> float:
        c = self.character
        hours = min(second, c.trend_s) / 3600
        return 1 + self._slow + self._quick + c.trend_per_h * hours

    def next_second(self) -> list[float]:
        """The volts of the next STEPS_PER_S steps."""
        c, start = self.character, self._second
        draws = self._rng.standard_normal(2)
        chance, where, depth, length = self._rng.random(4)
        for_slow, for_quick = math.exp(-1 / 240), math.exp(-1 / 6)
        self._slow = for_slow * self._slow + c.wander * math.sqrt(1 - for_slow**2) * float(draws[0])
        self._quick = for_quick * self._quick + c.flutter * math.sqrt(1 - for_quick**2) * float(draws[1])
        if chance < c.sags_per_h / 3600:
            lasts = c.sag_s[0] * (c.sag_s[1] / c.sag_s[0]) ** float(length)
            deep = c.sag_depth[0] + (c.sag_depth[1] - c.sag_depth[0]) * float(depth)
            self._sags.append((start + float(where), lasts, deep))
        self._second += 1
        before, self._node = self._node, self._factor(self._second)
        ramp = np.linspace(before, self._node, STEPS_PER_S, endpoint=False)
        times = start + np.arange(STEPS_PER_S) / STEPS_PER_S
        for sag in [s for s in self._sags if s[0] < self._second]:
            inside = (times >= sag[0]) & (times < sag[0] + sag[1])
            ramp[inside] *= 1 - sag[2]
            if sag[0] >= start:
                self.sagged.append((sag[0], sag[0] + sag[1], sag[2]))
        self._sags = [s for s in self._sags if s[0] + s[1] > self._second]
        volts: list[float] = (c.volts * ramp).tolist()
        return volts
