"""The Saltmarsh Six as ordinary differential equations on simulated time.

One step is one mains cycle (20 ms). Every capacitor is one state, stepped with a linearised backward Euler
step; the heat of heaters and cathodes is stepped every tenth of a second; chassis and winding every second.
"""

from __future__ import annotations

import math
from array import array

import numpy as np

from . import rectifier as rect
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

# Currents of the valves when all is nominal, amperes.
_V6, _RF_ANODES, _RF_SCREENS, _OSCILLATOR, _AF, _MIXER = 34.8e-3, 10.5e-3, 2.5e-3, 5e-3, 0.8e-3, 0.98e-3
_MU = 19.0
"""V6's amplification from its screen grid."""
_REACH = 275.6 / _MU - 9.4
"""Volts of drive on V6 when all is nominal."""
_RESERVE = 12.0
"""A good cathode can emit this many times what the circuit draws."""
_RECTIFIER_EMITS = 1.2
"""Amperes, mean, that a good rectifier's cathode can emit."""
_HALF = 0.6
"""How implicit a step is where nothing is stiff: 0.5 is the most accurate, 1 the most damped."""
_FUSE = 0.4
"""Amperes of the slow fuse; for long it stands twice the heat of that, and any surge of a second."""
_PRIMARY = 226.7
"""Volts left of 230 at the transformer once its load has dropped what it drops."""


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
        p = self.parts = parts if parts is not None else parts_of(seed, spread)
        self.mains = Mains(mains or MainsCharacter(), seed)
        self.switch = False
        self.variac = 1.0
        """What the variable transformer gives, as a part of the outlet's voltage."""
        self.fuse = True
        self.steps = 0
        self.rows = array("d")
        self.load = dict.fromkeys(POINTS, 0.0)
        """Siemens that meters put on each point."""
        self.chassis = 20.0
        self.regulator, self.pilot = Regulator(), Neon()
        self.v6 = Indirect(4.8, 6.3, 13.0 * p.pace6, 14.0 * p.pace6)
        self.rf = Indirect(9.5, 6.3, 10.5 * p.pace_rf, 11.5 * p.pace_rf)
        self.tube: Indirect | Filament | None = None
        if rectifier == "direct":
            self.tube = Filament(10.0, 5.0, 7.0 * p.pace_rectifier)
        elif rectifier == "indirect":
            self.tube = Indirect(6.3, 6.3, 12.0 * p.pace_rectifier, 13.0 * p.pace_rectifier)
        self._rng = np.random.default_rng([seed, 0xC])
        self._v1 = self._v2 = self._vs = self._v4 = self._vk = 0.0
        self._winding = self._fuse_heat = 0.0
        self._amps_primary = self._amps_heaters = self._watts_heaters = self._heater_volts = 0.0
        self._e6 = self._erf = self._er = self._d6 = self._drf = self._dr = 0.0
        self._i6 = self._amps_ht = self._ripple = 0.0
        self._outlet: list[float] = []

    @property
    def seconds(self) -> float:
        """Simulated time."""
        return self.steps / STEPS_PER_S

    def step(self) -> None:
        """One mains cycle."""
        at = self.steps % STEPS_PER_S
        if at == 0:
            self._outlet = self.mains.next_second()
            self._each_second()
        supply = self._outlet[at] * self.variac if self.switch else 0.0
        primary = supply - self.parts.r_primary * self._amps_primary if self.switch and self.fuse else 0.0
        if self.steps % SLOW == 0:
            self._heat(primary)
        self._e6 += self._d6
        self._erf += self._drf
        self._er += self._dr
        self._electric(primary)
        self._draw_from_mains(primary)
        self.steps += 1
        v8 = self.regulator
        self.rows.extend((
            self._v1, self._v2, self._vs, self._vk, v8.volts, self._v4, 1.0 if self.pilot.lit else 0.0,
            supply, self._heater_volts, self._ripple * rect.RMS, v8.amps, self._i6,
            1.0 if v8.lit else 0.0, self.chassis,
        ))  # fmt: skip

    def _each_second(self) -> None:
        on = self.switch and self.fuse
        self._winding += ((1.0 if on else 0.0) - self._winding) / 900.0
        self.chassis += ((45.0 if on else 20.0) - self.chassis) / 420.0
        chance, where = self._rng.random(2)
        if self.regulator.lit and chance < 1 / 300:
            self.regulator.shift = 1.6 * float(where) - 0.8

    def _heat(self, primary: float) -> None:
        """Heaters and cathodes over the next SLOW steps; emissions move evenly over them."""
        p, dt = self.parts, SLOW * DT
        winding = primary * 6.3 / _PRIMARY
        volts = winding / (1.0 + p.heater_joint * self._amps_heaters / winding) if winding > 0.0 else 0.0
        self._heater_volts = volts
        self._amps_heaters = self.v6.warm(volts, dt, p.heater6_joint) + self.rf.warm(volts, dt)
        watts = winding * self._amps_heaters
        emits = 1.0
        if self.tube is not None:
            own = winding if isinstance(self.tube, Indirect) else winding * 5.0 / 6.3
            watts += own * self.tube.warm(own, dt)
            emits = emission(self.tube.cathode) * p.emission_rectifier
        self._watts_heaters = watts
        self._d6 = (emission(self.v6.cathode) * p.emission6 * _RESERVE - self._e6) / SLOW
        self._drf = (emission(self.rf.cathode) * p.emission_rf * _RESERVE - self._erf) / SLOW
        self._dr = (emits - self._er) / SLOW

    def _electric(self, primary: float) -> None:
        """All capacitors over one step: what flows now, how that changes with each voltage, the solution."""
        p, load = self.parts, self.load
        v1, v2, vs, v4, vk = self._v1, self._v2, self._vs, self._v4, self._vk
        # V6, with what reaches its grid
        warm = 0.90 + 0.10 * self.v6.structure
        emits = min(1.0, self._erf)
        g_af = _AF / 240.0 * emits
        grid = (v2 - p.r_anode4 * v2 * g_af) * p.r_grid / (
            p.r_grid + p.leak25
        ) + p.gas6 * self._i6 * p.r_grid * warm
        drive = (v1 - vk) / _MU - vk + min(grid, vk + 0.3)
        i6, slope6 = _valve(_V6 * p.strength6 * warm, drive, _REACH, self._e6 * _V6)
        self._i6 = i6
        # V1 to V5 as one, and the tubes with two states
        strength = p.strength_rf * (0.92 + 0.08 * self.rf.structure)
        share, slope_s = _valve(strength, vs, 185.0, self._erf)
        mixer, slope4 = _valve(strength * _MIXER, v4, 95.0, self._erf * _MIXER)
        v8 = self.regulator
        v8.step(v1, _OSCILLATOR / 150.0 * emits + load["regulator"], p)
        self.pilot.step(v4, p)
        # rectifier
        ohms = p.r_source * (1.0 + 0.08 * self._winding)
        peak = primary * p.turns_ht
        i_in, g_in = rect.mean_current(peak, v1, ohms, p.halves, self._er * _RECTIFIER_EMITS, self._ripple)
        # net currents into the capacitors, and the conductances between them
        y33, y12, y38 = 1.0 / p.r33, 1.0 / p.r12, 1.0 / p.r38
        lost1, lost2 = 1.0 / p.leak31 + load["B+1"], 1.0 / p.leak32 + load["B+2"]
        lost_s, g4 = 1.0 / p.leak22 + load["screen"], 1.0 / p.r39 + load["B+4"]
        gk = 1.0 / p.r27 + load["V6 cathode"]
        out1 = (v1 - v2) * y33 + i6 + v8.feed_amps + v1 * lost1
        self._amps_ht = i_in
        net2 = (v1 - v2) * y33 - (v2 - vs) * y12 - (v2 - v4) * y38 - _RF_ANODES * share - v2 * (g_af + lost2)
        net_s = (v2 - vs) * y12 - _RF_SCREENS * share - vs * lost_s
        net4 = (v2 - v4) * y38 - v4 * g4 - mixer - self.pilot.amps
        if self.pilot.lit:
            g4 += 1.0 / p.r41
        # Solved from the leaves of the tree to its root; half implicit for accuracy, wholly where stiff.
        g1 = g_in + y33 + slope6 / _MU + v8.conductance + lost1
        g2 = y33 + y12 + y38 + g_af + lost2
        t = _HALF if g1 < 200.0 * p.c31 and g2 < 200.0 * p.c32 else 1.0
        ds = p.c22 / DT + t * (y12 + _RF_SCREENS * slope_s + lost_s)
        d4 = p.c38 / DT + t * (y38 + g4 + slope4)
        dk = p.c27 / DT + t * (gk + slope6 * (1.0 + 1.0 / _MU))
        to_s = t * (y12 - _RF_ANODES * slope_s)
        d2 = p.c32 / DT + t * g2 - to_s * t * y12 / ds - t * y38 * t * y38 / d4
        b2 = net2 + to_s * net_s / ds + t * y38 * net4 / d4
        to_k, net_k = t * slope6 * (1.0 + 1.0 / _MU), i6 - vk * gk
        d1 = p.c31 / DT + t * g1 - t * y33 * t * y33 / d2 - to_k * t * slope6 / _MU / dk
        rise1 = (i_in - out1 + t * y33 * b2 / d2 + to_k * net_k / dk) / d1
        rise2 = (b2 + t * y33 * rise1) / d2
        self._v1, self._v2 = v1 + rise1, v2 + rise2
        self._vs = vs + (net_s + t * y12 * rise2) / ds
        self._v4 = v4 + (net4 + t * y38 * rise2) / d4
        self._vk = vk + (net_k + t * slope6 / _MU * rise1) / dk
        # A cold cathode carries no more in a half cycle than its mean current, however high the peak.
        self._ripple = min(rect.ripple_pp(peak, self._v1, ohms, p.c31, out1), i_in * DT / p.c31)

    def _draw_from_mains(self, primary: float) -> None:
        """What the primary carries, and whether the slow fuse stands it."""
        if primary <= 0.0:
            self._amps_primary = self._watts_heaters = 0.0
            self._fuse_heat *= 0.99
            return
        watts = self._watts_heaters + self._amps_ht * primary * self.parts.turns_ht * 0.9
        self._amps_primary = watts / primary + 0.04
        self._fuse_heat += DT / 2.0 * ((self._amps_primary / _FUSE) ** 2 - self._fuse_heat)
        if self._fuse_heat > 2.0:
            self.fuse = False


def _valve(nominal: float, drive: float, reach: float, limit: float) -> tuple[float, float]:
    """Current by the three-halves law, held under what the cathode emits, and its slope against the drive."""
    if drive <= 0.0 or limit <= 1e-9:
        return 0.0, 0.0
    part = drive / reach
    free = nominal * part * math.sqrt(part)
    held = 1.0 / math.sqrt(1.0 + (free / limit) ** 2)
    return free * held, 1.5 * free / drive * held**3
