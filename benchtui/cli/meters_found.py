"""A meter that has been found, told: which driver, the evidence, an entry to paste, and how to go on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from benchtui.driver.contract import LineDefaults
from benchtui.driver.identifying import Found, entry, opened
from benchtui.port.descriptions import resolved

from .console import say
from .meters_text import evidence
from .paragraph import say_wrapped

MOST_OTHERS = 4


def say_found(fits: Sequence[Found], port: str, name: str, pins: Mapping[str, bool] | None = None) -> None:
    """The best, with an entry to paste; what else fits, with its value, for the display to decide."""
    best, *rest = fits
    others = [other for other in rest if not _reads_alike(other, best)]
    # The driver's own description says "line": what an entry need not repeat.
    listener = opened(best.candidate, resolved)
    own = listener.line if listener is not None else LineDefaults()
    say_wrapped(f'It fits: driver "{best.candidate.driver}", {best.candidate.title}')
    if best.fit.identity:
        say(f"It calls itself: {best.fit.identity}")
    say_wrapped(f"Evidence: {evidence(best.fit)}")
    for other in others[:MOST_OTHERS]:
        say_wrapped(
            f'Also fits: driver "{other.candidate.driver}", {other.candidate.title}: {evidence(other.fit)}'
        )
    if others:
        say("Compare the values with the meter's display: it decides which of them is right.")
    say("For the bench file:\n")
    say(entry(best, name, port, own, pins))
    say("Then: benchtui watch --chart CHART.toml --bench BENCH.toml")


def _reads_alike(other: Found, best: Found) -> bool:
    """Whether it is the same driver, which reads the same: no second choice for a person."""
    if other.candidate.driver != best.candidate.driver:
        return False
    one, two = other.fit, best.fit
    return (one.readings, one.junk, one.value, one.unit) == (two.readings, two.junk, two.value, two.unit)
