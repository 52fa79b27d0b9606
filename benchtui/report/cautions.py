"""What is said before a session begins: the usual cautions of work on a powered set, for screen and lines."""

from __future__ import annotations

ALWAYS = (
    (
        "An open set can kill: feed it from an isolating transformer.",
        "A variable transformer does not isolate.",
    ),
    (
        "Is the meter that is linked to this computer isolated from it?",
        "Make sure before it touches the set.",
    ),
    ("Common lead clipped on", "with the power off. One hand."),
    ("Someone within call", "who knows where the switch is."),
    ("Prove the meter", "on a known voltage, before and after."),
)
"""Each in two parts: what catches the eye, and the rest of the sentence."""
LIVE_CHASSIS = (
    "LIVE CHASSIS: by its chart the chassis of this set may carry mains.",
    "An isolating transformer, or no work under power.",
)
UNKNOWN_CHASSIS = "The chart does not say whether the chassis may carry mains: treat it as live."
NOT_KNOWN = "What no meter is on is not known here: treat it as live."
LAST = "Local codes and licensed practice come first."


def level(warn_above: float) -> str:
    """What counts as live, with the sources of the usual levels; `warn_above` in volts."""
    return (
        f"LIVE stands for more than {warn_above:g} V, DC or AC "
        "(30 V: common practice; 50 V: 29 CFR 1910.303(g)(2)(i))."
    )


def chassis_lines(chassis: str) -> tuple[str, ...]:
    """What the chart says of the chassis (`live`, `isolated`, or nothing) and what follows from it."""
    if chassis == "live":
        return LIVE_CHASSIS
    return () if chassis == "isolated" else (UNKNOWN_CHASSIS,)


def caution_lines(chassis: str, warn_above: float) -> list[str]:
    """All of them, one line each, the gravest first."""
    always = [f"{first} {rest}" for first, rest in ALWAYS]
    return [*chassis_lines(chassis), *always, level(warn_above), f"{NOT_KNOWN} {LAST}"]
