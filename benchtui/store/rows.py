"""Channels, notes and events as rows of a session file, both ways."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from benchtui.model.findings import ACTS, Event
from benchtui.model.notes import MARK_KINDS, TROUBLE_KINDS, Lead, Mark, Note, Trouble, plain
from benchtui.model.readings import Accuracy, Channel

from .strict import instant, number, plain_text, text, whole

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
        accuracy = Accuracy(number(of_reading), number(counts), number(of_full_scale))
    ohms = None if resistance is None else number(resistance)
    return Channel(plain_text(name), plain_text(meter), accuracy, ohms, bool(whole(eye)))


def note_row(note: Note) -> tuple[Any, ...]:
    match note:
        case Mark(t_ns, kind, text, what):
            return t_ns, "mark", kind, text, what, None, None, None
        case Lead(t_ns, channel, point):
            return t_ns, "lead", "", "", "", channel, point, None
        case Trouble(t_ns, meter, kind, text, count):
            return t_ns, "trouble", kind, text, meter, None, None, count


def note_of(row: tuple[Any, ...]) -> Note:
    _, t_ns, type_, kind, said, what, channel, point, count = row
    at_ns = instant(t_ns)
    if type_ == "mark":
        return Mark(at_ns, one_of(MARK_KINDS, kind), plain_text(said), plain_text(what))
    if type_ == "lead":
        return Lead(at_ns, whole(channel), None if point is None else plain_text(point))
    if type_ == "trouble":
        return Trouble(at_ns, plain_text(what), one_of(TROUBLE_KINDS, kind), plain_text(said), whole(count))
    raise ValueError("a note is of no kind that there is")


def event_row(judgement: int, event: Event) -> tuple[Any, ...]:
    return judgement, event.seq, event.at_ns, event.finding, event.act, as_json(event.patch)


def event_of(row: tuple[Any, ...]) -> Event:
    seq, at_ns, finding, act, patch = row
    return Event(whole(seq), instant(at_ns), whole(finding), one_of(ACTS, act), dict(json.loads(text(patch))))


def one_of(words: Sequence[str], given: object) -> str:
    """One of these words. Raises ValueError."""
    if given not in words:
        raise ValueError(f"{plain(repr(given), 40)} is none of {', '.join(words)}")
    return str(given)
