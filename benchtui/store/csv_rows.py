"""Rows of a CSV of readings as columns of numbers: vectorised, with a slow way for what is written oddly."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import Bools, Flag, Floats, Ints
from benchtui.model.units import Unit

from .csv_problems import Problems
from .csv_sheet import Texts
from .csv_words import Codes, Names, bad_flag, bad_name, bad_number, bad_unit, shown
from .decimal_columns import NUMBER, POWERS, Decimals, nanoseconds, read_plain, scaled

WINDOW = 20
"""Readings of a channel among which the finest written digit counts, while zeros may have been dropped."""


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Rows of the file in columns, in SI units."""

    line: Ints
    t_ns: Ints
    point: NDArray[np.int32]
    channel: NDArray[np.int16]
    unit: NDArray[np.uint8]
    value: Floats
    written: Floats
    """One count of the last digit that this value was written with; 0 where there is none."""
    given: Floats
    """The file's own resolution; NaN where it gives none."""
    zeros_kept: Bools
    """The value ends in a zero that a program that drops such zeros would have dropped."""
    flags: NDArray[np.uint8]

    def take(self, rows: NDArray[Any]) -> Columns:
        """The rows that a mask or an index array names."""
        return Columns(*(getattr(self, f.name)[rows] for f in fields(self)))


class Table:
    """Columns that grow chunk by chunk."""

    def __init__(self) -> None:
        self._parts: list[Columns] = []

    def add(self, part: Columns) -> None:
        self._parts.append(part)

    def columns(self) -> Columns:
        if not self._parts:
            empty: list[Any] = [np.zeros(0, dtype=kind) for kind in KINDS]
            return Columns(*empty)
        names = [f.name for f in fields(Columns)]
        return Columns(*(np.concatenate([getattr(p, name) for p in self._parts]) for name in names))


KINDS = (
    np.int64, np.int64, np.int32, np.int16, np.uint8, np.float64, np.float64, np.float64, np.bool_, np.uint8,
)  # fmt: skip
"""Types of the fields of `Columns`, in their order."""


def read_rows(chunk: Texts, header: dict[str, int], names: Names, problems: Problems) -> Columns:
    """Columns of these rows; rows with a mistake are left out and added to the problems."""
    line = chunk.line
    column = {name: chunk.columns[place] for name, place in header.items()}
    reader = _Reader(line, problems)
    t_ns = reader.times(column["t_s"])
    point = reader.codes("point", column["point"], names.point, bad_name)
    by = "channel" if "channel" in header else "point"
    channel = reader.codes(by, column[by], names.channel, bad_name if by == "channel" else None)
    unit = reader.codes("unit", column["unit"], names.unit, bad_unit)
    flags = reader.codes("flag", column["flag"], names.flag, bad_flag)
    units = np.array([int(u) for u, _ in names.units] or [0], dtype=np.uint8)
    shifts = np.array([shift for _, shift in names.units] or [0], dtype=np.int64)
    unit = np.maximum(unit, 0)
    state = units[unit] == int(Unit.STATE)
    empty = (flags >= 0) & (flags & int(Flag.OVERLOAD) > 0)
    value, places, numbers = reader.numbers("value", column["value"], shifts[unit], empty)
    reader.check(state & ~empty & (value != 0) & (value != 1), "value", "a state is 1 or 0")
    written = np.where(empty | state, 0.0, _one_count(places))
    given = np.full(len(line), np.nan)
    if "resolution" in column:
        blank = np.array([not text.strip() for text in column["resolution"]], dtype=np.bool_)
        given = reader.numbers("resolution", column["resolution"], shifts[unit], blank)[0]
        reader.check(given < 0, "resolution", "it is below 0")
    kept = numbers.plain & (numbers.places >= 2) & (numbers.digits % 10 == 0) & ~empty
    whole = Columns(
        line, t_ns, point.astype(np.int32), channel.astype(np.int16), units[unit], value, written, given,
        kept, np.maximum(flags, 0).astype(np.uint8),
    )  # fmt: skip
    return whole if reader.good.all() else whole.take(reader.good)


