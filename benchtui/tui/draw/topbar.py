"""The top bar: what can hurt. Drawn from what the board says of the hazard; it adds nothing of its own."""

from __future__ import annotations

from datetime import timedelta

from benchtui.watch.board import Board

from . import blocks, hazard, letters, state
from .canvas import Canvas
from .glance import NS, Glance
from .looks import ASCII
from .paint import BOLD, LIVE, LIVE_BOLD, QUIET, Paint
from .plan import Plan

TEXT, WIDE_TEXT = 46, 64
"""Columns kept for the texts at the right, so that nothing moves while they change; from WIDE columns on."""
WIDE = 120
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
        hazard.last_read(glance) or "no power-on seen yet",
        state.set_and_run(board, most),
        state.supply(glance),
    ]


def one_line(glance: Glance) -> tuple[str, list[str]]:
    """The bar of one row: what can hurt, and the state of the run, longest first."""
    board = glance.board
    most = hazard.unseen(board, 2)
    reading = " ".join(hazard.reading(glance)) or "no reading"
    if is_live(board):
        off = "UNPLUG.  " if board.hazard.phase == "off" else ""
        left = _recorded(board) + off + reading + (f"  {most}" if most else "")
    elif board.hazard.phase == "below":
        left = f"below {board.hazard.warn_above:g} V: {reading}; voltage can return"
    else:
        left = hazard.last_read(glance) or "no power-on seen yet"
    recording = state.recording(glance)
    runs = (state.run(board), state.run(board, brief=True))
    return left, [*(f"{run}, {recording}" for run in runs), recording]


def _recorded(board: Board) -> str:
    """What the word LIVE becomes in a replay."""
    return "recorded LIVE: " if board.replaying else ""


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
    left = max(end + 3, plan.width - 2 - (TEXT if plan.width < WIDE else WIDE_TEXT))
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
    first, *more = hazard.reading(glance)
    unseen = hazard.unseen(board, 1)
    if not more:
        second = state.set_and_run(board, most)
    else:
        first, second = (
            f"{first} {more[0]}".strip(),
            f"{more[1]} {state.set_and_run(board, most - len(more[1]) - 1)}",
        )
    return [_recorded(board) + first, second, ", ".join(t for t in (unseen, state.supply(glance)) if t)]


def _off(glance: Glance, most: int) -> list[str]:
    board = glance.board
    first, *more = hazard.reading(glance)
    second = " ".join([*more, hazard.unseen(board, 2)]).strip()
    third = f"NOT RECORDED: {glance.trouble}" if glance.trouble else state.set_and_run(board, most)
    if board.replaying:
        return [
            f"recorded LIVE: {first}",
            second or "UNPLUG.",
            ", ".join((third, state.status(board, glance.ended))),
        ]
    return ["UNPLUG. " + first, second, third]


def _below(glance: Glance, most: int) -> list[str]:
    board = glance.board
    reading = hazard.last_read(glance) or "no reading"
    meter = f", {hazard.meter(board.hazard.meter)}" if board.hazard.meter else ""
    return [
        f"below {board.hazard.warn_above:g} V: {reading}{meter}{_wall(board)}",
        "Discharge through a resistor, measure every"[:most],
        "capacitor, leave shorted; voltage can return"[:most],
    ]


def _wall(board: Board) -> str:
    if board.started is None:
        return ""
    return (board.started + timedelta(seconds=board.at_ns / NS)).strftime(", %H:%M")
