"""A screen too small for block digits: plain rows, what can hurt first and what is wrong last."""

from __future__ import annotations

from collections.abc import Sequence

from benchtui.watch.board import Row

from .. import format as fmt
from . import alarm, topbar
from .canvas import Canvas
from .glance import Glance
from .paint import BOLD, FAULT, FAULT_BOLD, INK, LIVE, LIVE_BOLD, QUIET, of_sign, of_word
from .table import afloat, is_unread, is_waiting, worst
from .text import clip, cut, width

_ROOM = "make the window 80x24 or larger"
_NAME, _VALUE_END, _UNIT, _WORD = 4, 21, 5, 27
"""Columns, and the cells that a blank and a unit take."""
_LEAST_NAME, _LEAST_WORD = 2, 5


def draw_small(canvas: Canvas, glance: Glance) -> None:
    """Sound at any size: the bar stays, and what presses; how many rows have no room is told."""
    _bar(canvas, glance)
    wrong = alarm.choose(glance.board, glance.asked)
    last = canvas.height - (1 if wrong is not None and canvas.height > 1 else 0)
    room = max(last - 1, 0)
    shown, hidden = afloat(glance.board.rows, room)
    for i, row in enumerate(shown):
        _row(canvas, 1 + i, glance, row)
    if hidden and room:
        _more(canvas, 1 + len(shown), hidden)
    if wrong is not None and canvas.height > 1:
        canvas.fill(canvas.height - 1, 0, canvas.width, FAULT)
        most = max(canvas.width - 2, 0)
        text = cut(f"!! {alarm.one_line(glance, wrong, most - 3)}", most)
        canvas.put(canvas.height - 1, 1, text, FAULT_BOLD)
    elif 1 + len(shown) + bool(hidden) < canvas.height:
        right = topbar.one_line(glance)[1][0]
        canvas.put(canvas.height - 1, 1, f"{right}; {_ROOM}", QUIET, most=max(canvas.width - 2, 0))


def _bar(canvas: Canvas, glance: Glance) -> None:
    live = topbar.shows_live(glance.board)
    left = topbar.one_line(glance)[0]
    if live:
        canvas.fill(0, 0, canvas.width, LIVE)
    word = "LIVE" if live else "REPLAY" if glance.board.replaying else ""
    start = canvas.put(0, 1, word, LIVE_BOLD if live else BOLD) + 2 if word else 1
    most = max(canvas.width - start - 1, 0)
    if width(left) > most:
        left = left.replace(" reads ", " ", 1)
    canvas.put(0, start, cut(left, most), LIVE if live else BOLD)


def _row(canvas: Canvas, at: int, glance: Glance, row: Row) -> None:
    """The number is whole or not there; the name gives way first, then the word."""
    shown = fmt.far(row, glance.levels.get(row.point))
    text = fmt.DASHES if is_unread(row) else shown.text
    end = min(_VALUE_END, max(canvas.width - _UNIT, 0))
    if end - len(text) < _NAME + _LEAST_NAME + 1:
        text = "…"
    marked = is_waiting(row)
    if marked:
        canvas.fill(at, 0, min(15, end - len(text) - 1), FAULT)
    canvas.put(at, 1, row.sign, FAULT_BOLD if marked else of_sign(row.sign), most=2)
    room = end - len(text) - 1 - _NAME
    canvas.put(at, _NAME, clip(row.point, min(10, max(room, 0))), FAULT_BOLD if marked else INK)
    canvas.put(at, end - len(text), text, BOLD)
    canvas.put(at, end + 1, shown.unit if text != "…" else "", QUIET, most=4)
    most = canvas.width - _WORD
    if width(row.word) <= most or most >= _LEAST_WORD:
        canvas.put(at, _WORD, row.word, of_word(row.sign), most=max(most, 0))


def _more(canvas: Canvas, at: int, hidden: Sequence[Row]) -> None:
    """How many points have no room, and the worst of them if it is not in."""
    of = worst(hidden)
    calm = of.sign in ("=", "") and not is_waiting(of)
    text = f"{len(hidden)} more" + ("" if calm else f": {of.point} {of.word}")
    waits = any(is_waiting(row) for row in hidden)
    if waits:
        canvas.fill(at, 0, 15, FAULT)
    canvas.put(at, 1, "" if calm else of.sign, FAULT_BOLD if waits else of_sign(of.sign), most=2)
    most = max(canvas.width - _NAME, 0)
    canvas.put(at, _NAME, text, FAULT_BOLD if waits else INK, most=most)