class _Reader:
    """Turns columns of text into columns of numbers, and remembers which rows are without a mistake."""

    def __init__(self, line: Ints, problems: Problems) -> None:
        self._line = line
        self._problems = problems
        self.good = np.ones(len(line), dtype=np.bool_)

    def check(self, bad: Bools, column: str, what: str | Callable[[int], str]) -> None:
        """Says what is wrong with each row where `bad` is true."""
        for row in np.flatnonzero(bad & self.good):
            if self._problems.full:
                break
            self._problems.add(
                int(self._line[row]), column, what if isinstance(what, str) else what(int(row))
            )
        self.good &= ~bad

    def codes(
        self, name: str, texts: Sequence[str], codes: Codes, what: Callable[[str], str] | None
    ) -> NDArray[np.int64]:
        numbers = np.array([codes[text] for text in texts], dtype=np.int64)
        if what is not None:
            self.check(numbers < 0, name, lambda row: what(texts[row]))
        return numbers

    def times(self, texts: Sequence[str]) -> Ints:
        read = read_plain(texts)
        places = np.clip(read.places, 0, 9)
        power = 10 ** (9 - places)
        easy = read.plain & (read.places <= 9) & (read.digits >= 0) & (read.digits < 9 * 10**18 // power)
        t_ns = np.where(easy, read.digits, 0) * power
        bad = np.zeros(len(texts), dtype=np.bool_)
        for row in np.flatnonzero(~easy).tolist():
            nanos = nanoseconds(texts[row].strip())
            bad[row] = nanos is None
            t_ns[row] = nanos or 0
        self.check(
            bad, "t_s", lambda row: f"{shown(texts[row])} is no time in seconds with at most 9 decimals"
        )
        return t_ns

    def numbers(
        self, name: str, texts: Sequence[str], shift: Ints, empty: Bools
    ) -> tuple[Floats, Ints, Decimals]:
        """Values in SI units (NaN where `empty`), and the decimal places of their last digit, in SI units."""
        read = read_plain(texts)
        places = read.places - shift
        value, exact = scaled(read, places)
        bad = np.zeros(len(texts), dtype=np.bool_)
        for row in np.flatnonzero(~exact | empty).tolist():
            text = texts[row].strip()
            if empty[row]:
                value[row], bad[row] = np.nan, bool(text)
                continue
            value[row], places[row] = _one_number(text, int(shift[row]))
            bad[row] = not np.isfinite(value[row])
        self.check(bad, name, lambda row: bad_number(texts[row], bool(empty[row])))
        return value, places, read


def _one_number(text: str, shift: int) -> tuple[float, int]:
    """The nearest float, and the places of its last digit; NaN if it is no number."""
    if not NUMBER.fullmatch(text):
        return float("nan"), 0
    digits, _, exponent = text.lower().partition("e")
    power = int(exponent or 0) + shift
    places = len(digits.partition(".")[2]) - power
    return float(f"{digits}e{power}"), places


def _one_count(places: Ints) -> Floats:
    """10**-places as the nearest float."""
    small = np.clip(np.abs(places), 0, 22)
    counts: Floats = np.where(places >= 0, 1.0 / POWERS[small], POWERS[small])
    return counts


def resolutions(columns: Columns) -> Floats:
    """The resolution of each reading, known from nothing later than the reading itself.

    What the file gives counts. Else a reading's own last written digit says it, with one precaution:
    programs that handle tables drop zeros at the end (`285.0` becomes `285`). Until a channel has shown
    that its zeros are kept (a value like `5.10`), the finest digit among its last 20 readings counts. Rows
    are in the order of time. A state and an overload have none (0).
    """
    result = np.where(np.isnan(columns.given), columns.written, columns.given)
    for number in np.unique(columns.channel):
        rows = np.flatnonzero((columns.channel == number) & (columns.written > 0))
        kept = columns.zeros_kept[rows]
        before = rows[: int(np.argmax(kept))] if kept.any() else rows
        if len(before):
            padded = np.concatenate([np.full(WINDOW - 1, np.inf), columns.written[before]])
            finest = np.lib.stride_tricks.sliding_window_view(padded, WINDOW).min(axis=1)
            result[before] = np.where(np.isnan(columns.given[before]), finest, columns.given[before])
    return result
