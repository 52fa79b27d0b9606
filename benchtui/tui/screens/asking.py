"""What all sheets in front of the board have in common: the board stays in view, and goes on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from textual.app import ComposeResult
from textual.screen import ModalScreen

from ..draw.looks import Look
from ..widgets.sheet import Line, Sheet

Result = TypeVar("Result")


class Asking(ModalScreen[Result]):
    """A sheet with lines; what its keys do, the subclass says."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.look = look

    def lines(self) -> Sequence[Line]:
        """What stands on the sheet."""
        raise NotImplementedError

    def compose(self) -> ComposeResult:
        yield Sheet(self.look, self.lines())
