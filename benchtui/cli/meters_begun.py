"""A meter that no driver fits: the beginnings of a description or a pattern, for a person to complete."""

from __future__ import annotations

from collections.abc import Sequence

from benchtui.driver.contract import LineDefaults
from benchtui.driver.description import MeterDescription
from benchtui.driver.framing import text_of
from benchtui.driver.guess import Guess
from benchtui.driver.identifying import why_not
from benchtui.driver.listener import Listener
from benchtui.driver.proposal import proposal
from benchtui.driver.proposal_lines import line_entry, line_options
from benchtui.driver.trial import Chunk, tried
from benchtui.model.errors import DriverError
from benchtui.model.notes import plain
from benchtui.port.descriptions import folder, own_candidates, resolved

from .console import say
from .meters_text import evidence
from .paragraph import say_wrapped

BEGUN = (
    "No driver and no description fits. Below are the beginnings of a description. Complete it from the "
    "meter's display, as the guide says (meters.md), and keep it in the file named below."
)
PATTERN = (
    "No driver fits these lines as they are. Below is an entry for the bench file with a pattern made from "
    "them (the guide lines.md says what it can hold). Compare it with the display, and complete it."
)
TRY = (
    "Then try it: benchtui meters --identify {port} says whether it fits, what it reads, or what is still "
    "wrong, and prints the entry for the bench file."
)


def say_own(chunks: Sequence[Chunk], line: LineDefaults) -> None:
    """Why the person's own descriptions do not fit: what is wrong in them, or with what came."""
    for candidate in own_candidates():
        why = why_not(candidate, chunks, resolved, line)
        for said in why.splitlines():
            say_wrapped(f"{candidate.title[0].upper()}{candidate.title[1:]}: {plain(said, 300)}")


def say_begun(found: Guess, chunks: Sequence[Chunk], line: LineDefaults, port: str, name: str) -> None:
    """What can be proposed for these bytes, if anything; `port` is its name for the bench file."""
    if found.kind == "lines" and _say_pattern(found, chunks, line, port, name):
        return
    begun = proposal(found, line.baud)
    if begun:
        say_wrapped(BEGUN)
        say_wrapped(TRY.format(port=port))
        say(f"Keep it as: {folder() / 'frames' / 'my-meter.toml'}\n")
        say(begun)
    elif found.kind == "lines":
        say_wrapped(
            "No driver fits these lines: describe them with a pattern, in the bench file (driver = "
            '"lines"; the guide lines.md says how)'
        )


def _say_pattern(found: Guess, chunks: Sequence[Chunk], line: LineDefaults, port: str, name: str) -> bool:
    """An entry with a pattern; False where none can be made that reads these lines."""
    options = line_options([plain(text_of(frame).strip()) for frame in found.frames])
    if not options:
        return False
    if found.seven_bit:
        options["strip_high_bit"] = True
    try:
        listener = Listener.of(MeterDescription("", "lines", options=options))
    except DriverError:  # a pattern too long to be sure of
        return False
    fit = tried(listener, chunks, line)
    if not fit.readings:
        return False
    say_wrapped(PATTERN)
    say_wrapped(f"With it: {evidence(fit)}")
    usual = LineDefaults()
    said = {k: getattr(line, k) for k in ("baud", "bits", "parity", "stop")}
    if found.seven_bit:
        said |= {"bits": 7, "parity": found.seven_bit}
        del options["strip_high_bit"]
    say("For the bench file:\n")
    say(line_entry(options, port, name, {k: v for k, v in said.items() if v != getattr(usual, k)}))
    say("Then: benchtui watch --chart CHART.toml --bench BENCH.toml")
    return True
