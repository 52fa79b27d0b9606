"""The numbers a finding was judged by, in the words and units of the bench."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from benchtui.model.findings import Finding
from benchtui.model.units import BY_SYMBOL, Unit
from benchtui.watch.board import Board

from .. import format as fmt
from ..draw import folding
from ..draw.alarm import word
from ..draw.glance import NS, in_run
from ..draw.tense import span

Pairs = list[tuple[str, str]]
"""(what it is, how much), to be written one a line."""
_VOLTS = ("feed_value", "below", "point_value", "strikes", "holds")
_OWN = (
    "level", "depth", "stands_at", "value", "low", "high", "nominal", "by", "guard", "peak", "rating",
    "surge", "level_before", "moved", "noise", "calm_noise", "left",
)  # fmt: skip
_SPANS = ("duration_s", "took_s", "on_for_s", "allowed_s", "shortest_sure_s", "age_s")
_CLOCKS = ("last_lit_s", "leaves_s")
_LABELS = {
    "value": "read", "level": "level before", "depth": "moved by", "stands_at": "went to", "by": "beyond by",
    "low": "lowest allowed", "high": "highest allowed", "nominal": "by the chart", "guard": "meter's error",
    "peak": "most read", "rating": "never above", "surge": "surge allowed", "level_before": "level before",
    "moved": "moved by", "noise": "noise before", "calm_noise": "noise when calm", "left": "still to go",
    "feed": "fed from", "feed_value": "feed had", "through": "through", "strikes": "strikes at",
    "holds": "holds at", "point_value": "had itself", "suspects": "look at", "told_by": "told by",
    "current": "current", "after_mark": "followed", "also": "moved too", "of": "explains",
    "because": "explained by", "why": "why", "count": "how often", "duration_s": "lasted",
    "took_s": "took", "on_for_s": "power was on for", "allowed_s": "allowed", "below": "should be below",
    "age_s": "into the run", "last_lit_s": "last seen lit", "leaves_s": "leaves its band at",
    "per_h": "drift", "slope_per_s": "slope", "mains": "mains", "relative": "part of the level",
    "side": "side", "readings": "readings", "confirmed": "confirmed", "meter": "meter", "text": "said",
    "like_slipped_point": "slipped point", "shown_by": "shown by", "stays": "stays", "run": "run",
    "part": "of the chart's", "was": "had stood at", "least": "least expected",
    "source": "shown by", "shortest_sure_s": "surely seen from",
}  # fmt: skip
"""Key of the evidence -> what it is called; in the order in which they are told."""
_HIDDEN = frozenset(("unit",))
_LATE = ("side", "relative", "noise", "calm_noise", "guard", "age_s", "shortest_sure_s", "readings")
"""What is told last."""


def told(finding: Finding, board: Board) -> Pairs:
    """Every number of a finding's evidence; what is empty is left out."""
    known = finding.evidence
    unit = BY_SYMBOL.get(str(known.get("unit", ""))) or _row_unit(finding, board)
    names = [*[k for k in _LABELS if k not in _LATE], *_LATE]
    ordered = [k for k in names if k in known] + sorted(k for k in known if k not in names)
    again = folding.times(board, folding.fold_of(board, finding))
    out: Pairs = [("in its run", again)] if again else []
    for key in ordered:
        if key in _HIDDEN or _is_empty(known[key]):
            continue
        text = _text(key, known, unit, board)
        if text:
            out.append((_LABELS.get(key, key.removesuffix("_s").replace("_", " ")), text))
    return out


def _is_empty(value: object) -> bool:
    return value is None or value is False or value in ("", [], ())


def _row_unit(finding: Finding, board: Board) -> Unit:
    return next((r.unit for r in board.rows if r.point == finding.point), Unit.UNKNOWN)


def _text(key: str, known: Mapping[str, object], unit: Unit, board: Board) -> str:
    value = known[key]
    if key in ("of", "because", "into"):
        return _findings(value, board)
    if key == "after_mark":
        return _mark(value, board)
    if unit is Unit.STATE and key in ("depth", "level", "relative"):
        return ""
    if key == "mains" and isinstance(value, float):
        return f"{100 * value:.1f} % of what the chart assumes"
    if key in ("part", "was", "least") and isinstance(value, float):
        return f"{100 * value:.0f} %"
    if key == "relative" and isinstance(value, float):
        return f"{100 * value:+.1f} %"
    if key == "count":
        return f"{value} in this run"
    one = _of_number(key, unit, board)
    if isinstance(value, (list, tuple)):
        return _listed(value, one)
    return one(value)


def _listed(values: list[object] | tuple[object, ...], one: Callable[[object], str]) -> str:
    """A pair of numbers as a span, `50 to 65 V`; anything else one after the other."""
    texts = [one(v) for v in values]
    if len(texts) == 2 and all(isinstance(v, (int, float)) for v in values):
        (first, a), (last, b) = (t.rsplit(" ", 1) if " " in t else (t, "") for t in texts)
        return f"{first} to {last} {b}".rstrip() if a == b else " to ".join(texts)
    return ", ".join(texts)


def _of_number(key: str, unit: Unit, board: Board) -> Callable[[object], str]:
    def one(value: object) -> str:
        if value is True:
            return "yes"
        if not isinstance(value, (int, float)):
            return str(value)
        if not math.isfinite(value):
            return "?"
        if key in _SPANS:
            return span(float(value))
        if key in _CLOCKS:
            return in_run(board, int(value * NS))
        return _quantity(key, float(value), unit) or (f"{value:.4g}" if value % 1 else f"{value:.0f}")

    return one


def _quantity(key: str, value: float, unit: Unit) -> str:
    if key == "through":
        return fmt.tidy(value, Unit.OHM)
    if key == "current":
        return fmt.tidy(value, Unit.A)
    if key in _VOLTS:
        return fmt.tidy(value, Unit.V)
    if key == "per_h":
        return f"{fmt.tidy(value, unit)} an hour"
    if key == "slope_per_s":
        return f"{fmt.tidy(value, unit)} a second"
    return fmt.tidy(value, unit) if key in _OWN else ""


def _findings(value: object, board: Board) -> str:
    """Findings by point and kind, never by number."""
    numbers = value if isinstance(value, (list, tuple)) else (value,)
    by_id = {f.id: f for f in board.findings}
    known = [by_id[n] for n in numbers if isinstance(n, int) and n in by_id]
    return ", ".join(f"{f.point or 'the set'}'s {word(f.kind)} at {in_run(board, f.start_ns)}" for f in known)


def _mark(value: object, board: Board) -> str:
    if not isinstance(value, (int, float)) or not math.isfinite(value):
        return ""
    at = round(value * NS)
    mark = next((m for m in board.marks if abs(m.t_ns - at) < NS / 100), None)
    said = " ".join(t for t in (mark.kind, mark.what) if t) if mark is not None else "a mark"
    return f"{said} at {in_run(board, at)}"
