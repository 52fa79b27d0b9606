"""A CSV file as columns of text, some megabytes at a time: split at once where no field is quoted."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchtui.model.errors import SessionError
from benchtui.model.notes import plain
from benchtui.model.readings import Ints

from .csv_problems import Problems

CHUNK = 2_000_000
"""Characters that are read at once."""
LONGEST_LINE = 100_000
COMMA, NEWLINE = 44, 10
NUMBERS = ("t_s", "value", "resolution")
"""Columns of decimal numbers."""
_QUOTED = re.compile(r'(?:"(?:[^"]|"")*"|[^",]*)(?:,(?:"(?:[^"]|"")*"|[^",]*))*')
"""A line whose quotes stand round whole fields, doubled inside them."""
_PLAINER = {
    "unexpected end of data": "a quote is opened here that nothing closes",
    "',' expected after '\"'": "something follows a closing quote",
}
"""What the standard library's reader says, and what that means."""


@dataclass(frozen=True, slots=True, eq=False)
class Texts:
    """Some rows of the file: a column of text for each name of the header."""

    columns: list[Sequence[str]]
    line: Ints
    """Where in the file each row stands, 1-based."""


class Sheet:
    """An open CSV file in UTF-8, with or without a byte order mark, with any line ends.

    A byte that is no UTF-8 comes as a character that is no part of any name or number.
    """

    def __init__(self, path: Path, problems: Problems, strict: bool = True) -> None:
        """Opens the file and reads its first line.

        Where it is not `strict`, a quote in the middle of a field is a character like any other (in a note).

        Raises:
            SessionError: it cannot be read.
        """
        self._problems = problems
        self._strict = strict
        try:
            self._bytes = path.open("rb")
            self._file = io.TextIOWrapper(
                self._bytes, encoding="utf-8-sig", errors="surrogateescape", newline=""
            )
            first = self._file.readline(LONGEST_LINE)
        except OSError as error:
            raise SessionError(f"{path} cannot be read: {error.strerror}") from error
        self.open_line: int | None = None
        """The last line of the file, where no line end stands behind it; known once all is read."""
        self.header = [name.strip() for name in next(self._slow_rows(first, 1), (1, []))[1]]

    def __enter__(self) -> Sheet:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()

    @property
    def bytes_read(self) -> int:
        """About so much of the file has been read."""
        return self._bytes.tell()

    def chunks(self) -> Iterator[Texts]:
        """The rows after the header; ends early at something after which nothing can be read."""
        line = 2
        while not self._problems.full and (text := self._read(line)):
            count = text.count("\n")
            yield self._quick(text, line, count) or self._slow(text, line)
            line += count

    def _read(self, line: int) -> str:
        """The next whole lines, each ended by one newline."""
        try:
            text = self._file.read(CHUNK)
            if text and text[-1] != "\n":
                text += self._file.readline(LONGEST_LINE)
        except OSError as error:
            self._problems.add(line, "", f"it cannot be read further: {error.strerror}", last=True)
            return ""
        if "\r" in text:
            text = text.replace("\r\n", "\n").replace("\r", "\n")
        if text and text[-1] != "\n":
            if len(text) > LONGEST_LINE and "\n" not in text[-LONGEST_LINE:]:
                at = line + text.count("\n")
                self._problems.add(at, "", "the line is longer than any reading", last=True)
                return text[: text.rfind("\n") + 1]
            self.open_line = line + text.count("\n")
            text += "\n"
        return text

    def _quick(self, text: str, line: int, count: int) -> Texts | None:
        """All fields at once; None where a field is quoted or a row has another number of fields."""
        width = len(self.header)
        if '"' in text:
            return None
        chars = np.frombuffer(text.encode("utf-8", "surrogateescape"), dtype=np.uint8)
        breaks = chars[(chars == COMMA) | (chars == NEWLINE)]
        if len(breaks) != count * width or not (breaks[width - 1 :: width] == NEWLINE).all():
            return None
        fields = text.replace("\n", ",").split(",")
        fields.pop()
        columns: list[Sequence[str]] = [fields[place::width] for place in range(width)]
        return Texts(columns, np.arange(line, line + count, dtype=np.int64))

    def _slow(self, text: str, line: int) -> Texts:
        width = len(self.header)
        rows: list[list[str]] = []
        lines: list[int] = []
        for number, row in self._slow_rows(text, line):
            if len(row) == width:
                rows.append(row)
                lines.append(number)
            elif row and not self._problems.full:
                fields = "1 field" if len(row) == 1 else f"{len(row)} fields"
                what = f"{fields} where the first line names {width}{self._comma(row)}"
                self._problems.add(number, "", what)
        columns: list[Sequence[str]] = list(zip(*rows, strict=True)) or [()] * width
        return Texts(columns, np.array(lines, dtype=np.int64))

    def _comma(self, row: list[str]) -> str:
        """Asks about a number that a decimal comma has made into two fields."""
        for i, name in enumerate(self.header[: len(row) - 1] if len(row) > len(self.header) else ()):
            whole, part = row[i].strip(), row[i + 1].strip()
            if name in NUMBERS and re.fullmatch(r"[-+]?\d+", whole) and re.fullmatch(r"\d+", part):
                return f": is `{whole},{part}` a decimal comma? Write {whole}.{part}"
        return ""

    def _slow_rows(self, text: str, line: int) -> Iterator[tuple[int, list[str]]]:
        """Rows with quotes, blank lines and all; each with its line."""
        raw = [""]

        def lines() -> Iterator[str]:
            for raw[0] in text.splitlines(keepends=True) if "\n" in text else [text]:
                yield raw[0]

        reader = csv.reader(lines(), strict=True)
        try:
            for row in reader:
                if any("\n" in field for field in row):
                    self._problems.add(line, "", "a line ends inside quotes", last=True)
                    return
                if self._strict and any('"' in field for field in row) and not _QUOTED.fullmatch(raw[0]):
                    what = "a stray quote: quotes stand round a whole field, or not at all"
                    self._problems.add(line, "", what)
                yield line, row
                line += 1
        except csv.Error as error:
            said = _PLAINER.get(str(error), plain(str(error), 80))
            self._problems.add(line, "", f"this is no CSV: {said}", last=True)
