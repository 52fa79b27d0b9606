"""Two families: a live-chassis receiver with its heaters in a chain, a small transformer receiver."""

from __future__ import annotations

from .blueprint import HEATERS, MAINS, Blueprint, Draw, Spot
from .circuit import Circuit
from .heating import Heating


def live_chassis(c: Circuit, d: Draw) -> Blueprint:
    """Half-wave rectifier from the mains, five heaters in series, a dropper resistor."""
    for name, warms in (("V1", 16), ("V2", 16), ("V3", 15), ("V4", 19), ("V5", 17)):
        c.valve(name, d.of(0.85 * warms, 1.2 * warms))
    c.rectifier("V5 rectifier", "res", d.of(255, 285), d.of(280, 420), "V5")
    c.c("C1", "res", d.of(40e-6, 60e-6))
    c.r("R1", "res", "ht", d.of(1e3, 1.8e3), "feed")
    c.c("C2", "ht", d.of(32e-6, 50e-6))
    c.r("T1", "res", "a4", d.of(220, 380), "load")
    c.r("R2", "k4", "0", d.of(140, 190), "cathode")
    c.c("C3", "k4", 50e-6)
    c.r("R3", "g4", "0", 4.7e5)
    c.c("C13", "g4", 5e-9)
    c.coupling("C4", "a3", "g4")
    c.pentode("V4", "a4", "ht", "g4", "k4", d.of(1.6e-3, 2.2e-3), 9)
    c.r("R4", "ht", "a3", d.of(1.5e5, 2.7e5), "load")
    c.triode("V3", "a3", "0", "0", 5e-4, 70)
    c.r("R5", "ht", "g2", d.of(1.5e4, 2.7e4), "feed")
    c.c("C5", "g2", d.of(4e-6, 10e-6))
    for n, k in (("1", 0.9e-3), ("2", 1.1e-3)):
        c.r(f"R1{n}", f"k{n}", "0", d.of(180, 330), "cathode")
        c.c(f"C1{n}", f"k{n}", 1e-7)
        c.r(f"T{n + '1'}", "ht", f"a{n}", 60.0, "load")
        c.pentode(f"V{n}", f"a{n}", "g2", "0", f"k{n}", k, 22)
    c.r("R9", "res", "0", d.of(2.2e5, 4.7e5), "bleeder")
    spots = [
        Spot("mains", MAINS, unit="Vac", likely=0.5),
        Spot("B+1", "res", None, None, "C1", 10, likely=0.8, bleeds=True),
        Spot("B+2", "ht", "B+1", "R1", "C2", 10, likely=0.7),
        Spot("V4 anode", "a4", "B+1", "T1", "pin 7", 12, likely=0.5),
        Spot("V4 cathode", "k4", None, None, "R2", 20, likely=0.7),
        Spot("V4 grid", "g4", None, None, "pin 1, must be nought", 0, likely=0.3),
        Spot("screens", "g2", "B+2", "R5", "C5", 20, likely=0.5),
        Spot("V3 anode", "a3", "B+2", "R4", "pin 6", 25, likely=0.4),
        Spot("V2 cathode", "k2", None, None, "R12", 25, likely=0.3),
        Spot("heater tap", HEATERS, unit="Vac", likely=0.5),
    ]
    heating = Heating(True, (15.0, 16.0, 14.0, 45.0, 38.0), d.of(80, 105), tap=2)
    lines = ['rectifier = "indirect"', 'filter = "capacitor"', 'chassis = "live"']
    return Blueprint(
        "live chassis", c, heating, spots, lines, fuse=["V5 rectifier"], reference="B-", tail_s=60.0
    )


