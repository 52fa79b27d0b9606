"""One family: a bench supply with a gas regulator tube, a series valve and a negative rail."""

from __future__ import annotations

from .blueprint import HEATERS, MAINS, Blueprint, Draw, Spot
from .circuit import Circuit
from .heating import Heating


def bench_supply(c: Circuit, d: Draw) -> Blueprint:
    """A dropper feeds the regulator tube; the series valve's grid is tied to it and to the raw volts."""
    c.valve("V1", d.of(12, 18))
    c.rectifier("HT rectifier", "raw", d.of(400, 450), d.of(200, 400))
    c.c("C1", "raw", d.of(32e-6, 64e-6))
    c.r("R1", "raw", "0", d.of(8e4, 1.5e5), "bleeder")
    c.r("R2", "raw", "reg", d.of(8.2e3, 1.1e4), "feed")
    holds = d.one(105, 150)
    c.tube("V2", "reg", "0", holds * d.of(1.18, 1.25), holds - 2, d.of(100, 250), 4e-3)
    c.c("C2", "reg", d.of(5e-8, 1e-7))
    c.r("R3", "reg", "0", holds / d.of(3e-3, 6e-3), "reg_load")
    c.r("R4", "raw", "grid", d.of(2e5, 3.3e5), "divider")
    c.r("R5", "grid", "reg", d.of(2.2e5, 3.3e5), "divider")
    c.c("C3", "grid", d.of(1e-6, 4e-6))
    c.triode("V1", "raw", "grid", "out", d.of(2e-3, 3e-3), 9)
    c.c("C4", "out", d.of(8e-6, 16e-6))
    c.r("R6", "out", "0", d.of(8e3, 1.4e4), "out_load")
    c.r("R7", "out", "tap", d.of(2.2e4, 3.9e4), "feed")
    c.c("C5", "tap", d.of(8e-6, 16e-6))
    c.r("R8", "tap", "0", d.of(3.3e4, 5.6e4), "tap_load")
    c.rectifier("negative rectifier", "0", d.of(150, 190), d.of(800, 2000), None, "neg")
    c.c("C6", "neg", d.of(8e-6, 16e-6))
    c.r("R9", "neg", "nb", d.of(8e3, 1.5e4), "bias")
    c.r("R10", "nb", "0", d.of(1.5e4, 2.7e4), "bias_down")
    c.c("C7", "nb", d.of(16e-6, 32e-6))
    c.r("R11", "raw", "lamp", d.of(3.3e5, 4.7e5), "lamp")
    c.tube("pilot", "lamp", "0", d.of(72, 80), d.of(54, 60), 3e3, 4e-6)
    spots = [
        Spot("mains", MAINS, unit="Vac", likely=0.6),
        Spot("raw", "raw", None, None, "C1", 10, likely=0.8, bleeds=True),
        Spot("reference", "reg", "raw", "R2", "V2 pin 5", 6, likely=0.9, tube="V2"),
        Spot("grid", "grid", "raw", "R4", "C3", 12, likely=0.4),
        Spot("output", "out", "raw", None, "terminal", 8, likely=0.8),
        Spot("low output", "tap", "output", "R7", "C5", 10, likely=0.5),
        Spot("negative raw", "neg", None, None, "C6", 12, likely=0.5),
        Spot("negative", "nb", "negative raw", "R9", "C7", 12, likely=0.6),
        Spot("heaters", HEATERS, unit="Vac", likely=0.3),
        Spot("pilot", "pilot", "raw", "R11", "front", unit="state", likely=0.5, tube="pilot"),
    ]
    lines = ['rectifier = "solid"', 'filter = "capacitor"', 'chassis = "isolated"']
    return Blueprint(
        "bench supply", c, Heating(False, (6.3,)), spots, lines, fuse=["HT rectifier"], tail_s=50.0
    )
