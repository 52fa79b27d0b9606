"""What the point of the greatest hazard reads, in the bar's words."""

from __future__ import annotations

from benchtui.watch.board import Board, Row

from .. import format as fmt
from .glance import Glance
from .text import clip


def reading(glance: Glance) -> list[str]:
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


def last_read(glance: Glance) -> str:
    """`B+1 reads 12 V`, or that it did, and how long ago; empty where it never did."""
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
    return " ".join(t for t in reading(glance) if t)


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


def meter(name: str) -> str:
    """`meter A`, also of a meter that is called so."""
    name = clip(name, 12)
    return name if name.lower().startswith("meter") else f"meter {name}"


def unseen(board: Board, most: int) -> str:
    """The points that nobody has measured since power-off, so many by name; empty where there are none."""
    names = board.hazard.not_measured
    if not names:
        return ""
    more = f" +{len(names) - most}" if len(names) > most else ""
    return f"{', '.join(_name(n) for n in names[:most])}{more} NOT MEASURED"
