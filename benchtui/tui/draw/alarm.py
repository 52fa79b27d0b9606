"""Which finding the bottom bar shows, and in which words."""

from __future__ import annotations

from dataclasses import dataclass

from benchtui.model.findings import Finding
from benchtui.model.units import Unit
from benchtui.watch.board import Board, Row

from . import letters
from .glance import Glance, told
from .text import cells, clip, width, wrap

KIND_WORDS = {
    "limit": "rating passed",
    "fed_but_out": "fed but out",
    "slow_bleed": "slow bleed",
    "power_on": "power on",
    "power_off": "power off",
}
"""Kinds whose name is not the word for a person."""
LONGEST_LINE = 44
"""Cells of a line of text in the bar, however wide the screen is."""
_HEAD = {
    "limit": "RATING",
    "outside": "OUT",
    "dropout": "DROPOUT",
    "chatter": "RESTLESS",
    "departs": "DEPARTS",
    "starved": "STARVED",
    "fed_but_out": "OUT",
    "slow_bleed": "SLOW",
}
_SHORT = {"DROPOUT": "DROP", "RESTLESS": "MOVES", "STARVED": "OUT", "DEPARTS": "OFF"}
"""Words for a bar in which the whole one has no room beside the name."""


@dataclass(frozen=True, slots=True)
class Alarm:
    """What the bottom bar shows."""

    finding: Finding
    explains: tuple[int, ...]
    """Findings that it explains: they are acknowledged with it."""
    more: int
    """Others that wait behind it."""


def word(kind: str) -> str:
    """A kind of finding in plain words."""
    return KIND_WORDS.get(kind, kind.replace("_", " "))


def explained(finding: Finding) -> tuple[int, ...]:
    """The findings named in its evidence as those it explains."""
    of = finding.evidence.get("of")
    named = of if isinstance(of, (list, tuple)) else (of,)
    return tuple(n for n in named if isinstance(n, int) and not isinstance(n, bool))


def waiting(board: Board) -> list[Finding]:
    """Faults that nobody has acknowledged, and each rating still passed: nothing silences a rating."""
    faults = [f for f in board.findings if f.severity == "fault" and f.listed]
    told_by_another = {n for f in faults for n in explained(f)}
    return [
        f
        for f in faults
        if (f.id not in board.acknowledged and f.id not in told_by_another)
        or (f.kind == "limit" and f.end_ns is None)
    ]


def choose(board: Board) -> Alarm | None:
    """A rating first, else the newest; None if nothing waits."""
    faults = waiting(board)
    if not faults:
        return None
    first = max(faults, key=lambda f: (f.kind == "limit", f.found_ns, f.id))
    return Alarm(first, explained(first), len(faults) - 1)


def heading(finding: Finding, row: Row | None, most: int) -> tuple[letters.Spelt, bool]:
    """Block letters of at most `most` pixels, and whether they hold the whole name of the point.

    A name is never cut inside a word: half a name may be the name of another point.
    """
    what = _HEAD.get(finding.kind, word(finding.kind).upper()[:10])
    if row is not None and finding.kind == "outside" and row.word.startswith("out, "):
        what = row.word.removeprefix("out, ").upper()
    if row is not None and finding.kind == "dropout" and row.unit is Unit.STATE:
        what = "OUT"
    name = "".join(cells(finding.point or ""))
    first = name.split(" ")[0]
    short = _SHORT.get(what, what)
    tries = [(name, what), (name, short), (name, ""), (first, what), (first, short), ("", what), ("", short)]
    if finding.kind == "limit":
        tries.remove((name, ""))
    for text, said in tries:
        for narrow in (False, True):
            glyphs = letters.spelt(f"{text} {said}".strip(), narrow)
            if glyphs and letters.wide(glyphs) <= most:
                return glyphs, text == name
    return letters.spelt("!!"), False


def lines(glance: Glance, alarm: Alarm, whole_name: bool, most: int) -> list[str]:
    """Three lines: what and when; the text of the finding; how many more wait, at the end of the third."""
    finding = alarm.finding
    first = f"{word(finding.kind)} at {told(glance.board, finding.start_ns)}"
    if not whole_name and finding.point:
        first = f"{clip(finding.point, 16)} {first}"
    tail = f"  +{alarm.more} more" if alarm.more else ""
    text = _two_lines(glance.say(finding), min(most, LONGEST_LINE), len(tail))
    return [clip(first, most), text[0], (text[1] + tail).strip()]


def _two_lines(text: str, most: int, taken: int) -> tuple[str, str]:
    """A text on two lines, the second shorter by `taken`; broken where it pauses if the halves fit."""
    text = "".join(cells(text))
    for pause in ("; ", ": ", ", "):
        before, found, after = text.partition(pause)
        if found and width(before) <= most and width(after) <= most - taken:
            return before, after
    lines = wrap(text, most, 2)
    if len(lines) == 2 and width(lines[1]) > most - taken:
        lines[1] = wrap(text[len(lines[0]) :], most - taken, 1)[0]
    return lines[0] if lines else "", lines[1] if len(lines) > 1 else ""
