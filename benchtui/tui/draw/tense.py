"""A fault in the words of now: what still stands, what is over, what nobody can see any more.

An old number never stands in the present tense, and a word in block letters is the state as it is.
"""

from __future__ import annotations

from benchtui.model.findings import Finding
from benchtui.model.units import BY_SYMBOL, Unit
from benchtui.watch.board import Board, Row

from .. import format as fmt
from .glance import NS, Glance, in_run

STANDS, UNSEEN, OVER = "stands", "unseen", "over"
"""It is so now; it was so when it was last seen; it is over."""
NEARLY_NOTHING = 0.2
"""A value below this part of what it should be is not low but out."""
_NOW = {"chatter": "RESTLESS", "departs": "DEPARTS", "starved": "STARVED", "slow_bleed": "SLOW"}
_THEN = {"chatter": "MOVED", "departs": "DEPARTED", "starved": "WAS OUT", "slow_bleed": "WAS SLOW"}


def state(finding: Finding, row: Row | None) -> str:
    """One of STANDS, UNSEEN, OVER."""
    if finding.end_ns is not None or finding.state == "closed":
        return OVER
    return UNSEEN if row is not None and is_unseen(row) else STANDS


def is_unseen(row: Row) -> bool:
    """True if nothing tells how the point is now."""
    return row.sign == "x" or (row.meter is None and not row.seen)


def unit_of(finding: Finding, row: Row | None) -> Unit:
    """The unit of a finding's numbers."""
    told = BY_SYMBOL.get(str(finding.evidence.get("unit", "")))
    if told is not None:
        return told
    return row.unit if row is not None else Unit.UNKNOWN


def number(finding: Finding, key: str) -> float | None:
    """A number of its evidence; None where there is none."""
    value = finding.evidence.get(key)
    return fmt.finite(float(value)) if isinstance(value, (int, float)) else None


def head(finding: Finding, row: Row | None) -> str:
    """The word in block letters."""
    now = state(finding, row) == STANDS
    kind = finding.kind
    if kind == "limit":
        return "RATING" if now else "WAS OVER"
    if kind in ("outside", "dropout", "fed_but_out"):
        side = _side(finding, row, now)
        return side if now else f"WAS {side}"
    told = (_NOW if now else _THEN).get(kind)
    return told or kind.replace("_", " ").upper()[:10]


def _side(finding: Finding, row: Row | None, now: bool) -> str:
    """OUT, LOW or HIGH: as the row has it while it stands, else by what it was judged by."""
    if finding.kind == "fed_but_out" or unit_of(finding, row) is Unit.STATE:
        return "OUT"
    value, least = number(finding, "value"), number(finding, "low")
    if finding.kind == "dropout":
        level, depth = number(finding, "level") or 0.0, number(finding, "depth") or 0.0
        value, least = level + depth, level
        side = "LOW" if depth * level < 0 else "HIGH"
    else:
        side = "LOW" if finding.evidence.get("side") == "low" else "HIGH"
    if now and row is not None:
        value = fmt.finite(row.level if row.level is not None else row.value)
        least = row.low if row.low is not None else least
        if row.word.startswith("out, "):
            side = row.word.removeprefix("out, ").upper()
    nothing = value is not None and least is not None and abs(value) < NEARLY_NOTHING * abs(least)
    return "OUT" if side == "LOW" and nothing else side


def when(glance: Glance, finding: Finding) -> str:
    """When it began, by the clock of its run, and how long it lasted if it is over."""
    lasted = ""
    row = glance.row_of(finding)
    moved = row is not None and row.meter is None and not row.seen
    if finding.end_ns is not None and finding.end_ns > finding.start_ns and not moved:
        lasted = f", for {span((finding.end_ns - finding.start_ns) / NS)}"
    return f"{in_run(glance.board, finding.start_ns)}{lasted}"


def span(seconds: float) -> str:
    """`0.4 s`, `8 s`, `2:05`."""
    if seconds < 9.95:
        return f"{seconds:.1f} s" if seconds < 2 or seconds % 1 else f"{seconds:.0f} s"
    return f"{seconds:.0f} s" if seconds < 60 else fmt.clock(seconds)


def text(glance: Glance, finding: Finding) -> str:
    """What it was, without name, kind and time."""
    row = glance.row_of(finding)
    unit, how = unit_of(finding, row), state(finding, row)
    value = number(finding, "value")
    if finding.kind != "outside" or unit is Unit.STATE or value is None:
        return glance.say(finding)
    level = None if row is None else glance.level(row)
    if how != STANDS or row is None or _looks_in(finding, level):
        return f"read {fmt.tidy(value, unit)}{_wanted(finding, unit)}"
    reads = fmt.far(row, glance.levels.get(row.point)).whole if level is not None else "no reading"
    return f"reads {reads}{_wanted(finding, unit)}"


def _looks_in(finding: Finding, level: float | None) -> bool:
    """Whether what is read now is within what was not kept: whole grains are judged, a little later."""
    low, high = number(finding, "low"), number(finding, "high")
    return level is not None and low is not None and high is not None and low <= level <= high


def _wanted(finding: Finding, unit: Unit) -> str:
    low, high = number(finding, "low"), number(finding, "high")
    if low is None or high is None:
        return ""
    return f", not {fmt.tidy(low, unit).split(' ')[0]} to {fmt.tidy(high, unit)}"


def now(glance: Glance, finding: Finding) -> str:
    """How the point is now, for a fault that does not stand: `now 150 V`; empty while it stands."""
    row = glance.row_of(finding)
    if row is None or state(finding, row) == STANDS:
        return ""
    if row.meter is None and not row.seen:
        return "lead moved away: not measured"
    if is_unseen(row):
        return "no reading now"
    return f"now {fmt.far(row, glance.levels.get(row.point)).whole}"


def standing(board: Board) -> list[Finding]:
    """Faults that stand or that nobody can see any more, the newest first, told by no other."""
    faults = [f for f in board.findings if f.severity == "fault" and f.listed]
    told = {n for f in faults for n in explained(f)}
    here = [f for f in faults if f.end_ns is None and f.state == "open" and f.id not in told]
    return sorted(here, key=lambda f: (f.found_ns, f.id), reverse=True)


def explained(finding: Finding) -> tuple[int, ...]:
    """The findings named in its evidence as those it explains."""
    of = finding.evidence.get("of")
    named = of if isinstance(of, (list, tuple)) else (of,)
    return tuple(n for n in named if isinstance(n, int) and not isinstance(n, bool))
