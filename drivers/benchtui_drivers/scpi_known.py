"""What a SCPI meter is known to answer, so that its answers can be told from old ones."""

from __future__ import annotations

from .scpi_function import FunctionWatch
from .scpi_step import ASK_ERROR, IDENTIFY, Step

_STRIKES = 2
"""Times that its errors are asked for in vain, with readings between; then they are left alone."""
_MOST_ERRORS = 20
"""Read in one go; a queue is no longer (SCPI-99 volume 2, 21.8)."""


class Known:
    """Identity, error queue and function of one meter, as far as it has told them."""

    def __init__(self, function: FunctionWatch, *, errors: bool, errors_every_ns: int) -> None:
        """`errors`: whether they are asked for at all."""
        self.function = function
        self.name = ""
        """What it calls itself."""
        self.identity = False
        """Whether it has answered who it is."""
        self.identity_owed = False
        """Whether that answer may still come."""
        self.identity_again = False
        """Whether it was asked once more since it fell asleep."""
        self.errors = False
        """Whether it has answered what errors there are."""
        self.asks_errors = errors
        self.probed = False
        """Whether its queue may hold that it does not know a question of ours."""
        self._errors_given = errors
        self._errors_every_ns = errors_every_ns
        self._errors_ns = 0
        self._errors_read = 0
        self._strikes = 0
        self._valued = False

    def restart(self) -> None:
        """It may be another meter now."""
        self.asks_errors = self._errors_given
        self.errors = self.identity = False
        self._strikes = 0
        self.function.restart()

    def begin(self) -> None:
        """It is about to be set up."""
        self.probed = False
        self._errors_read = 0

    @property
    def marker(self) -> Step | None:
        """What it is known to answer so that the answer cannot be taken for a reading."""
        if self.errors:
            return ASK_ERROR
        if self.identity:
            return IDENTIFY
        return self.ask_function if self.function.known else None

    @property
    def ask_function(self) -> Step:
        """The question for its function."""
        return Step(self.function.question, "function")

    def answers(self, expects: str) -> bool:
        """Whether it has answered such a question before."""
        return {
            "values": True, "identity": self.identity, "error": self.errors, "function": self.function.known,
        }[expects]  # fmt: skip

    def errors_are_due(self, at_ns: int) -> bool:
        """Whether it is time to ask for its errors."""
        return self.asks_errors and at_ns - self._errors_ns >= self._errors_every_ns

    def begin_errors(self) -> None:
        """They are asked for, from the first on."""
        self._errors_read = 0

    def told_errors(self, at_ns: int, *, none: bool) -> bool:
        """It has answered; `none`: there is none. Gives whether to ask for the next."""
        self.errors = True
        self._errors_ns = at_ns
        self._errors_read += 1
        if none:
            self.probed = False
        return not none and self._errors_read < _MOST_ERRORS

    def missed_errors(self, at_ns: int) -> None:
        """No answer to the question for errors: it may not know it."""
        if self._valued:
            self._strikes += 1
            self._valued = False
        self.asks_errors = self._strikes < _STRIKES
        self._errors_ns = at_ns

    def valued(self) -> None:
        """It has given a reading."""
        self._valued = True

    def told_name(self, name: str) -> None:
        """It has said who it is."""
        self.name = name
        self.identity, self.identity_owed = True, False
