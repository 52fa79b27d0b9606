"""The bottom of the screen: the one thing that is wrong, or how long to wait, or what comes next; keys."""

from __future__ import annotations

from collections.abc import Sequence

from benchtui.watch.board import Board

from .. import format as fmt
from . import alarm, blocks, letters, tense
from .canvas import Canvas
from .folding import folded, said
from .glance import NS, Glance, this_run, told
from .looks import ASCII
from .paint import BOLD, FAULT, INK, QUIET, TROUBLE, Paint
from .plan import Plan
from .text import clip, width

OVER_THE_WAIT = ("limit", "slow_bleed")
"""Faults that take the bottom bar even while it says how long to wait after power-off."""
MOST_LETTERS = 0.59
"""The part of the width that block letters may take."""


def draw(canvas: Canvas, glance: Glance, plan: Plan) -> None:
    """The bar of the bottom, over `plan.bar` rows."""
    board = glance.board
    wrong = alarm.choose(board, glance.asked)
    if board.hazard.phase == "off" and (wrong is None or wrong.finding.kind not in OVER_THE_WAIT):
        _wait(canvas, glance, plan)
    elif wrong is not None:
        _fault(canvas, glance, plan, wrong)
    else:
        _quiet(canvas, glance, plan)


def keys(canvas: Canvas, row: int, texts: Sequence[tuple[str, str, bool]], said: str = "") -> None:
    """The key line: (key, what it does, whether it is wanted now), from column 2.

    What the last key did stands there instead for a moment.
    """
    if said:
        canvas.put(row, 2, said, BOLD, most=canvas.width - 4)
        return
    needed = 2 + sum(len(key) + 1 + width(does) for key, does, _ in texts)
    gap = next((g for g in (3, 2) if needed + g * (len(texts) - 1) <= canvas.width), 1)
    column = 2
    for key, does, wanted in texts:
        if column + len(key) + 1 + width(does) > canvas.width:
            break
        canvas.put(row, column, key, BOLD)
        column = canvas.put(row, column + len(key) + 1, does, BOLD if wanted else QUIET) + gap


