"""The Saltmarsh Six as ordinary differential equations on simulated time.

One step is one mains cycle (20 ms). The rectifier is averaged over its half cycles: with a sinusoid of peak P
behind a resistance R charging a capacitor that stands at v, each half wave conducts for an angle
a = acos(v/P) on both sides of its peak and carries on average 2P/(pi R) (sin a - a cos a). Every capacitor is one
state, stepped with a linearised backward Euler step; the heat of heaters and cathodes is stepped every tenth of
a second.
"""

from __future__ import annotations

import math
from array import array

import numpy as np

from .mains import STEPS_PER_S, Mains, MainsCharacter
from .parts import Parts, parts_of
from .thermal import Filament, Indirect, emission
from .tubes import Neon, Regulator

DT = 1.0 / STEPS_PER_S
SLOW = 5
"""Steps from one thermal step to the next."""
RECTIFIERS = ("solid", "direct", "indirect")

COLUMNS = (
    "B+1", "B+2", "screen", "V6 cathode", "regulator", "B+4", "pilot", "mains", "heater",
    "ripple", "regulator current", "output current", "regulator lit", "chassis",
)  # fmt: skip
"""What a step records. The first nine are test points; ripple is Vac rms on B+1, currents in amperes, the
chassis' temperature in degrees Celsius."""
POINTS = COLUMNS[:9]

_V6_AT, _RF_ANODES, _RF_SCREENS, _OSC, _AF, _MIXER = 34.8e-3, 13.4e-3, 2.5e-3, 5e-3, 0.8e-3, 0.84e-3
_V6_REACH = 275.6 / 19 - 9.4
"""Volts of drive on V6 when all is nominal: screen voltage over its amplification, less the bias."""
_RESERVE = 12.0
"""A good cathode can emit this many times what the circuit draws."""


