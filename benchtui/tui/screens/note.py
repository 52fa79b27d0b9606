"""Words for a mark, typed."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input

from ..draw.looks import Look
from ..draw.paint import BOLD, QUIET
from ..widgets.sheet import Sheet

MOST = 200
"""Characters of a note."""


class NoteSheet(ModalScreen[str | None]):
    """One line of text; None if it was given up."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "give_up", "give up", show=False)]

    def __init__(self, look: Look, asked: str) -> None:
        super().__init__()
        self.look = look
        self._asked = asked

    def compose(self) -> ComposeResult:
        with Vertical(id="note"):
            yield Sheet(self.look, [[(self._asked, BOLD), ("  enter keeps it, esc does not", QUIET)]])
            yield Input(max_length=MOST)

    def on_mount(self) -> None:
        self.query_one(Input).focus()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        self.dismiss(event.value.strip())

    def action_give_up(self) -> None:
        self.dismiss(None)
