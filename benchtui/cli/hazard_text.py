"""What can hurt, as one line of text: what the dashboard's top bar says."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from benchtui.watch.board import Hazard

DISCHARGE = "Discharge through a resistor, measure every capacitor, leave shorted; voltage can return."


def hazard_text(hazard: Hazard) -> str:
    """The line; empty before the first power-on."""
    missing = "".join(f" {point} NOT MEASURED: treat as live." for point in hazard.not_measured)
    if hazard.phase == "off":
        return f"UNPLUG. {_reads(hazard)}{missing}"
    if hazard.live:
        return f"LIVE. {_reads(hazard)}{missing}"
    if hazard.phase == "below":
        return f"Below {hazard.warn_above:g} V. {_reads(hazard)} {DISCHARGE}"
    return ""


def _reads(hazard: Hazard) -> str:
    from benchtui.report.say import amount

    if hazard.point is None or hazard.value is None:
        return "No reading yet: treat as live."
    value = amount(hazard.value, hazard.unit)
    if hazard.age_s:
        return f"{hazard.point}: no reading {hazard.age_s:.0f} s; last {value}. Treat as live."
    meter = f", {hazard.meter}" if hazard.meter else ""
    return f"{hazard.point} reads {value}{meter}."
