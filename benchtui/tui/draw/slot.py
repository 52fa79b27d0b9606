"""A point drawn large: name and word, block digits to be read from two metres, a needle."""

from __future__ import annotations

from benchtui.model.units import Unit
from benchtui.watch.board import Row

from .. import format as fmt
from . import blocks, glyphs, letters, needle
from .canvas import Canvas
from .digits import place, shortened
from .glance import NS, Glance
from .glyphs import Glyph
from .looks import ASCII
from .paint import BOLD, FAINT, INK, QUIET, Paint, of_word
from .plan import Plan
from .table import bar_paint, is_after_power_off, is_unread, is_waiting
from .text import clip, width

MARGIN = 2


def draw(canvas: Canvas, left: int, glance: Glance, row: Row, plan: Plan) -> None:
    """One point in the slot whose first column is `left`."""
    shown = fmt.far(row, glance.levels.get(row.point))
    unseen = is_after_power_off(glance.board.hazard) and row.point in glance.board.hazard.not_measured
    _name(canvas, left, glance, row, plan, shown, unseen)
    if unseen:
        _not_measured(canvas, left, plan)
        return
    _sign(canvas, left, row, plan)
    if row.unit is Unit.STATE and not is_unread(row):
        spelt = letters.spelt(shown.firm if shown.firm != fmt.DASHES else "---")
        blocks.spell(canvas, plan.digits, left + plan.blocks.digits, spelt, INK)
    else:
        _number(canvas, left, row, plan, shown)
    _needle(canvas, left + MARGIN, glance, row, plan)


def _name(
    canvas: Canvas, left: int, glance: Glance, row: Row, plan: Plan, shown: fmt.Shown, unseen: bool
) -> None:
    word = "" if unseen else row.word
    texts = _beside(glance, row, shown, unseen)
    room = plan.blocks.needle
    if plan.big:
        spelt = letters.spelt(row.point)
        for most in range(len(row.point), 0, -1):
            if letters.wide(spelt) <= room:
                break
            spelt = letters.spelt(row.point[:most], narrow=True)
        blocks.spell(canvas, plan.names, left + MARGIN, spelt, INK)
        at = plan.needle + 2
        end = canvas.put(at, left + MARGIN, word, of_word(row.sign), most=20)
        canvas.put(at, end + (3 if word else 0), texts[0], QUIET, most=left + MARGIN + room - end - 3)
        return
    name, word, gap, text = fit(row.point, word, texts, room)
    end = canvas.put(plan.names, left + MARGIN, name, BOLD)
    canvas.put(plan.names, end + gap, word, of_word(row.sign))
    canvas.right(plan.names, left + MARGIN + room, text, QUIET)


def fit(name: str, word: str, texts: list[str], room: int) -> tuple[str, str, int, str]:
    """Name, word, gap and the longest of the texts (longest first) that stand on one line together."""
    name = clip(name, max(room - len(word) - 2, 4))
    for text in texts:
        for gap in (2, 1):
            needed = width(name) + (gap + len(word) if word else 0) + (1 + len(text) if text else 0)
            if needed <= room:
                return name, word, gap, text
    return clip(name, max(room - len(word) - 1, 1)), word, 1, ""


def _beside(glance: Glance, row: Row, shown: fmt.Shown, unseen: bool) -> list[str]:
    """What stands at the right of the name line, longest first; the last is empty."""
    at_s = glance.board.at_ns / NS
    hazard = glance.board.hazard
    last = fmt.finite(row.value)
    if unseen or is_unread(row):
        if last is None:
            return [""]
        said = f"last {fmt.plain_value(last, row.unit, shown.step)}"
        if row.age_s is None:
            return [said, ""]
        ago = fmt.clock(row.age_s) if unseen else fmt.age(row.age_s)
        return [f"{said}, {ago} ago", said, ""]
    if row.word == "falling" and row.bleed is not None and is_after_power_off(hazard):
        left = row.bleed.at_high_s - at_s
        if left <= 0:
            return ["longer than foreseen", ""]
        to = f"to {hazard.warn_above:g} V in {fmt.left(left)}"
        return [f"{to} at most", to, ""]
    if row.sign in ("^", "v") and row.predicted is not None:
        to = f"{fmt.interval(row, row.predicted)} {fmt.soon(row.predicted.at_s - at_s)}"
        return [f"to {to}", to, ""]
    if row.point in glance.keys:
        return [f"key {glance.keys[row.point]}: {fmt.pressed(row)}", ""]
    return [""] if is_after_power_off(hazard) else [*_calm(row, shown), ""]


