"""The list of findings: faults first, the newest first, each on one row."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from benchtui.model.findings import Finding
from benchtui.watch.board import Board

from . import tense
from .alarm import word
from .canvas import Canvas
from .folding import Fold, folded, said
from .glance import Glance, run_starts, told
from .paint import BOLD, FAULT, FAULT_BOLD, INK, QUIET, QUIET_BOLD, TROUBLE
from .plan import NearPlan
from .text import clip, cut, width

_RANK = {"fault": 0, "warning": 0, "verdict": 1, "meter": 2, "info": 3}
_SIGNS = {"fault": "!!", "warning": "~", "verdict": ">", "meter": "x", "info": "="}
_POINT, _KIND_WIDTH = 7, 12


def ordered(board: Board) -> list[Fold]:
    """Findings as they are listed: what was wrong, newest first; then verdicts, the meters, the rest."""
    listed = [f for f in board.findings if f.listed]
    return folded(board, sorted(listed, key=lambda f: (_RANK.get(f.severity, 3), -f.found_ns, -f.id)))


def place(found: Sequence[Fold], finding: int | None) -> int | None:
    """Where in the list a finding is, alone or folded with others."""
    return next((i for i, fold in enumerate(found) if fold.holds(finding)), None)


def numbers(board: Board) -> dict[int, int]:
    """Finding -> its number among what was wrong, in the order of announcement."""
    wrong = [f.id for f in board.findings if f.listed and f.severity in ("fault", "warning")]
    return {finding: i + 1 for i, finding in enumerate(wrong)}


def draw(canvas: Canvas, glance: Glance, plan: NearPlan, selected: int | None, top: int = 0) -> None:
    """The rows from `top` on that have room."""
    board = glance.board
    found = ordered(board)
    if not found:
        canvas.put(plan.findings, 2, "nothing found yet", QUIET)
        return
    numbered = numbers(board)
    shown = found[top : top + plan.finding_rows]
    names = max((width(clip(f.shown.point or "", 16)) for f in shown), default=0)
    room = min(max(names, 8), 16 if plan.width >= 120 else 10)
    for i, fold in enumerate(shown):
        number = numbered.get(fold.shown.id)
        _row(canvas, plan.findings + i, glance, fold, number, room, fold.holds(selected))
    hidden = len(found) - top - len(shown)
    if hidden > 0 or top:
        text = f" lines {top + 1}-{top + len(shown)} of {len(found)}"
        canvas.right(plan.findings + len(shown), plan.width - 1, text, QUIET)


def _when(board: Board, finding: Finding) -> str:
    """By the clock of the present run; of an earlier one only which it was."""
    starts = run_starts(board)
    place = bisect_right(starts, finding.start_ns)
    if 0 < place < len(starts):
        return f"run {place}"
    text = told(board, finding.start_ns)
    return text if len(text) <= 5 else "h".join(text.split(":")[:2])


def _row(
    canvas: Canvas, at: int, glance: Glance, fold: Fold, number: int | None, room: int, selected: bool
) -> None:
    board, finding = glance.board, fold.shown
    kind = _POINT + room + 1
    time = kind + _KIND_WIDTH + 1
    seen = all(f.id in board.acknowledged for f in (finding, *fold.others))
    waits = finding.severity == "fault" and not seen
    sign = "#" if finding.kind == "limit" else _SIGNS.get(finding.severity, "=")
    wrong = finding.severity in ("fault", "warning")
    if waits:
        canvas.fill(at, 1, time - 2, FAULT)
    strong = FAULT_BOLD if waits else BOLD
    if number is not None and number < 100:
        canvas.right(at, 3, str(number), strong)
    canvas.put(at, 4, sign, FAULT_BOLD if waits else TROUBLE if wrong else QUIET_BOLD, most=2)
    canvas.put(at, _POINT, finding.point or "", strong if waits or selected else INK, most=room)
    calm = FAULT_BOLD if waits else TROUBLE._replace(bold=False) if wrong else QUIET
    canvas.put(at, kind, word(finding.kind), calm, most=_KIND_WIDTH)
    canvas.put(at, time, _when(board, finding), QUIET, most=5)
    again = said(glance, fold, 0)
    over = tense.state(finding, glance.row_of(finding)) == tense.OVER
    text = "; ".join(t for t in (again, tense.text(glance, finding) if over else glance.say(finding)) if t)
    paint = BOLD if selected else INK if wrong else QUIET
    canvas.put(at, time + 6, cut(text, canvas.width - time - 7), paint)
    if selected:
        canvas.put(at, 0, ">", BOLD)
