"""A rectifier into a reservoir capacitor, averaged over its half cycles.

With a sinusoid of peak P behind a resistance R and a capacitor that stands at v, each half wave conducts for
an angle a = acos(v/P) on either side of its peak. The mean of what it carries over the half cycle is
2P/(pi R) (sin a - a cos a); the ripple is the charge it carries above the load's current, over the
capacitance. A ripple that is no longer small against the peak shifts the mean by its square; the model holds
to 1 % down to about an eighth of the usual capacitance (checked against the circuit stepped through every
cycle).
"""

from __future__ import annotations

import math

_TURN = 2.0 * math.pi * 50.0
_SECOND_ORDER = 0.3
"""Volts by which the mean shifts, in units of (ripple peak to peak)^2 / P: fitted to the stepped circuit."""


def mean_current(
    peak: float, volts: float, ohms: float, halves: float, limit: float, ripple_pp: float
) -> tuple[float, float]:
    """Mean current into the reservoir and how fast it falls as the reservoir's voltage rises.

    Args:
        peak: of the half winding's voltage.
        volts: mean voltage on the reservoir.
        ohms: of winding and rectifier.
        halves: 1 with both half waves, 0.5 with one, 0 with none.
        limit: amperes that the cathode can emit.
        ripple_pp: ripple on the reservoir, peak to peak.
    """
    if halves == 0.0 or limit <= 1e-7:
        return 0.0, 0.0
    shift = min(ripple_pp, 0.3 * peak)
    seen = volts + _SECOND_ORDER * shift * shift / peak if peak > 0.0 else volts
    if peak <= max(seen, 0.0):
        return 0.0, 0.0
    ratio = seen / peak
    angle = math.acos(ratio)
    of_ohms = 2.0 / (math.pi * ohms) * halves
    amps = of_ohms * peak * (math.sqrt(1.0 - ratio * ratio) - angle * ratio)
    held = 1.0 / math.sqrt(1.0 + (amps / limit) ** 2)
    return amps * held, of_ohms * angle * held**3


def ripple_pp(peak: float, volts: float, ohms: float, farads: float, load: float) -> float:
    """Ripple on the reservoir, peak to peak, while it gives this load current."""
    level = volts + load * ohms
    if peak <= level or level <= 0.0:
        return 0.0
    ratio = level / peak
    angle = math.acos(ratio)
    return 2.0 * peak / (_TURN * ohms * farads) * (math.sqrt(1.0 - ratio * ratio) - angle * ratio)


RMS = 1.0 / 3.0
"""Ripple rms over peak to peak, as in the stepped circuit: a sine has 1/2.83, a triangle 1/3.46."""
