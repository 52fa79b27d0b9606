"""One row a point: sign, name, value, needle, limits, word. Nothing in it changes place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from benchtui.model.units import Unit
from benchtui.watch.board import Hazard, Row

from .. import format as fmt
from . import needle
from .canvas import Canvas
from .glance import NS, Glance
from .paint import BOLD, FAULT, FAULT_BOLD, INK, QUIET, TROUBLE, Paint, of_sign, of_word

SIGN, NAME, VALUE_END, UNIT, NEEDLE = 2, 5, 22, 23, 28
NAME_WIDTH = 10
MARKED = 15
"""Cells that are reversed for a fault that nobody has acknowledged."""
PRESSING = ("#", "!!", "x", "~")
"""Signs of rows that must not be hidden behind calm ones."""
_WORST = ("#", "!!", "x", "~", "?", "^", "v", "", "=")


@dataclass(frozen=True, slots=True)
class Columns:
    """Where the columns to the right of the needle stand."""

    needle: int
    """Width of the needle."""
    limits: int
    word: int
    word_width: int
    drift: int | None = None
    age_end: int | None = None
    """Column after the age; None: the age follows the word."""


def far_columns(width: int, chart: bool, big: bool) -> Columns:
    """The far view's columns."""
    if big:
        return Columns(33, 63, 76, 22)
    return Columns(21, 51, 64, 12 if chart else 14)


def near_columns(width: int) -> Columns:
    """The near view's columns."""
    if width < 120:
        return Columns(21, 51, 64, 14)
    return Columns(41, 71, 95, 13, drift=84, age_end=118)


def is_waiting(row: Row) -> bool:
    """True if a fault is on the row that nobody has acknowledged."""
    return row.fault is not None and not row.acknowledged


def is_unread(row: Row) -> bool:
    """True if nothing reads the point now: its last number must not stand where a number is true."""
    return row.sign == "x" or row.word == "not measured" or (row.meter is None and not row.seen)


def is_after_power_off(hazard: Hazard) -> bool:
    return hazard.phase in ("off", "below")


def draw_far(canvas: Canvas, at: int, glance: Glance, row: Row, columns: Columns) -> None:
    """A row of the far view: few digits."""
    shown = fmt.far(row, glance.levels.get(row.point))
    value = _fresh(row, shown)
    _head(canvas, at, row, value)
    _value(canvas, at, value)
    _rest(canvas, at, glance, row, columns, shown.step)


def draw_near(canvas: Canvas, at: int, glance: Glance, row: Row, columns: Columns, selected: bool) -> None:
    """A row of the near view: the meter's digits, drift and age."""
    if selected:
        canvas.put(at, 0, ">", BOLD)
    value = _fresh(row, fmt.near(row))
    _head(canvas, at, row, value, selected)
    _value(canvas, at, value)
    _rest(canvas, at, glance, row, columns, fmt.far(row).step)
    if columns.drift is not None:
        canvas.put(at, columns.drift, fmt.drift(row), QUIET, most=10)


def afloat(rows: Sequence[Row], room: int) -> tuple[list[Row], list[Row]]:
    """The rows that have room, and the others.

    A row with a fault or without a reading that would be hidden takes the place of the last calm one; all
    others keep theirs, and while nothing changes its state nothing moves.
    """
    if len(rows) <= room:
        return list(rows), []
    cut = max(room - 1, 0)
    pressing = sorted(
        (i for i in range(cut, len(rows)) if _presses(rows[i])), key=lambda i: _badness(rows[i])
    )
    calm = [i for i in range(cut - 1, -1, -1) if not _presses(rows[i])][: len(pressing)]
    risen = sorted(pressing[: len(calm)])
    order = list(range(cut))
    for place, i in zip(sorted(calm), risen, strict=True):
        order[place] = i
    here = set(order)
    return [rows[i] for i in order], [row for i, row in enumerate(rows) if i not in here]


def _presses(row: Row) -> bool:
    return row.sign in PRESSING or is_waiting(row)


def _badness(row: Row) -> tuple[bool, int]:
    return not is_waiting(row), _WORST.index(row.sign) if row.sign in _WORST else len(_WORST)


def worst(rows: Sequence[Row]) -> Row:
    """The row that presses most."""
    return min(rows, key=_badness)


