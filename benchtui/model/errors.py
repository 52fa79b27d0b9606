"""Errors for a person with a probe in one hand: what happened, where, what to do."""

from __future__ import annotations

from dataclasses import dataclass


class BenchError(Exception):
    """The root of every error the program raises on purpose; its text is ready for a person."""


class ChartError(BenchError):
    """A chart, bench or settings file does not say what it must; holds every problem found."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = problems
        super().__init__("\n".join(str(p) for p in problems))


class PortError(BenchError):
    """A port could not be opened or went away."""


class DriverError(BenchError):
    """A driver is unknown, was described wrongly, or failed."""


class SessionError(BenchError):
    """A session file, wire log or CSV file could not be read or written."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One mistake in a file that people write."""

    file: str
    line: int | None
    """1-based; null where the file as a whole is meant."""
    key: str
    """Like `point[2].tolerance`, or the empty string."""
    what: str
    """What is wrong and what to write instead, in words a non-programmer can act on."""

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        return f"{place}: {self.key}: {self.what}" if self.key else f"{place}: {self.what}"
