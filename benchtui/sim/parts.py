"""The component values of the Saltmarsh Six: what a fault changes."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

INFINITE = 1e12
"""Ohms of something that is not there."""


@dataclass(slots=True)
class Parts:
    """Every component of the model, SI units. One object a set; faults write into it while it runs."""

    # supply
    turns_ht: float = 1.972
    """Filled in by the receiver's calibration: peak volts of the high-tension half winding per mains volt."""
    r_primary: float = 12.0
    r_source: float = 860.0
    """Winding, rectifier and, for a solid rectifier, the dropping resistor that goes with it."""
    halves: float = 1.0
    """1 for both halves of the wave, 0.5 when one anode of the rectifier is open, 0 when both are."""
    c31: float = 32e-6
    c32: float = 32e-6
    r33: float = 2200.0
    leak31: float = INFINITE
    leak32: float = INFINITE
    # screens of V1 to V3 and V5
    r12: float = 22e3
    c22: float = 4e-6
    leak22: float = INFINITE
    # divider for B+4
    r38: float = 22e3
    r39: float = 18e3
    c38: float = 4e-6
    # regulator
    r36: float = 10e3
    joint36: float = 0.0
    """Ohms of the joint in the regulator's feed."""
    joint_v8: float = 0.0
    """Ohms of the joint in the regulator tube's own lead."""
    # output stage
    r27: float = 270.0
    c27: float = 50e-6
    r_grid: float = 470e3
    r_anode4: float = 100e3
    leak25: float = INFINITE
    """Ohms of the coupling capacitor from V4's anode to V6's grid."""
    gas6: float = 0.0
    """Grid current of V6 per ampere of cathode current, when hot."""
    # valves: cathode current (A) each carries in the circuit when all is nominal, and its emission reserve
    strength6: float = 1.0
    strength_rf: float = 1.0
    emission6: float = 1.0
    emission_rf: float = 1.0
    emission_rectifier: float = 1.0
    pace6: float = 1.0
    pace_rf: float = 1.0
    pace_rectifier: float = 1.0
    """Heat capacity of heater and cathode against the typical one: above 1 warms later."""
    # heaters
    heater_joint: float = 0.0
    """Ohms in the common heater wiring."""
    heater6_joint: float = 0.0
    """Ohms in V6's own heater pin."""
    # pilot
    r41: float = 120e3
    pilot_strikes: float = 78.0
    pilot_holds: float = 58.0
    """Goes out below this."""
    pilot_runs: float = 55.0
    """Volts across it while it glows; like the other two it rises with age."""
    # regulator tube
    v8_runs: float = 149.0
    v8_slope: float = 90.0
    """Ohms: how much its voltage rises with its current."""
    v8_strikes: float = 170.0
    v8_least: float = 2.5e-3
    """Amperes under which it goes out."""


_SPREAD = {
    "r_source": 0.03, "c31": 0.10, "c32": 0.10, "r33": 0.02, "r12": 0.02, "c22": 0.1,
    "r38": 0.015, "r39": 0.015,
    "r36": 0.02, "r27": 0.02, "strength6": 0.03, "strength_rf": 0.03, "pace6": 0.08, "pace_rf": 0.08,
    "pace_rectifier": 0.08, "r41": 0.03, "pilot_strikes": 0.03, "v8_runs": 0.004,
    "v8_slope": 0.1, "v8_strikes": 0.02,
}  # fmt: skip
"""Standard deviation, as a part of the value, from one healthy set to the next; cut at two of them."""


def parts_of(seed: int, spread: float = 1.0) -> Parts:
    """One healthy set off the line; `spread` 0 gives the nominal one."""
    rng = np.random.default_rng([seed, 0xA])
    parts = Parts()
    for name, sd in _SPREAD.items():
        factor = 1 + spread * sd * float(np.clip(rng.standard_normal(), -2, 2))
        setattr(parts, name, getattr(parts, name) * factor)
    return parts


def changed(parts: Parts) -> dict[str, Any]:
    """The values as a plain mapping, for records and comparisons."""
    return {f.name: getattr(parts, f.name) for f in fields(parts)}
