"""Words for a mark, typed."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import Input

from ..draw.looks import Look
from ..draw.paint import BOLD, QUIET
from ..widgets.sheet import Sheet
from .asking import sent_on

MOST = 200
"""Characters of a note."""


class NoteSheet(ModalScreen[None]):
    """One line of text, handed on when it is entered; given up, nothing is."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "give_up", show=False)]

    def __init__(self, look: Look, asked: str, then: Callable[[str], object]) -> None:
        super().__init__()
        self.look = look
        self._asked = asked
        self._then = then
        self._input = Input(max_length=MOST)

    def compose(self) -> ComposeResult:
        with Vertical(id="note"):
            yield Sheet(self.look, [[(self._asked, BOLD), ("  enter keeps it, esc does not", QUIET)]], most=3)
            yield self._input

    def on_mount(self) -> None:
        self._input.focus()

    def on_key(self, event: Key) -> None:
        """A key that came before the field could take it is typed all the same."""
        if not sent_on(self, event) and not self._input.has_focus and event.is_printable:
            event.stop()
            self._input.value += event.character or ""

    def on_input_submitted(self, event: Input.Submitted) -> None:
        if self.app.screen is self:
            self.app.pop_screen()
            self._then(event.value.strip())

    def action_give_up(self) -> None:
        if self.app.screen is self:
            self.app.pop_screen()
