"""Heaters, cathodes and filaments: how hot they are and what they can emit.

Temperatures are parts of the cathode's working temperature (1.0 when hot). Heat leaves by radiation, as the
fourth power of the temperature. A cold heater has a fraction of its hot resistance and draws a surge.
Emission follows the Richardson-Dushman law, T^2 exp(-w/T); w is that of an oxide cathode run at about 1050 K,
set so that a valve gives next to nothing below some 60 % of its heater voltage (common practice, no source).
"""

from __future__ import annotations

import math

WORK = 15.0
"""Work function over kT at the working temperature."""
ROOM = 0.28
"""Room temperature on the same scale."""
_ROOM4 = ROOM**4
HEATER_HOT = 1.3
"""Working temperature of a heater inside its cathode sleeve."""
_CARRY = 1.0 / (HEATER_HOT**4 - 1.0)


def emission(temperature: float) -> float:
    """Emission as a part of that at the working temperature."""
    if temperature < 0.5:
        return 0.0
    return temperature * temperature * math.exp(WORK * (1.0 - 1.0 / temperature))


def _resistance(temperature: float, hot: float) -> float:
    """Tungsten's resistance as a part of the hot one: about in proportion to the temperature."""
    return 0.15 + 0.85 * temperature / hot


class Indirect:
    """A heater inside a cathode sleeve: two heat capacities, the sleeve heated by radiation."""

    __slots__ = ("cathode", "heater", "ohms", "structure", "tau_cathode", "tau_heater", "watts")

    def __init__(self, watts: float, volts: float, tau_heater: float, tau_cathode: float) -> None:
        self.watts = watts
        self.ohms = volts * volts / watts
        self.tau_heater, self.tau_cathode = tau_heater, tau_cathode
        self.heater = self.cathode = ROOM
        self.structure = 0.0
        """The grids and the anode around it: 0 cold, 1 warm; they follow in about a minute."""

    def warm(self, volts: float, dt: float, joint: float = 0.0) -> float:
        """Goes on by dt seconds with this heater voltage; gives the heater's current."""
        ohms = self.ohms * _resistance(self.heater, HEATER_HOT)
        amps = volts / (ohms + joint)
        power = amps * amps * ohms / self.watts
        carried = _CARRY * (self.heater**4 - self.cathode**4)
        self.heater += dt / self.tau_heater * (power - carried)
        self.cathode += dt / self.tau_cathode * (carried - self.cathode**4 + _ROOM4)
        self.structure += dt / 50.0 * ((self.cathode - ROOM) / (1 - ROOM) - self.structure)
        return amps


class Filament:
    """A directly heated cathode: one small heat capacity."""

    __slots__ = ("cathode", "ohms", "structure", "tau", "watts")

    def __init__(self, watts: float, volts: float, tau: float) -> None:
        self.watts = watts
        self.ohms = volts * volts / watts
        self.tau = tau
        self.cathode = ROOM
        self.structure = 0.0

    def warm(self, volts: float, dt: float, joint: float = 0.0) -> float:
        """Goes on by dt seconds with this voltage; gives the current."""
        ohms = self.ohms * _resistance(self.cathode, 1.0)
        amps = volts / (ohms + joint)
        power = amps * amps * ohms / self.watts
        self.cathode += dt / self.tau * (power - self.cathode**4 + _ROOM4)
        return amps
