"""What is said before a session begins: the usual cautions of work on a powered set."""

from __future__ import annotations

from benchtui.chart.chart import Chart
from benchtui.chart.settings import Settings

ALWAYS = (
    "An open set can kill. Feed it from an isolating transformer; a variable transformer does not isolate.",
    "Is the meter that is linked to this computer isolated from it? Make sure before it touches the set.",
    "Clip the common lead on with the power off. One hand. Someone within call.",
    "Prove the meter on a known voltage, before and after.",
)
LIVE_CHASSIS = "LIVE CHASSIS: the chart says that the chassis of this set may carry mains."
UNKNOWN_CHASSIS = "The chart does not say whether the chassis may carry mains: treat it as live."
LAST = (
    "Local codes and licensed practice come first. What no meter is on is not known here: treat it as live."
)


def cautions(chart: Chart, settings: Settings) -> list[str]:
    """One line each, the gravest first."""
    first = {"live": [LIVE_CHASSIS], "": [UNKNOWN_CHASSIS]}.get(chart.chassis, [])
    level = (
        f"A point counts as live above {settings.warn_above:g} V, DC or AC "
        "(30 V is common practice; 29 CFR 1910.303(g)(2)(i) has live parts guarded from 50 V)."
    )
    return [*first, *ALWAYS, level, LAST]