def _calm(row: Row, shown: fmt.Shown) -> list[str]:
    step = shown.step or fmt.far_step(row)
    if row.sign == "#" and row.limit is not None:
        rating = fmt.rated(row, step)
        return [f"{rating}, by {fmt.beyond(row, row.limit, step)}", rating]
    if row.word == "out, low" and row.low is not None:
        return [f"{fmt.beyond(row, row.low, step)} too low"]
    if row.word == "out, high" and row.high is not None:
        return [f"{fmt.beyond(row, row.high, step)} too high"]
    if row.sign == "?" and row.accuracy is not None:
        return [f"meter {fmt.of_reading(row)}"]
    drift = fmt.drift(row)
    if row.settled:
        return [f"settled, {drift}", "settled"] if drift else ["settled"]
    if row.word and row.sign in ("^", "v", "") and row.nominal is not None and row.unit is not Unit.STATE:
        return [f"expect {fmt.expected(row)}"]
    return []


def _sign(canvas: Canvas, left: int, row: Row, plan: Plan) -> None:
    table = glyphs.ASCII_SIGNS if canvas.glyphs == ASCII else glyphs.SIGNS
    glyph = table.get(row.sign)
    paint = bar_paint(row)
    column = left + plan.blocks.sign
    if is_waiting(row):
        rows = 10 if plan.big else 5
        for i in range(rows):
            canvas.fill(plan.digits + i, column - 1, 6 * plan.blocks.across + 2, paint)
    if glyph is not None:
        _pixels(canvas, plan, column, glyph, paint)


def _number(canvas: Canvas, left: int, row: Row, plan: Plan, shown: fmt.Shown) -> None:
    ascii_only = canvas.glyphs == ASCII
    fonts = glyphs.ASCII_DIGITS if ascii_only else glyphs.DIGITS
    if is_unread(row) or shown.firm == fmt.DASHES:
        dash = glyphs.ASCII_NO_NUMBER if ascii_only else glyphs.NO_NUMBER
        layout = place([dash] * 3, shown.unit, plan.blocks)
        paint = QUIET
    else:
        layout = None
        text = shown.firm
        while layout is None and text:
            layout = place([fonts[c] for c in text if c in fonts], shown.unit, plan.blocks)
            text = shortened(text) if layout is None else text
        paint = INK
    if layout is None:
        return
    for column, glyph in layout.glyphs:
        _pixels(canvas, plan, left + column, glyph, paint)
    last = plan.digits + (9 if plan.big else 4)
    canvas.put(last, left + layout.unit, shown.unit, BOLD, most=plan.blocks.slot - layout.unit)


def _pixels(canvas: Canvas, plan: Plan, column: int, glyph: Glyph, paint: Paint) -> None:
    if plan.big or canvas.glyphs == ASCII:
        blocks.wholes(canvas, plan.digits, column, glyph, paint, plan.blocks.across)
    else:
        blocks.halves(canvas, 2 * plan.digits, column, glyph, paint)


def _not_measured(canvas: Canvas, left: int, plan: Plan) -> None:
    if canvas.glyphs == ASCII:
        canvas.put(plan.digits + 1, left + MARGIN, "NOT MEASURED", BOLD)
        canvas.fill(plan.needle, left + MARGIN, plan.blocks.needle, FAINT, "-")
        return
    second = plan.digits + (5 if plan.big else 3)
    blocks.spell(canvas, plan.digits, left + MARGIN, letters.spelt("NOT", True), INK)
    blocks.spell(canvas, second, left + MARGIN, letters.spelt("MEASURED", True), INK)


def _needle(canvas: Canvas, left: int, glance: Glance, row: Row, plan: Plan) -> None:
    level = glance.level(row)
    size = plan.blocks.needle
    hazard = glance.board.hazard
    if is_after_power_off(hazard):
        if row.word != "off" and row.unit.is_voltage:
            value = None if is_unread(row) else level
            needle.below(canvas, plan.needle, left, size, row, hazard.warn_above, value)
    elif is_unread(row):
        needle.ground(canvas, plan.needle, left, size, row)
    else:
        needle.draw(canvas, plan.needle, left, size, row, level)
    if plan.big:
        needle.heighten(canvas, plan.needle, left, size)
