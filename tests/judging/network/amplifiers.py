"""Two families: a push-pull amplifier with choke input and fixed bias, a preamplifier of two channels."""

from __future__ import annotations

from itertools import pairwise

from .blueprint import HEATERS, MAINS, Blueprint, Draw, Spot
from .circuit import Circuit
from .heating import Heating


def push_pull(c: Circuit, d: Draw) -> Blueprint:
    """Output pair on a fixed bias with its own rectifier; splitter and preamplifier on a decoupled chain."""
    tube = d.chance(0.6)
    for name, warms in (("V1", 11), ("V2", 12), ("V3", 14), ("V4", 15)):
        c.valve(name, d.of(0.9 * warms, 1.3 * warms))
    if tube:
        c.valve("V5", d.of(6, 14))
    volts, warm = d.of(395, 440), "V5" if tube else None
    c.rectifier("HT rectifier", "raw", volts, d.of(90, 160) if tube else d.of(40, 80), warm)
    c.rectifier("HT peak", "raw", 1.35 * volts, d.of(7e3, 1.1e4), warm)
    c.r("L1", "raw", "ht", d.of(60, 120), "feed")
    c.c("C1", "ht", d.of(32e-6, 80e-6))
    c.r("R1", "ht", "0", d.of(3.3e4, 6.8e4), "bleeder")
    c.r("R2", "ht", "g2", d.of(1.5e3, 3.3e3), "feed")
    c.c("C2", "g2", d.of(16e-6, 40e-6))
    c.r("R3", "g2", "drv", d.of(8e3, 1.8e4), "feed")
    c.c("C3", "drv", d.of(16e-6, 32e-6))
    c.r("R4", "drv", "pre", d.of(2.2e4, 4.7e4), "feed")
    c.c("C4", "pre", d.of(8e-6, 22e-6))
    c.r("R5", "pre", "a1", d.of(1e5, 2.2e5), "load")
    c.r("R6", "k1", "0", d.of(1.2e3, 2.2e3), "cathode")
    c.c("C5", "k1", 25e-6)
    c.triode("V1", "a1", "0", "k1", 1.5e-3, 70)
    c.r("R7", "drv", "a2", d.of(3.3e4, 5.6e4), "load")
    c.r("R8", "k2", "0", d.of(3.3e4, 4.7e4), "cathode")
    c.triode("V2", "a2", "a1", "k2", 1.5e-3, 40)
    c.rectifier("bias rectifier", "0", d.of(58, 66), d.of(900, 1800), None, "bias0")
    c.c("C6", "bias0", d.of(25e-6, 50e-6))
    c.r("R9", "bias0", "bias", d.of(8e3, 1e4), "bias")
    c.r("R10", "bias", "0", d.of(1.1e4, 1.3e4), "bias_down")
    c.c("C7", "bias", d.of(25e-6, 50e-6))
    for valve, n in (("V3", 3), ("V4", 4)):
        c.r(f"R1{n}", "bias", f"g{n}", 2.2e5)
        c.c(f"C1{n}", f"g{n}", 50e-9, "0")
        c.coupling(f"C2{n}", "a2" if n == 3 else "k2", f"g{n}")
        c.r(f"T1 half {n}", "ht", f"p{n}", d.of(90, 160), "load")
        c.r(f"R2{n}", f"k{n}", "0", 10.0, "cathode")
        c.pentode(valve, f"p{n}", "g2", f"g{n}", f"k{n}", d.of(1.2e-3, 1.5e-3), 9)
    spots = [
        Spot("mains", MAINS, unit="Vac", likely=0.6),
        Spot("B+", "ht", None, None, "C1 after the choke", 10, likely=0.9, bleeds=True),
        Spot("screens", "g2", "B+", "R2", "C2", likely=0.6),
        Spot("splitter supply", "drv", "screens", "R3", "C3", likely=0.5),
        Spot("preamp supply", "pre", "splitter supply", "R4", "C4", likely=0.6),
        Spot("V1 anode", "a1", "preamp supply", "R5", "pin 6", 20, likely=0.5),
        Spot("V2 anode", "a2", "splitter supply", "R7", "pin 1", 15, likely=0.3),
        Spot("V2 cathode", "k2", None, None, "R8", 20, likely=0.3),
        Spot("bias", "bias", None, None, "wiper of R10", 12, likely=0.7),
        Spot("V3 cathode", "k3", None, None, "across 10 ohm", 30, likely=0.5),
        Spot("V4 cathode", "k4", None, None, "across 10 ohm", 30, likely=0.4),
        Spot("heaters", HEATERS, unit="Vac", likely=0.3),
    ]
    heating = Heating(False, (6.3,) * (4 + tube))
    lines = [f'rectifier = "{"indirect" if tube else "solid"}"', 'filter = "choke"', 'chassis = "isolated"']
    return Blueprint("push-pull", c, heating, spots, lines, fuse=["HT rectifier", "HT peak"])


