"""CSV of readings and CSV of marks: read strictly, every decimal exactly, every mistake with its line.

Readings: `t_s,point,value,unit,flag` and optionally `channel,resolution`, in any order of columns. Where
the resolution is not given, a reading's own written digits say it; see `resolutions`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from benchtui.model.notes import MARK_KINDS, Lead, Mark, plain
from benchtui.model.readings import Channel, Readings
from benchtui.model.units import Unit

from .csv_problems import Problems
from .csv_rows import Columns, Table, read_rows, resolutions
from .csv_sheet import Sheet
from .csv_words import Names
from .decimal_columns import nanoseconds

MOST_BACK_NS = 10_000_000_000
"""A row may be this much earlier than one before it of the same channel; more is another recording."""


@dataclass(frozen=True, slots=True, eq=False)
class CsvReadings:
    """A file of readings as a timeline."""

    readings: Readings
    """Sorted by (time, channel)."""
    channels: tuple[Channel, ...]
    leads: tuple[Lead, ...]
    points: tuple[tuple[str, Unit], ...]
    """Every point named, in the order of the file, with the first unit that was seen of it."""
    moved: int
    """Rows that stood in the file before an earlier one, and were sorted."""
    cut: str = ""
    """What is wrong with a last line that has no line end, and so was left out; empty where nothing is."""


def read_readings(path: Path, at: Callable[[int], None] = lambda _: None) -> CsvReadings:
    """The whole file; `at` is told of the bytes that have been read, for a progress bar.

    Raises:
        SessionError: it cannot be read, or holds mistakes: all of them up to the 20th, with lines.
    """
    problems = Problems(str(path))
    with Sheet(path, problems) as sheet:
        header = _header(
            sheet, problems, ("t_s", "point", "value", "unit", "flag"), ("channel", "resolution")
        )
        table = Table()
        names = Names()
        for chunk in sheet.chunks():
            table.add(read_rows(chunk, header, names, problems))
            at(sheet.bytes_read)
    columns = table.columns()
    cut = problems.forgive(sheet.open_line) if len(columns.t_ns) else ""
    if not problems.found and not len(columns.t_ns):
        problems.add(None, "", "there is not one reading in it")
    if not problems.found:
        _check_order(columns, names, problems)
    problems.tell()
    return replace(_timeline(columns, names), cut=cut)


def read_marks(path: Path) -> tuple[Mark, ...]:
    """The marks of a file of columns `t_s,kind,note` and optionally `what`, by time.

    Raises:
        SessionError: as for `read_readings`.
    """
    problems = Problems(str(path))
    marks: list[Mark] = []
    with Sheet(path, problems, strict=False) as sheet:
        header = _header(sheet, problems, ("t_s", "kind", "note"), ("what",))
        for chunk in sheet.chunks():
            for line, row in zip(chunk.line.tolist(), zip(*chunk.columns, strict=True), strict=True):
                _mark(row, line, header, marks, problems)
    problems.tell()
    return tuple(sorted(marks, key=lambda mark: mark.t_ns))


def _mark(
    row: tuple[str, ...], line: int, header: dict[str, int], marks: list[Mark], problems: Problems
) -> None:
    field = {name: row[place].strip() for name, place in header.items()}
    t_ns = nanoseconds(field["t_s"])
    if t_ns is None:
        problems.add(
            line, "t_s", f"{plain(field['t_s'], 40)!r} is no time in seconds with at most 9 decimals"
        )
    if field["kind"] not in MARK_KINDS:
        problems.add(
            line, "kind", f"{plain(field['kind'], 40)!r} is no kind of mark: write {', '.join(MARK_KINDS)}"
        )
    elif t_ns is not None:
        marks.append(Mark(t_ns, field["kind"], plain(field["note"]), plain(field.get("what", ""))))


def _header(
    sheet: Sheet, problems: Problems, needed: tuple[str, ...], allowed: tuple[str, ...]
) -> dict[str, int]:
    first = sheet.header
    expected = ",".join(needed)
    if len(first) == 1 and first[0].count(";") >= 2:
        problems.add(1, "", "the fields are separated by `;`: save it with commas and decimal points")
    elif first and (missing := [name for name in needed if name not in first]):
        problems.add(1, "", f"no column {', '.join(missing)}: the first line must be {expected}")
    elif not first:
        problems.add(1, "", f"the first line must be {expected}")
    else:
        for name in first:
            if name not in needed + allowed:
                problems.add(1, plain(name, 40), f"unknown column: there can be {','.join(needed + allowed)}")
            elif first.count(name) > 1:
                problems.add(1, name, "the column is there twice")
    problems.tell()
    return {name: place for place, name in enumerate(first)}


def _check_order(columns: Columns, names: Names, problems: Problems) -> None:
    """Rows may be in any order of channels, but in one channel only a little out of the order of time."""
    for number, name in enumerate(names.channels):
        rows = np.flatnonzero(columns.channel == number)
        times = columns.t_ns[rows]
        back = np.maximum.accumulate(times) - times
        far = np.flatnonzero(back > MOST_BACK_NS)
        if len(far):
            seconds = int(back[far[0]]) / 1e9
            line = int(columns.line[rows[far[0]]])
            problems.add(
                line, "t_s", f"{name}: the time goes back by {seconds:.10g} s: two recordings in one file?"
            )


def _timeline(columns: Columns, names: Names) -> CsvReadings:
    order = np.lexsort((columns.channel, columns.t_ns))
    moved = int((np.maximum.accumulate(columns.t_ns) > columns.t_ns).sum())
    columns = columns.take(order)
    readings = Readings(
        columns.t_ns, columns.channel, columns.unit, columns.value, resolutions(columns), columns.flags
    )
    leads: list[Lead] = []
    for number in range(len(names.channels)):
        rows = np.flatnonzero(columns.channel == number)
        points = columns.point[rows]
        changes = np.flatnonzero(np.diff(points, prepend=-1))
        for place in changes:
            t_ns = int(columns.t_ns[rows[place]]) if place else 0
            leads.append(Lead(t_ns, number, names.points[points[place]]))
    leads.sort(key=lambda lead: lead.t_ns)
    eyes = _eyes(columns, len(names.channels))
    channels = tuple(Channel(name, name, eye=eye) for name, eye in zip(names.channels, eyes, strict=True))
    points_seen = tuple(
        (name, Unit(int(columns.unit[np.argmax(columns.point == number)])))
        for number, name in enumerate(names.points)
    )
    return CsvReadings(readings, channels, tuple(leads), points_seen, moved)


def _eyes(columns: Columns, channels: int) -> list[bool]:
    """A channel that holds nothing but states is the technician's eye."""
    measured = set(np.unique(columns.channel[columns.unit != int(Unit.STATE)]).tolist())
    return [number not in measured for number in range(channels)]
