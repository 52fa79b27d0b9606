"""A screen too small for block digits: plain rows, what can hurt first and what is wrong last."""

from __future__ import annotations

from .. import format as fmt
from . import alarm, topbar
from .canvas import Canvas
from .glance import Glance
from .paint import BOLD, FAULT, FAULT_BOLD, INK, LIVE, LIVE_BOLD, QUIET, of_sign, of_word
from .table import is_unread, is_waiting

_ROOM = "make the window 80x24 or larger"


def draw_small(canvas: Canvas, glance: Glance) -> None:
    """Sound at any size: rows are left out from the bottom, never the bar."""
    live = topbar.shows_live(glance.board)
    left, states = topbar.one_line(glance)
    right = states[0]
    if live:
        canvas.fill(0, 0, canvas.width, LIVE)
        end = canvas.put(0, 1, "LIVE", LIVE_BOLD)
        canvas.put(0, end + 2, left, LIVE, most=max(canvas.width - end - 3, 0))
    else:
        end = canvas.put(0, 1, "REPLAY", BOLD) + 2 if glance.board.replaying else 1
        canvas.put(0, end, left, BOLD, most=max(canvas.width - end - 1, 0))
    wrong = alarm.choose(glance.board, glance.asked)
    last = canvas.height - (1 if wrong is not None and canvas.height > 1 else 0)
    at = 1
    for row in glance.board.rows:
        if at >= last:
            break
        shown = fmt.far(row, glance.levels.get(row.point))
        text = fmt.DASHES if is_unread(row) else shown.text
        marked = is_waiting(row)
        if marked:
            canvas.fill(at, 0, 15, FAULT)
        canvas.put(at, 1, row.sign, FAULT_BOLD if marked else of_sign(row.sign), most=2)
        canvas.put(at, 4, row.point, FAULT_BOLD if marked else INK, most=10)
        canvas.put(at, 21 - len(text), text, BOLD)
        canvas.put(at, 22, shown.unit, QUIET, most=4)
        canvas.put(at, 27, row.word, of_word(row.sign), most=max(canvas.width - 27, 0))
        at += 1
    if wrong is not None and canvas.height > 1:
        canvas.fill(canvas.height - 1, 0, canvas.width, FAULT)
        most = max(canvas.width - 2, 0)
        text = f"!! {alarm.one_line(glance, wrong, most - 3)}"
        canvas.put(canvas.height - 1, 1, text, FAULT_BOLD, most=most)
    elif at < canvas.height:
        canvas.put(canvas.height - 1, 1, f"{right}; {_ROOM}", QUIET, most=max(canvas.width - 2, 0))