def field_coil(c: Circuit, d: Draw) -> Blueprint:
    """The loudspeaker's field smooths; the whole current through a resistor gives a bias."""
    direct = d.chance(0.6)
    for name, warms in (("V1", 11), ("V2", 11), ("V3", 12), ("V4", 14)):
        c.valve(name, d.of(0.9 * warms, 1.3 * warms))
    c.valve("V5", d.of(2, 3) if direct else d.of(8, 14))
    c.rectifier("V5 rectifier", "res", d.of(430, 480), d.of(700, 1100), "V5", "ct")
    c.r("R1", "ct", "0", d.of(40, 80), "bias_up")
    c.c("C1", "res", d.of(8e-6, 20e-6), "ct")
    c.r("field", "res", "ht", d.of(1.2e3, 2e3), "feed")
    c.c("C2", "ht", d.of(16e-6, 32e-6))
    c.r("R2", "ct", "bias", 1e5, "bias")
    c.c("C3", "bias", d.of(2e-6, 8e-6))
    c.r("R12", "bias", "0", 2.2e6)
    c.r("T1", "ht", "a4", d.of(300, 500), "load")
    c.r("R3", "k4", "0", d.of(180, 330), "cathode")
    c.c("C4", "k4", 25e-6)
    c.r("R4", "g4", "0", 4.7e5)
    c.c("C14", "g4", 5e-9)
    c.coupling("C5", "a3", "g4")
    c.pentode("V4", "a4", "ht", "g4", "k4", d.of(1.0e-3, 1.4e-3), 15)
    c.r("R5", "ht", "a3", d.of(1e5, 2.2e5), "load")
    c.triode("V3", "a3", "bias3", "0", 9e-4, 45)
    c.r("R13", "bias", "bias3", 1e6)
    c.r("R14", "bias3", "0", 2.2e5)
    c.r("R6", "ht", "g2", d.of(1.8e4, 2.7e4), "feed")
    c.r("R7", "g2", "0", d.of(2.7e4, 4.7e4), "screen_down")
    c.c("C6", "g2", d.of(4e-6, 8e-6))
    c.rectifier("carrier", "0", d.of(4, 9), 1e6, None, "avc")
    c.r("R8", "avc", "0", 1e6)
    c.c("C7", "avc", 1e-6)
    for n, k in (("1", 1.0e-3), ("2", 1.3e-3)):
        c.r(f"R2{n}", f"k{n}", "0", d.of(220, 330), "cathode")
        c.c(f"C2{n}", f"k{n}", 1e-7)
        c.r(f"T2{n}", "ht", f"a{n}", 60.0, "load")
        c.pentode(f"V{n}", f"a{n}", "g2", "avc", f"k{n}", k, 14)
    c.r("R9", "ht", "osc", d.of(2e4, 3.3e4), "feed")
    c.c("C8", "osc", 1e-6)
    c.triode("V1", "osc", "0", "0", 5e-4, 22)
    spots = [
        Spot("mains", MAINS, unit="Vac", likely=0.5),
        Spot("B+1", "res", None, None, "C1", 10, likely=0.8),
        Spot("B+2", "ht", "B+1", "field", "after the field coil", 10, likely=0.8, bleeds=True),
        Spot("back bias", "ct", None, None, "R1", 20, likely=0.6),
        Spot("V4 anode", "a4", "B+2", "T1", "top", 12, likely=0.4),
        Spot("V4 cathode", "k4", None, None, "R3", 20, likely=0.6),
        Spot("V3 anode", "a3", "B+2", "R5", "C5", 25, likely=0.4),
        Spot("screens", "g2", "B+2", "R6", "C6", 15, likely=0.5),
        Spot("oscillator", "osc", "B+2", "R9", "C8", 20, likely=0.4),
        Spot("heaters", HEATERS, unit="Vac", likely=0.3),
        Spot("AVC", "avc", None, None, "C7", 0, likely=0.25, programme=True),
    ]
    lines = [f'rectifier = "{"direct" if direct else "indirect"}"', 'chassis = "isolated"']
    return Blueprint(
        "field coil", c, Heating(False, (6.3,) * 5), spots, lines, fuse=["V5 rectifier"], carrier="carrier"
    )
