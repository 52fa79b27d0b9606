"""Channels, notes and events as rows of a session file, both ways."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from benchtui.model.findings import Event
from benchtui.model.notes import Lead, Mark, Note, Trouble, plain
from benchtui.model.readings import Accuracy, Channel

ADD_CHANNEL = "INSERT INTO channel VALUES (?,?,?,?,?,?,?,?)"
ADD_NOTE = "INSERT INTO note (t_ns, type, kind, text, what, channel, point, count) VALUES (?,?,?,?,?,?,?,?)"
ADD_EVENT = "INSERT INTO event VALUES (?,?,?,?,?,?)"


def as_json(value: Mapping[str, Any]) -> str:
    """The shortest JSON of it; floats keep every digit."""
    return json.dumps(dict(value), ensure_ascii=False, separators=(",", ":"))


def channel_row(number: int, channel: Channel) -> tuple[Any, ...]:
    accuracy = channel.accuracy
    three: tuple[float | None, ...] = (None, None, None)
    if accuracy is not None:
        three = (accuracy.of_reading, accuracy.counts, accuracy.of_full_scale)
    return number, channel.name, channel.meter, *three, channel.input_resistance, int(channel.eye)


def channel_of(row: tuple[Any, ...]) -> Channel:
    _, name, meter, of_reading, counts, of_full_scale, resistance, eye = row
    accuracy = None
    if of_reading is not None:
        accuracy = Accuracy(float(of_reading), float(counts), float(of_full_scale))
    ohms = None if resistance is None else float(resistance)
    return Channel(_text(name), _text(meter), accuracy, ohms, bool(eye))


def note_row(note: Note) -> tuple[Any, ...]:
    match note:
        case Mark(t_ns, kind, text, what):
            return t_ns, "mark", kind, text, what, None, None, None
        case Lead(t_ns, channel, point):
            return t_ns, "lead", "", "", "", channel, point, None
        case Trouble(t_ns, meter, kind, text, count):
            return t_ns, "trouble", kind, text, meter, None, None, count


def note_of(row: tuple[Any, ...]) -> Note:
    _, t_ns, type_, kind, text, what, channel, point, count = row
    if type_ == "mark":
        return Mark(int(t_ns), _text(kind), _text(text), _text(what))
    if type_ == "lead":
        return Lead(int(t_ns), int(channel), None if point is None else _text(point))
    return Trouble(int(t_ns), _text(what), _text(kind), _text(text), int(count))


def event_row(judgement: int, event: Event) -> tuple[Any, ...]:
    return judgement, event.seq, event.at_ns, event.finding, event.act, as_json(event.patch)


def event_of(row: tuple[Any, ...]) -> Event:
    seq, at_ns, finding, act, patch = row
    return Event(int(seq), int(at_ns), int(finding), str(act), json.loads(patch))


def _text(value: object) -> str:
    """Texts of a file that may come from anyone: nothing that a terminal would act on, nothing cut off."""
    text = str(value)
    return plain(text, most=max(1, len(text)))
