"""What stands in a wire log beside bytes: marks, leads, trouble, and readings that came over no wire."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from benchtui.model.notes import MARK_KINDS, TROUBLE_KINDS, Lead, Mark, Note, Trouble, plain
from benchtui.model.readings import Readings
from benchtui.model.units import BY_SYMBOL

from .strict import LATEST_NS, number


def note_of(t_ns: int, given: Mapping[str, Any], channels: int) -> Note | Readings:
    """The note, or the reading that came over no wire.

    Raises:
        ValueError, KeyError, TypeError, AttributeError, OverflowError: it is damaged.
    """
    kind = given["kind"]
    if kind == "mark":
        if given["mark"] not in MARK_KINDS:
            raise ValueError("a mark of no kind that there is")
        return Mark(t_ns, given["mark"], plain(str(given["note"])), plain(str(given["what"])))
    if kind == "trouble":
        if given["trouble"] not in TROUBLE_KINDS:
            raise ValueError("a trouble of no kind that there is")
        text = plain(str(given["text"]))
        count = int(given["count"])
        if not 0 <= count < LATEST_NS:
            raise ValueError("its count is none that there can be")
        return Trouble(t_ns, str(given["meter"]), given["trouble"], text, count)
    channel = given["channel"]
    if type(channel) is not int or not 0 <= channel < channels:
        raise ValueError("a channel that the header does not name")
    if kind == "lead":
        point = given["point"]
        return Lead(t_ns, channel, None if point is None else str(point))
    if kind == "reading":
        value = float("nan") if given["value"] is None else number(given["value"])
        unit = int(BY_SYMBOL.get(given["unit"], 0))
        return Readings.of([t_ns], channel, unit, [value], number(given["resolution"]), int(given["flags"]))
    raise ValueError("a note of no kind that there is")
