"""Which finding the bottom bar shows, and in which words."""

from __future__ import annotations

from dataclasses import dataclass

from benchtui.model.findings import Finding
from benchtui.watch.board import Board, Row

from . import folding, letters, tense
from .folding import Fold, fold_of, folded
from .glance import Glance
from .tense import explained
from .text import cells, clip, cut, width, wrap

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
_SHORT = {"RESTLESS": "MOVES", "STARVED": "OUT", "DEPARTS": "OFF", "DEPARTED": "WAS OFF"}
"""Words for a bar in which the whole one has no room beside the name."""


@dataclass(frozen=True, slots=True)
class Alarm:
    """What the bottom bar shows."""

    finding: Finding
    explains: tuple[int, ...]
    """Findings that it explains, or that it stands for: they are acknowledged with it."""
    more: int
    """Others that wait behind it, each kind of each point once."""
    fold: Fold
    """Every finding of its kind and point in its run, acknowledged or not."""


def word(kind: str) -> str:
    """A kind of finding in plain words."""
    return KIND_WORDS.get(kind, kind.replace("_", " "))


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


def ranked(board: Board) -> list[Finding]:
    """Those that wait: a passed rating, what stands, what nobody can see, what is over; the newest first."""
    rows = {r.point: r for r in board.rows}

    def rank(f: Finding) -> tuple[int, bool, int, int]:
        how = (tense.OVER, tense.UNSEEN, tense.STANDS).index(
            tense.state(f, rows.get(f.point) if f.point else None)
        )
        return how + (f.kind == "limit" and f.end_ns is None) * 3, f.kind == "limit", f.found_ns, f.id

    return sorted(waiting(board), key=rank, reverse=True)


def pressing(board: Board) -> list[Fold]:
    """The same, each kind of each point once."""
    return folded(board, ranked(board))


def choose(board: Board, wanted: int | None = None) -> Alarm | None:
    """The first of those that wait, or the one that was asked for; None if nothing waits."""
    faults = pressing(board)
    if not faults:
        return None
    chosen = next((f for f in faults if f.holds(wanted)), faults[0])
    explains = [n for f in chosen.others for n in (f.id, *explained(f))]
    whole = fold_of(board, chosen.shown)
    return Alarm(chosen.shown, (*explained(chosen.shown), *explains), len(faults) - 1, whole)


def following(board: Board, shown: int | None, by: int) -> int | None:
    """The one of those that wait that is so many places further on, round at the ends."""
    faults = pressing(board)
    if not faults:
        return None
    place = next((i for i, f in enumerate(faults) if f.holds(shown)), 0)
    return faults[(place + by) % len(faults)].shown.id


def heading(finding: Finding, row: Row | None, most: int) -> tuple[letters.Spelt, bool]:
    """Block letters of at most `most` pixels, and whether they hold the whole name of the point.

    A name is never cut inside a word: half a name may be the name of another point. What is over keeps
    its WAS whatever else is left out.
    """
    what = tense.head(finding, row)
    name = "".join(cells(finding.point or ""))
    first = name.split(" ")[0]
    short = _SHORT.get(what, what)
    tries = [(name, what), (name, short), (name, ""), (first, what), (first, short), ("", what), ("", short)]
    if finding.kind == "limit" or tense.state(finding, row) != tense.STANDS:
        tries.remove((name, ""))
    for text, said in tries:
        for narrow in (False, True):
            glyphs = letters.spelt(f"{text} {said}".strip(), narrow)
            if glyphs and letters.wide(glyphs) <= most:
                return glyphs, text == name
    return letters.spelt("!!"), False


def lines(glance: Glance, alarm: Alarm, whole_name: bool, most: int) -> list[str]:
    """Three lines: what and when; the text of the finding, how it is now, and how many more wait."""
    finding = alarm.finding
    at = tense.when(glance, finding)
    first = folding.said(glance, alarm.fold, most) or f"{word(finding.kind)} at {at}"
    if not whole_name and finding.point:
        first = f"{clip(finding.point, 16)} {first}"
        if width(first) > most:
            room = most - width(clip(finding.point, 16)) - 1
            first = f"{clip(finding.point, 16)} {folding.said(glance, alarm.fold, room) or f'at {at}'}"
    tail = f"  +{alarm.more} more" if alarm.more else ""
    now = tense.now(glance, finding)
    room = min(most, LONGEST_LINE)
    text = _two_lines(tense.text(glance, finding), room, len(tail) + (width(now) + 2 if now else 0))
    last = "; ".join(t for t in (text[1].rstrip(";, "), now) if t)
    return [clip(first, most), text[0], (last + tail).strip()]


def one_line(glance: Glance, alarm: Alarm, most: int) -> str:
    """The same for a bar of one row; how many more wait is never cut off."""
    finding = alarm.finding
    what = tense.head(finding, glance.row_of(finding))
    now = tense.now(glance, finding)
    when = folding.said(glance, alarm.fold) or f"{what} at {tense.when(glance, finding)}"
    parts = [f"{clip(finding.point or 'the set', 16)} {when}"]
    more = f"  +{alarm.more} more" if alarm.more else ""
    text = "; ".join(t for t in (*parts, now, tense.text(glance, finding)) if t)
    return cut(text, most - len(more)) + more


def _two_lines(text: str, most: int, taken: int) -> tuple[str, str]:
    """A text on two lines, the second shorter by `taken`; broken where it pauses if the halves fit."""
    text = "".join(cells(text))
    for pause in ("; ", ": ", ", "):
        before, found, after = text.partition(pause)
        if found and width(before) <= most and width(after) <= most - taken:
            return before, after
    if most - taken < 8:
        return clip(text, most), ""
    lines = wrap(text, most, 2)
    if len(lines) == 2 and (lines[1].endswith("…") or width(lines[1]) > most - taken):
        lines[1] = _to_a_pause(text[len(lines[0]) :].lstrip(), most - taken)
    return lines[0] if lines else "", lines[1] if len(lines) > 1 else ""


def _to_a_pause(text: str, most: int) -> str:
    """As much of a text as has room: up to a pause if that is most of it, else up to an ellipsis."""
    if width(text) <= most:
        return text
    ends = [text.rfind(pause, 0, most + 2) for pause in ("; ", ": ")]
    return text[: max(ends)] if max(ends) >= 0.6 * most else cut(text, most)
