"""The top bar: what can hurt. Drawn from what the board says of the hazard; it adds nothing of its own."""

from __future__ import annotations

from datetime import timedelta

from benchtui.watch.board import Board, Row

from .. import format as fmt
from . import blocks, letters
from .canvas import Canvas
from .glance import NS, Glance, this_run
from .looks import ASCII
from .paint import BOLD, LIVE, LIVE_BOLD, QUIET, Paint
from .plan import Plan
from .text import clip, width

LEAST_NAME = 6
"""Cells of a set's name below which it is of no use."""
TEXT = 46
"""Columns kept for the texts at the right, so that nothing moves while they change."""
PHASES_OF_LIVE = ("on", "off")
"""Phases in which the bar stands reversed whatever else the board says: from power-on until fresh readings
below the level of every point that was above it."""


def is_live(board: Board) -> bool:
    """True if the bar says LIVE."""
    return board.hazard.live or board.hazard.phase in PHASES_OF_LIVE


def shows_live(board: Board) -> bool:
    """True if the bar stands in the colour of LIVE: never in a replay, which must not look live."""
    return is_live(board) and not board.replaying


def lines(glance: Glance, most: int) -> list[str]:
    """The three lines at the right of the bar, the first the one that matters."""
    board = glance.board
    phase = board.hazard.phase
    if is_live(board):
        return _off(glance, most) if phase == "off" else _on(glance, most)
    if phase == "below":
        return _below(glance, most)
    return [
        _reads(glance) or "no power-on seen yet",
        _set(board, most),
        _supply(glance),
    ]


def one_line(glance: Glance) -> tuple[str, list[str]]:
    """The bar of one row: what can hurt, and the state of the run, longest first."""
    board = glance.board
    most = _unseen(board, 2)
    reading = " ".join(_reading(glance)) or "no reading"
    if is_live(board):
        off = "UNPLUG.  " if board.hazard.phase == "off" else ""
        left = _recorded(board) + off + reading + (f"  {most}" if most else "")
    elif board.hazard.phase == "below":
        left = f"below {board.hazard.warn_above:g} V: {reading}; voltage can return"
    else:
        left = _reads(glance) or "no power-on seen yet"
    state = f"NOT RECORDED: {glance.trouble}" if glance.trouble else status(board, glance.ended)
    return left, [f"{_run(board)}, {state}", f"{_run(board, brief=True)}, {state}", state]


def _recorded(board: Board) -> str:
    """What the word LIVE becomes in a replay."""
    return "recorded LIVE: " if board.replaying else ""


def status(board: Board, ended: bool = False) -> str:
    """Whether it is being recorded, and at what speed it runs."""
    if board.replaying and ended:
        return "end of recording"
    if board.replaying:
        what = "replay, paused" if board.paused else "replay"
    else:
        what = "recording" if board.recording else "not recording"
        what += ", chart held" if board.paused else ""
    return what if board.fast == 1.0 else f"{what}, {board.fast:g} x"


def draw(canvas: Canvas, glance: Glance, plan: Plan) -> None:
    """The bar from row 0."""
    board = glance.board
    live = shows_live(board)
    boxed = canvas.glyphs == ASCII
    if live and not boxed:
        _ground(canvas, plan)
    text, gap = (letters.LIVE, letters.LIVE_GAP) if live else (letters.spelt(_heading(board)), letters.GAP)
    paint = LIVE_BOLD if live and not boxed else BOLD
    if plan.big:
        end = blocks.spell(canvas, 1, 4, text, paint, across=2, gap=gap)
    else:
        end = blocks.spell(canvas, 0, 2, text, paint, half=1, gap=gap)
    left = max(end + 3, plan.width - 2 - TEXT)
    most = plan.width - 2 - left
    first = 2 if plan.big else 1 if boxed else 0
    for i, line in enumerate(lines(glance, most)):
        if live and boxed:
            canvas.fill(first + i, left - 1, plan.width - left, LIVE)
        calm, bold = (LIVE, LIVE_BOLD) if live else (QUIET, BOLD)
        canvas.put(first + i, left, line, bold if not i or (i == 2 and glance.ended) else calm, most=most)


def _heading(board: Board) -> str:
    if board.replaying:
        return "REPLAY"
    return {"below": "BELOW", "cold": "WAITING"}.get(board.hazard.phase, "LIVE")


def _ground(canvas: Canvas, plan: Plan) -> None:
    rows = plan.bar if plan.big else plan.bar - 1
    for row in range(rows):
        canvas.fill(row, 0, plan.width, LIVE)
    if not plan.big:
        canvas.fill(rows, 0, plan.width, Paint("live"), "▀")


def _on(glance: Glance, most: int) -> list[str]:
    board = glance.board
    first, *more = _reading(glance)
    unseen = _unseen(board, 1)
    if not more:
        second = _set(board, most)
    else:
        first, second = f"{first} {more[0]}".strip(), f"{more[1]} {_set(board, most - len(more[1]) - 1)}"
    return [_recorded(board) + first, second, ", ".join(t for t in (unseen, _supply(glance)) if t)]


