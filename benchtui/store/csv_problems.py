"""The mistakes of a CSV file, gathered until there are too many to read."""

from __future__ import annotations

from benchtui.model.errors import Problem, SessionError

MOST = 20


class Problems:
    """Every mistake up to the 20th, in the order of the file."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._ended = False
        self.found: list[Problem] = []

    @property
    def full(self) -> bool:
        """True when it is no use to read further."""
        return self._ended or len(self.found) > MOST

    def add(self, line: int | None, column: str, what: str, last: bool = False) -> None:
        """One more; `last` where nothing after it can be read."""
        self.found.append(Problem(self._file, line, column, what))
        self._ended |= last

    def forgive(self, line: int | None) -> str:
        """Takes back the problems of this line, if there are no others; what they were, in one line.

        A file whose writer was stopped ends in the middle of a line: the lines before it are whole.
        """
        if not self.found or any(problem.line != line for problem in self.found):
            return ""
        first = str(self.found[0])
        self.found.clear()
        return first

    def tell(self) -> None:
        """Raises:
        SessionError: there are any; its text is one line a problem.
        """
        if not self.found:
            return
        ordered = sorted(self.found, key=lambda problem: problem.line or 0)
        lines = [str(problem) for problem in ordered[:MOST]]
        if len(ordered) > MOST or (self.full and not self._ended):
            lines.append(f"{self._file}: and more like these")
        raise SessionError("\n".join(lines))