class Receiver:
    """The set: `step()` goes on by one mains cycle and appends a row to `rows`."""

    def __init__(
        self,
        seed: int = 0,
        rectifier: str = "direct",
        mains: MainsCharacter | None = None,
        spread: float = 1.0,
        parts: Parts | None = None,
    ) -> None:
        if rectifier not in RECTIFIERS:
            raise ValueError(f"rectifier must be one of {', '.join(RECTIFIERS)}, not {rectifier!r}")
        self.rectifier = rectifier
        self.parts = parts if parts is not None else parts_of(seed, spread)
        self.mains = Mains(mains or MainsCharacter(), seed)
        self._rng = np.random.default_rng([seed, 0xC])
        self.switch = False
        self.variac = 1.0
        """What the variable transformer gives, as a part of the outlet's voltage."""
        self.fuse_heat = 0.0
        self.fuse = True
        self.steps = 0
        self.rows = array("d")
        self.load = dict.fromkeys(POINTS, 0.0)
        """Siemens that meters put on each point."""
        self.v1 = self.v2 = self.vs = self.v4 = self.vk = 0.0
        self.regulator, self.pilot = Regulator(), Neon()
        p = self.parts
        self.v6 = Indirect(4.8, 6.3, 13.0 * p.pace6, 14.0 * p.pace6)
        self.rf = Indirect(9.5, 6.3, 10.5 * p.pace_rf, 11.5 * p.pace_rf)
        self.tube: Indirect | Filament | None = None
        if rectifier == "direct":
            self.tube = Filament(10.0, 5.0, 7.0 * p.pace_rectifier)
        elif rectifier == "indirect":
            self.tube = Indirect(6.3, 6.3, 12.0 * p.pace_rectifier, 13.0 * p.pace_rectifier)
        self.winding = 0.0
        """How far the transformer has warmed: 0 cold, 1 after an hour."""
        self.chassis = 20.0
        self._amps_primary = self._amps_heaters = 0.0
        self._e6 = self._erf = self._er = 0.0
        self._d6 = self._drf = self._dr = 0.0
        self._volts: list[float] = []
        self.i6 = self._amps_ht = self._ripple = 0.0

    @property
    def seconds(self) -> float:
        """Simulated time."""
        return self.steps / STEPS_PER_S

    def step(self) -> None:
        """One mains cycle."""
        at = self.steps % STEPS_PER_S
        if at == 0:
            self._volts = self.mains.next_second()
            self._each_second()
        outlet = self._volts[at]
        on = self.switch and self.fuse
        primary = outlet * self.variac - self.parts.r_primary * self._amps_primary if on else 0.0
        if self.steps % SLOW == 0:
            self._heat(primary)
        self._e6 += self._d6
        self._erf += self._drf
        self._er += self._dr
        self._electric(primary)
        self._fuse_and_primary(primary)
        self.steps += 1
        regulator = self.regulator
        self.rows.extend((
            self.v1, self.v2, self.vs, self.vk, regulator.volts, self.v4, 1.0 if self.pilot.lit else 0.0,
            outlet * self.variac, primary * 6.3 / 225.0, self._ripple, regulator.amps, self.i6,
            1.0 if regulator.lit else 0.0, self.chassis,
        ))  # fmt: skip

    def _each_second(self) -> None:
        on = self.switch and self.fuse
        self.winding += ((1.0 if on else 0.0) - self.winding) / 900.0
        self.chassis += ((45.0 if on else 20.0) - self.chassis) / 420.0
        chance, where = self._rng.random(2)
        if self.regulator.lit and chance < 1 / 300:
            self.regulator.shift = 1.6 * float(where) - 0.8

    def _heat(self, primary: float) -> None:
        """Heaters and cathodes over the next SLOW steps; emissions move evenly over them."""
        p, dt = self.parts, SLOW * DT
        volts = primary * 6.3 / 225.0
        if p.heater_joint:
            volts *= 1.0 / (1.0 + p.heater_joint * self._amps_heaters / 6.3)
        self._amps_heaters = self.v6.warm(volts, dt, p.heater6_joint) + self.rf.warm(volts, dt)
        watts = volts * self._amps_heaters
        hot_r = 1.0
        if self.tube is not None:
            own = volts if isinstance(self.tube, Indirect) else volts * 5.0 / 6.3
            watts += own * self.tube.warm(own, dt)
            hot_r = emission(self.tube.cathode) * p.emission_rectifier
        self._watts_heaters = watts
        e6 = emission(self.v6.cathode) * p.emission6 * _RESERVE * _V6_AT
        erf = emission(self.rf.cathode) * p.emission_rf * _RESERVE
        self._d6, self._drf, self._dr = (
            (e6 - self._e6) / SLOW,
            (erf - self._erf) / SLOW,
            (hot_r - self._er) / SLOW,
        )

    def _electric(self, primary: float) -> None:
        p = self.parts
        v1, v2, vs, v4, vk = self.v1, self.v2, self.vs, self.v4, self.vk
        load = self.load
        # what the valves draw
        warm = 0.90 + 0.10 * self.v6.structure
        i4 = _AF * (v2 / 240.0) * min(1.0, self._erf)
        grid = (v2 - p.r_anode4 * i4) * p.r_grid / (p.r_grid + p.leak25) + p.gas6 * self.i6 * p.r_grid * warm
        grid = min(grid, vk + 0.3)
        drive = (v1 - vk) / 19.0 - vk + grid
        i6, slope6 = _valve(_V6_AT * p.strength6 * warm, drive, _V6_REACH, self._e6)
        self.i6 = i6
        strength = p.strength_rf * (0.88 + 0.12 * self.rf.structure)
        share, _ = _valve(strength, vs, 185.0, self._erf)
        mixer, slope4 = _valve(strength * _MIXER, v4, 95.0, self._erf * _MIXER)
        # rectifier
        i_in, g_in, conducts = self._rectified(primary)
        # regulator and reservoir
        self.regulator.step(v1, _OSC / 150.0 * min(1.0, self._erf) + load["regulator"], p)
        leak1 = 1.0 / p.leak31 + load["B+1"]
        out1 = (v1 - v2) / p.r33 + i6 + self.regulator.feed_amps + v1 * leak1
        g1 = g_in + 1.0 / p.r33 + slope6 / 19.0 + self.regulator.conductance + leak1
        self.v1 = v1 = v1 + DT * (i_in - out1) / (p.c31 + DT * g1)
        self._amps_ht = i_in
        self._ripple = out1 * DT / 2 * (1.0 - conducts) / p.c31 / math.sqrt(12.0) / max(p.halves, 0.5)
        # second reservoir
        leak2 = 1.0 / p.leak32 + load["B+2"]
        net2 = (
            (v1 - v2) / p.r33 - (v2 - vs) / p.r12 - (v2 - v4) / p.r38 - _RF_ANODES * share - i4 - v2 * leak2
        )
        self.v2 = v2 = v2 + DT * net2 / (p.c32 + DT * (1 / p.r33 + 1 / p.r12 + 1 / p.r38 + leak2))
        # screens
        leaks = 1.0 / p.leak22 + load["screen"]
        nets = (v2 - vs) / p.r12 - _RF_SCREENS * share - vs * leaks
        self.vs = vs + DT * nets / (
            p.c22 + DT * (1 / p.r12 + leaks + _RF_SCREENS * 1.5 * share / max(vs, 1.0))
        )
        # divider, with the pilot on it
        self.pilot.step(v4, p)
        g4 = 1.0 / p.r38 + 1.0 / p.r39 + load["B+4"]
        net4 = v2 / p.r38 - v4 * g4 - mixer - self.pilot.amps
        self.v4 = v4 + DT * net4 / (p.c38 + DT * (g4 + slope4))
        # V6's cathode
        gk = 1.0 / p.r27 + load["V6 cathode"]
        self.vk = vk + DT * (i6 - vk * gk) / (p.c27 + DT * (gk + slope6 * 20.0 / 19.0))

    def _rectified(self, primary: float) -> tuple[float, float, float]:
        """Average current into the reservoir, its slope against the voltage there, and the part of the time."""
        p = self.parts
        peak = primary * p.turns_ht
        v1 = self.v1
        limit = self._er * 1.2
        if peak <= v1 or limit <= 1e-7 or p.halves == 0.0:
            return 0.0, 0.0, 0.0
        ratio = v1 / peak
        angle = math.acos(ratio)
        ohms = p.r_source * (1.0 + 0.08 * self.winding)
        amps = 2.0 * peak / (math.pi * ohms) * (math.sqrt(1.0 - ratio * ratio) - angle * ratio) * p.halves
        slope = 2.0 / (math.pi * ohms) * angle * p.halves
        k = 1.0 / math.sqrt(1.0 + (amps / limit) ** 2)
        return amps * k, slope * k**3, 2.0 * angle / math.pi * p.halves

    def _fuse_and_primary(self, primary: float) -> None:
        if primary <= 0.0:
            self._amps_primary = 0.0
            self.fuse_heat *= 0.99
            return
        watts = self._watts_heaters + self._amps_ht * primary * self.parts.turns_ht * 0.9
        self._amps_primary = watts / primary + 0.04
        self.fuse_heat += DT / 2.0 * ((self._amps_primary / 0.5) ** 2 - self.fuse_heat)
        if self.fuse_heat > 2.0:
            self.fuse = False


def _valve(nominal: float, drive: float, reach: float, limit: float) -> tuple[float, float]:
    """Current by the three-halves law, held under what the cathode emits, and its slope against the drive."""
    if drive <= 0.0 or limit <= 1e-9:
        return 0.0, 0.0
    part = drive / reach
    free = nominal * part * math.sqrt(part)
    k = 1.0 / math.sqrt(1.0 + (free / limit) ** 2)
    return free * k, 1.5 * free / drive * k**3
