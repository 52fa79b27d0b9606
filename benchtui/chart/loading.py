"""What a meter does to the voltage that it measures.

Published: an electronics course text (30 V, two 400 k, 20 kohm/V on its 20 V range: reads 10, true 15) and
textbook examples; see the tests.
"""

from __future__ import annotations


def loaded(true: float, source_ohms: float, meter_ohms: float) -> float:
    """What a meter reads on a point of this true voltage and source resistance: true * Rm/(Rm + Rs)."""
    return true * meter_ohms / (meter_ohms + source_ohms)


def unloaded(reading: float, source_ohms: float, meter_ohms: float) -> float:
    """The voltage without the meter: reading * (1 + Rs/Rm)."""
    return reading * (1.0 + source_ohms / meter_ohms)
