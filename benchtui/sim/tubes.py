"""Gas-filled tubes: the voltage regulator V8 and the neon pilot. Each is lit or out."""

from __future__ import annotations

from .parts import Parts

STRIKE_STEPS = 2
"""Steps for which the striking voltage must stand before the gas breaks down."""


class Regulator:
    """A gas regulator tube behind its feed resistor, with what the oscillator draws beside it.

    Lit, it holds its point at about its running voltage as long as it has its least current. Out, its point
    goes to what the feed gives, and it lights again only when that stands above its striking voltage.
    """

    __slots__ = ("_waited", "amps", "conductance", "feed_amps", "lit", "shift", "volts")

    def __init__(self) -> None:
        self.lit = False
        self.volts = 0.0
        self.amps = 0.0
        """The tube's own current."""
        self.feed_amps = 0.0
        self.conductance = 0.0
        """How the current from the feed changes with the feed's voltage."""
        self.shift = 0.0
        """Volts by which the running voltage has jumped: the glow moves about on the cathode."""
        self._waited = 0

    def step(self, feed: float, load: float, parts: Parts) -> None:
        """Settles at once for this feed voltage and this load (siemens): it has no capacitor of weight."""
        series = parts.r36 + parts.joint36
        source = series / (1.0 + series * load)
        unlit = feed * source / series
        follows = source / series
        if self.lit:
            lead = parts.v8_slope + parts.joint_v8
            runs = parts.v8_runs + self.shift
            amps = (unlit - runs) / (source + lead)
            if amps < parts.v8_least:
                self.lit = False
            else:
                self.amps = amps
                self.volts = runs + amps * lead
                follows *= lead / (source + lead)
        if not self.lit:
            self.amps = 0.0
            self.volts = unlit
            self._waited = self._waited + 1 if unlit > parts.v8_strikes and parts.joint_v8 < 1e6 else 0
            if self._waited > STRIKE_STEPS:
                self.lit, self._waited = True, 0
        self.feed_amps = (feed - self.volts) / series
        self.conductance = (1.0 - follows) / series


class Neon:
    """A neon lamp behind its resistor; `volts` is what stands before the resistor."""

    __slots__ = ("_waited", "amps", "lit")

    def __init__(self) -> None:
        self.lit = False
        self.amps = 0.0
        self._waited = 0

    def step(self, volts: float, parts: Parts) -> None:
        """Lights when the voltage reaches the striking one, goes out when it falls below the holding one."""
        if self.lit:
            self.lit = volts > parts.pilot_holds
        else:
            self._waited = self._waited + 1 if volts > parts.pilot_strikes else 0
            if self._waited > STRIKE_STEPS:
                self.lit, self._waited = True, 0
        self.amps = max(0.0, (volts - parts.pilot_runs) / parts.r41) if self.lit else 0.0
