"""Which meter's lead moves?"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from textual.events import Key

from ..draw.looks import Look
from ..draw.paint import BOLD, INK, QUIET
from ..draw.text import clip
from ..widgets.sheet import Line
from .asking import Asking

KEYS = "123456789bcdefg"


class MeterSheet(Asking[int | None]):
    """The channel chosen; None if none was."""

    def __init__(
        self,
        look: Look,
        meters: Sequence[tuple[int, str, str]],
        then: Callable[[int | None], object] | None = None,
    ) -> None:
        """
        Args:
            look: the colours.
            meters: (channel, its name, the point that its lead is on or an empty string).
            then: gets the channel chosen.
        """
        super().__init__(look, then)
        self._meters = list(meters)[: len(KEYS)]

    def lines(self) -> Sequence[Line]:
        rows: list[Line] = []
        for key, (_, name, point) in zip(KEYS, self._meters, strict=False):
            on = f"on {clip(point, 20)}" if point else "on nothing"
            rows.append([(key, BOLD), (f"  {clip(name, 20):<20}  ", INK), (on, QUIET)])
        head: list[Line] = [[("whose lead moves?", BOLD), ("  with the power off", INK)], []]
        return [*head, *rows, [], [("esc", BOLD), ("  none", QUIET)]]

    def take(self, event: Key) -> None:
        key = event.character or ""
        if event.key == "escape":
            self.finish(None)
        elif key and key in KEYS[: len(self._meters)]:
            self.finish(self._meters[KEYS.index(key)][0])
