"""Asked once before the screen goes."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from textual.events import Key

from ..draw.looks import Look
from ..draw.paint import BOLD, INK, LIVE_BOLD, QUIET
from ..widgets.sheet import Line
from .asking import Asking


class QuitSheet(Asking[bool]):
    """True for yes."""

    def __init__(
        self, look: Look, live: bool, recording: bool, then: Callable[[bool], object] | None = None
    ) -> None:
        super().__init__(look, then)
        self._live = live
        self._recording = recording

    def lines(self) -> Sequence[Line]:
        end = "Quit, and end the recording?" if self._recording else "Quit?"
        warning: list[Line] = []
        if self._live:
            warning = [[(" LIVE ", LIVE_BOLD), ("  the screen goes, the voltage stays", INK)], []]
        return [
            [(end, BOLD)],
            [],
            *warning,
            [("q", BOLD), ("  quits    ", INK), ("any other key", BOLD), ("  goes back", QUIET)],
        ]

    def take(self, event: Key) -> None:
        self.finish(event.character in ("q", "Q", "y", "Y"))