def preamplifier(c: Circuit, d: Draw) -> Blueprint:
    """Two channels on five decoupled stages of supply, with a neon lamp on the second."""
    for name in ("V1", "V2", "V3"):
        c.valve(name, d.of(9, 15))
    c.rectifier("HT rectifier", "A", d.of(300, 350), d.of(150, 400))
    c.c("C1", "A", d.of(32e-6, 60e-6))
    names = "ABCDE"
    for n, (above, below) in enumerate(pairwise(names), 1):
        c.r(f"R{n}", above, below, d.of(2.2e3, 6.8e3) if n < 3 else d.of(8e3, 2.2e4), "feed")
        c.c(f"C{n + 1}", below, d.of(20e-6, 50e-6))
    c.r("R5", "A", "0", d.of(1e5, 2.2e5), "bleeder")
    for valve, feed, n in (("V1", "E", 1), ("V1", "E", 2), ("V2", "D", 3), ("V2", "D", 4)):
        c.r(f"R1{n}", feed, f"a{n}", d.of(8.2e4, 1.5e5), "load")
        c.r(f"R2{n}", f"k{n}", "0", d.of(1e3, 2e3), "cathode")
        c.c(f"C1{n}", f"k{n}", 47e-6)
        c.r(f"R3{n}", f"g{n}", "0", 4.7e5)
        c.c(f"C2{n}", f"g{n}", 2e-9)
        c.triode(valve, f"a{n}", f"g{n}", f"k{n}", d.of(1.4e-3, 1.8e-3), 80)
        if n > 2:
            c.coupling(f"C3{n}", f"a{n - 2}", f"g{n}")
    for n in (5, 6):
        c.r(f"R1{n}", f"k{n}", "0", d.of(1.5e4, 2.7e4), "cathode")
        c.triode("V3", "C", f"a{n - 2}", f"k{n}", 1.6e-3, 60)
    c.r("R7", "B", "lamp", d.of(2.2e5, 3.3e5), "lamp")
    c.tube("pilot", "lamp", "0", d.of(72, 80), d.of(54, 60), 3e3, 4e-6)
    spots = [
        Spot("mains", MAINS, unit="Vac", likely=0.5),
        Spot("A", "A", None, None, "reservoir", 10, likely=0.7, bleeds=True),
        Spot("B", "B", "A", "R1", "C2", 10, likely=0.6),
        Spot("C", "C", "B", "R2", "C3", 10, likely=0.6),
        Spot("D", "D", "C", "R3", "C4", 12, likely=0.6),
        Spot("E", "E", "D", "R4", "C5", 12, likely=0.6),
        Spot("V1L anode", "a1", "E", "R11", "pin 1", 20, likely=0.4),
        Spot("V1R anode", "a2", "E", "R12", "pin 6", 20, likely=0.4),
        Spot("V2L anode", "a3", "D", "R13", "pin 1", 20, likely=0.3),
        Spot("V2R cathode", "k4", None, None, "R24", 25, likely=0.3),
        Spot("V3 cathode", "k5", None, None, "R15", 20, likely=0.3),
        Spot("heaters", HEATERS, unit="Vac", likely=0.3),
        Spot("pilot", "pilot", "B", "R7", "front", unit="state", likely=0.5, tube="pilot"),
    ]
    lines = ['rectifier = "solid"', 'filter = "capacitor"', 'chassis = "isolated"']
    return Blueprint("preamplifier", c, Heating(False, (6.3, 6.3, 6.3)), spots, lines, fuse=["HT rectifier"])