def draw_more(canvas: Canvas, at: int, hidden: Sequence[Row], columns: Columns) -> None:
    """The last row of a table that has no room for all: how many more, and the worst of them."""
    of = worst(hidden)
    calm = of.sign in ("=", "") and not is_waiting(of)
    sign = "=" if calm else of.sign
    text = f"{len(hidden)} more"
    if any(is_waiting(r) for r in hidden):
        canvas.fill(at, SIGN - 1, MARKED, FAULT)
        canvas.put(at, SIGN, sign, FAULT_BOLD)
        canvas.put(at, NAME, text, FAULT_BOLD)
    else:
        canvas.put(at, SIGN, sign, of_sign(sign))
        canvas.put(at, NAME, text, INK)
    all_in = all(r.sign == "=" for r in hidden)
    if not calm:
        canvas.put(at, columns.limits, of.point, QUIET, most=columns.word - columns.limits - 1)
    said = ("all in" if all_in else "") if calm else of.word
    canvas.put(at, columns.word, said, of_word(sign), most=columns.word_width)


def _fresh(row: Row, shown: fmt.Shown) -> fmt.Shown:
    """Dashes in the place of a number that is no longer true."""
    if not is_unread(row) or row.unit is Unit.STATE:
        return shown
    return fmt.Shown(fmt.DASHES, shown.unit)


def _head(canvas: Canvas, at: int, row: Row, value: fmt.Shown, strong: bool = False) -> None:
    """Sign and name; the name gives way to a long number."""
    room = min(NAME_WIDTH, VALUE_END - len(value.text) - 1 - NAME)
    if is_waiting(row):
        canvas.fill(at, SIGN - 1, min(MARKED, NAME + room - SIGN + 2), FAULT)
        canvas.put(at, SIGN, row.sign, FAULT_BOLD, most=2)
        canvas.put(at, NAME, row.point, FAULT_BOLD, most=room)
        return
    paint = of_sign(row.sign)
    canvas.put(at, SIGN, row.sign, paint, most=2)
    canvas.put(at, NAME, row.point, BOLD if strong or paint == TROUBLE else INK, most=room)


def _value(canvas: Canvas, at: int, value: fmt.Shown) -> None:
    start = VALUE_END - len(value.text)
    canvas.put(at, start, value.firm, BOLD)
    canvas.put(at, start + len(value.firm), value.loose, QUIET)
    canvas.put(at, UNIT, value.unit, QUIET, most=4)


def _rest(canvas: Canvas, at: int, glance: Glance, row: Row, columns: Columns, step: float) -> None:
    hazard = glance.board.hazard
    level = glance.level(row)
    limits = fmt.limits(row, step)
    if is_after_power_off(hazard):
        limits = ""
        if row.unit.is_voltage and row.word != "off":
            value = None if is_unread(row) else level
            needle.below(canvas, at, NEEDLE, columns.needle, row, hazard.warn_above, value)
        if row.bleed is not None and row.word == "falling":
            left = row.bleed.at_high_s - glance.board.at_ns / NS
            limits = f"{hazard.warn_above:g} V in {fmt.left(left)}" if left > 0 else "takes longer"
    elif is_unread(row):
        needle.ground(canvas, at, NEEDLE, columns.needle, row)
    else:
        needle.draw(canvas, at, NEEDLE, columns.needle, row, level, foreseen=False)
    canvas.put(at, columns.limits, limits, QUIET, most=12)
    _words(canvas, at, glance, row, columns)


def _words(canvas: Canvas, at: int, glance: Glance, row: Row, columns: Columns) -> None:
    word = row.word
    if len(word) > columns.word_width:
        word = word.replace(" passed", "")
    end = canvas.put(at, columns.word, word, of_word(row.sign), most=columns.word_width)
    last = columns.word + columns.word_width
    key = f"{glance.keys[row.point]}: {fmt.pressed(row)}" if row.point in glance.keys else None
    age = _age(row)
    if columns.age_end is not None:
        room = columns.age_end - end - 1
        age = "" if age == word else age
        texts = [f"{key}  {t}".rstrip() for t in (age, f"{age.removeprefix('looked ')} ago", "")]
        texts = texts if key else [age]
        canvas.right(at, columns.age_end, next((t for t in texts if len(t) <= room), ""), QUIET)
    elif key is not None and end + len(key) + 1 <= last:
        canvas.right(at, last, key, QUIET)
    elif key is not None:
        canvas.right(at, columns.word - 1, key, QUIET)
    elif age and not row.seen:
        age = age if row.sign == "x" else f"{age} ago"
        canvas.put(at, end + 1, age if end + len(age) < last else "", QUIET)


def _age(row: Row) -> str:
    if row.age_s is None:
        return "" if not row.seen else "not looked"
    if row.seen:
        return f"looked {fmt.age(row.age_s)}"
    return fmt.age(row.age_s) if fmt.is_old(row.age_s, row.period_s) else ""


def bar_paint(row: Row) -> Paint:
    """The paint of a sign in large: white on the bar's ground while nobody has acknowledged it."""
    return FAULT if is_waiting(row) else of_sign(row.sign)._replace(bold=False)
