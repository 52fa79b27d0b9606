"""What all sheets in front of the board have in common: the board stays in view, and no key is lost.

Keys can come faster than screens change: one that reaches a screen which is not in front is sent on to the
one that is.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Generic, TypeVar

from textual.app import ComposeResult
from textual.events import Key
from textual.screen import ModalScreen, Screen

from ..draw.looks import Look
from ..widgets.sheet import Line, Sheet

Result = TypeVar("Result")


def sent_on(screen: Screen[Any], event: Key) -> bool:
    """True if the key was meant for another screen than this one; it is sent there."""
    if screen.app.screen is screen:
        return False
    event.stop()
    event.prevent_default()
    screen.app.post_message(Key(event.key, event.character))
    return True


class Asking(ModalScreen[None], Generic[Result]):
    """A sheet with lines; what its keys do, the subclass says in `take`."""

    def __init__(self, look: Look, then: Callable[[Result], object] | None = None) -> None:
        super().__init__()
        self.look = look
        self._then = then

    def lines(self) -> Sequence[Line]:
        """What stands on the sheet."""
        raise NotImplementedError

    def take(self, event: Key) -> None:
        """What a key does."""
        raise NotImplementedError

    def compose(self) -> ComposeResult:
        yield Sheet(self.look, self.lines())

    def on_resize(self) -> None:
        for sheet in self.query(Sheet):
            sheet.fit()

    def on_key(self, event: Key) -> None:
        if sent_on(self, event):
            return
        event.stop()
        event.prevent_default()
        self.take(event)

    def finish(self, result: Result) -> None:
        """Takes the sheet away and hands on the answer, at once: the next key finds what comes then."""
        if self.app.screen is self:
            self.app.pop_screen()
            if self._then is not None:
                self._then(result)