def _off(glance: Glance, most: int) -> list[str]:
    board = glance.board
    first, *more = _reading(glance)
    second = " ".join([*more, _unseen(board, 2)]).strip()
    third = f"NOT RECORDED: {glance.trouble}" if glance.trouble else _set(board, most)
    if board.replaying:
        return [
            f"recorded LIVE: {first}",
            second or "UNPLUG.",
            ", ".join((third, status(board, glance.ended))),
        ]
    return ["UNPLUG. " + first, second, third]


def _below(glance: Glance, most: int) -> list[str]:
    board = glance.board
    hazard = board.hazard
    reading = _reads(glance) or "no reading"
    meter = f", {_meter(hazard.meter)}" if hazard.meter else ""
    return [
        f"below {hazard.warn_above:g} V: {reading}{meter}{_wall(board)}",
        "Discharge through a resistor, measure every"[:most],
        "capacitor, leave shorted; voltage can return"[:most],
    ]


def _reading(glance: Glance) -> list[str]:
    """What the point of the greatest hazard reads; if that is old, that it is, and what to take it for."""
    hazard = glance.board.hazard
    row = glance.row(hazard.point)
    value = _value(glance, row)
    if not value:
        return [
            f"{_name(hazard.point)}: no reading." if hazard.point else "No reading.",
            "",
            "Treat as live.",
        ]
    if fmt.is_old(hazard.age_s, row.period_s if row else None):
        age = fmt.age(hazard.age_s or 0.0)
        return [f"{_name(hazard.point)}: no reading {age};", f"last {value}.", "Treat as live."]
    return [f"{_name(hazard.point)} reads {value}"]


def _reads(glance: Glance) -> str:
    hazard = glance.board.hazard
    value = _value(glance, glance.row(hazard.point))
    if not value:
        return ""
    row = glance.row(hazard.point)
    if fmt.is_old(hazard.age_s, row.period_s if row else None):
        return f"{_name(hazard.point)} read {value} {fmt.age(hazard.age_s or 0.0)} ago"
    return f"{_name(hazard.point)} reads {value}"


def reads(glance: Glance) -> str:
    """`B+1 reads 284 V`, or that there is no reading."""
    return " ".join(t for t in _reading(glance) if t)


def _value(glance: Glance, row: Row | None) -> str:
    """The hazard's value with the digits of its row, so that bar and block never differ."""
    hazard = glance.board.hazard
    if hazard.point is None or fmt.finite(hazard.value) is None:
        return ""
    if row is not None and row.value is not None and hazard.value in (row.value, row.level):
        return fmt.far(row, glance.levels.get(row.point)).whole
    return fmt.plain_value(hazard.value or 0.0, hazard.unit, 1.0 if abs(hazard.value or 0.0) >= 100 else 0.1)


def _name(point: str | None) -> str:
    """Short enough that the number after it is never pushed off the bar."""
    return clip(point or "", 14)


def _meter(name: str) -> str:
    name = clip(name, 12)
    return name if name.lower().startswith("meter") else f"meter {name}"


def _unseen(board: Board, most: int) -> str:
    names = board.hazard.not_measured
    if not names:
        return ""
    more = f" +{len(names) - most}" if len(names) > most else ""
    return f"{', '.join(_name(n) for n in names[:most])}{more} NOT MEASURED"


def _set(board: Board, most: int) -> str:
    """Set and run; the set's name is cut, the state of the run is not."""
    for run in (_run(board), _run(board, brief=True)):
        room = most - width(run) - 2
        if room >= min(width(board.set_name), LEAST_NAME):
            name = clip(board.set_name, room)
            return f"{name}, {run}" if name else run
    return run


def _run(board: Board, brief: bool = False) -> str:
    """`run 2, on 4:10`; where nobody saw the power come on, that, and since when it is watched."""
    if board.hazard.phase == "on" and (board.on_ns is None or not board.on_seen):
        since = board.run_since_ns if board.run_since_ns is not None else board.on_ns
        watched = "" if since is None else f"watched {fmt.clock((board.at_ns - since) / NS)}"
        return ", ".join(t for t in ("on unseen" if brief else "power-on not seen", watched) if t)
    if board.run == 0:
        return "no run yet"
    since, word = (board.on_ns, "on") if board.on_ns is not None else (board.off_ns, "off")
    start = since if since is not None else this_run(board)
    return f"run {board.run}, {word} {fmt.clock((board.at_ns - start) / NS)}"


def _supply(glance: Glance) -> str:
    board = glance.board
    mains = fmt.finite(board.mains)
    known = "" if mains is None else f"mains {mains:.0f} Vac, "
    return f"NOT RECORDED: {glance.trouble}" if glance.trouble else known + status(board, glance.ended)


def _wall(board: Board) -> str:
    if board.started is None:
        return ""
    return (board.started + timedelta(seconds=board.at_ns / NS)).strftime(", %H:%M")