def _fault(canvas: Canvas, glance: Glance, plan: Plan, wrong: alarm.Alarm) -> None:
    most = int(plan.width * MOST_LETTERS) - 2
    across = 2 if plan.big else 1
    glyphs, whole = alarm.heading(wrong.finding, glance.row_of(wrong.finding), most // across)
    calm = FAULT if not glance.flash else Paint("fault", "fault_ink")
    bold = calm._replace(bold=True)
    if canvas.glyphs != ASCII:
        rows = plan.bar if plan.big else plan.bar - 1
        for i in range(rows):
            canvas.fill(plan.bottom + i, 0, plan.width, calm)
        if not plan.big:
            canvas.fill(plan.bottom + rows, 0, plan.width, Paint(calm.ground), "▀")
    end = _letters(canvas, plan, glyphs, BOLD if canvas.glyphs == ASCII else bold)
    _texts(canvas, plan, alarm.lines(glance, wrong, whole, plan.width - end - 5), bold, calm)


def _wait(canvas: Canvas, glance: Glance, plan: Plan) -> None:
    """How long until all measured is below the warning level: the later bound, or that nobody can tell."""
    board = glance.board
    hazard = board.hazard
    level = f"{hazard.warn_above:g} V"
    if hazard.bleed is not None:
        left = hazard.bleed.at_high_s - board.at_ns / NS
        head, first = f"WAIT {fmt.left(left)}", f"then all measured are below {level}"
        if left <= 0:
            head, first = "WAIT", f"longer to {level} than foreseen"
    else:
        head, first = "WAIT", f"how long to {level} can't be told"
    unseen = hazard.not_measured
    second = "treat as live"
    if unseen:
        more = f" +{len(unseen) - 1}" if len(unseen) > 1 else ""
        second = f"{clip(unseen[0], 12)}{more} NOT MEASURED: treat as live"
    third = "then measure every capacitor"
    waiting = len(alarm.pressing(board))
    if waiting:
        third += f"  +{waiting} found"
    _letters(canvas, plan, letters.spelt(head), BOLD)
    _texts(canvas, plan, [first, second, third], BOLD, QUIET)


def _quiet(canvas: Canvas, glance: Glance, plan: Plan) -> None:
    """What comes next, what was done last, what was found in this run."""
    first = plan.bottom + (2 if plan.big else 1 if canvas.glyphs == ASCII else 0)
    most = plan.width - 11
    texts = (
        ("next", _next(glance), INK),
        ("last", _last(glance.board), QUIET),
        ("found", _found(glance, most), QUIET),
    )
    still = _still(glance, most - 1)
    if still:
        texts = (*texts[:2], ("still !!", still, TROUBLE))
    for i, (label, text, paint) in enumerate(texts):
        canvas.put(first + i, 2, label, paint if paint == TROUBLE else QUIET)
        canvas.put(first + i, 9 + 2 * (paint == TROUBLE), text, paint, most - 2 * (paint == TROUBLE))


def _next(glance: Glance) -> str:
    board = glance.board
    if board.hazard.phase == "below":
        return "measure every capacitor; voltage can return"
    row = glance.row(board.next_point)
    if row is None:
        row = next((r for r in board.rows if r.meter is None and not r.seen), None)
    if row is None:
        return "every point has a meter" if board.rows else "no chart: points appear as they are read"
    place = row.where or glance.places.get(row.point, "")
    where = f", {clip(place, 36)}" if place else ""
    expect = fmt.expected(row)
    return f"{clip(row.point, 24)}{where}" + (f": expect {expect}" if expect else "")


def _last(board: Board) -> str:
    if not board.marks:
        return "nothing marked"
    mark = board.marks[-1]
    said = " ".join(t for t in (mark.kind, mark.what) if t)
    note = f": {mark.note}" if mark.note else ""
    return f"{told(board, mark.t_ns)}  {said}{note}"


def _found(glance: Glance, most: int) -> str:
    board = glance.board
    since = this_run(board)
    wrong = [f for f in board.findings if f.severity in ("fault", "warning") and f.found_ns >= since]
    if not wrong:
        return "nothing in this run" if board.run else "nothing yet"
    folds = folded(board, reversed(wrong))
    last = folds[0]
    when = said(glance, last) or told(board, last.shown.start_ns)
    gap = "; " if last.times > 1 else "  "
    tail = f"  +{len(folds) - 1} more" if len(folds) > 1 else ""
    return f"{when}{gap}{clip(glance.say(last.shown), most - len(when) - 2 - len(tail))}{tail}"


def _still(glance: Glance, most: int) -> str:
    """Acknowledged faults that stand, as many as have room: one line, so that none is lost."""
    out = ""
    faults = tense.standing(glance.board)
    for i, finding in enumerate(faults):
        row = glance.row_of(finding)
        unseen = tense.state(finding, row) == tense.UNSEEN
        word = tense.head(finding, row).lower() + (", not read now" if unseen else "")
        at = told(glance.board, finding.start_ns)
        said = f"{clip(finding.point or 'the set', 16)} {word} since {at}"
        tail = f"  +{len(faults) - i - 1} more" if i + 1 < len(faults) else ""
        if out and width(f"{out}; {said}{tail}") > most:
            return f"{out}  +{len(faults) - i} more"
        out = f"{out}; {said}" if out else said
    return out


def _letters(canvas: Canvas, plan: Plan, text: letters.Spelt, paint: Paint) -> int:
    """Block letters in the bar; gives the column after them."""
    if plan.big:
        return blocks.spell(canvas, plan.bottom + 1, 4, text, paint, across=2)
    return blocks.spell(canvas, plan.bottom, 2, text, paint, half=1)


def _texts(canvas: Canvas, plan: Plan, texts: list[str], bold: Paint, calm: Paint) -> None:
    """Three lines at the right, left-aligned among themselves."""
    left = plan.width - 2 - max(width(t) for t in texts)
    boxed = canvas.glyphs == ASCII and calm.reversed
    first = plan.bottom + (2 if plan.big else 1 if canvas.glyphs == ASCII else 0)
    for i, text in enumerate(texts):
        if boxed:
            canvas.fill(first + i, left - 1, plan.width - left, calm)
        canvas.put(first + i, left, text, calm if i else bold)
