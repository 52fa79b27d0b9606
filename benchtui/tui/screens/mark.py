"""What did you just do? One key says it; the same key twice, or the foot switch twice, says it again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from textual.events import Key

from ..draw.looks import Look
from ..draw.paint import BOLD, INK, QUIET
from ..widgets.sheet import Line
from .asking import Asking

KINDS = {
    "t": "tap",
    "a": "adjust",
    "h": "heat",
    "c": "cool",
    "s": "swap",
    "r": "reseat",
    "o": "on",
    "f": "off",
    "d": "condition",
    "n": "note",
}
"""Key -> kind of mark."""
FIRST = "tap"
"""What a second press of the foot switch means before any mark was made."""


@dataclass(frozen=True, slots=True)
class Wish:
    """A mark to be made."""

    kind: str
    asks: bool
    """Words are wanted with it: what it was done to, or the note."""


class MarkSheet(Asking[Wish | None]):
    """Waits for one key."""

    def __init__(
        self, look: Look, last: str | None, then: Callable[[Wish | None], object] | None = None
    ) -> None:
        super().__init__(look, then)
        self._last = last or FIRST

    def lines(self) -> Sequence[Line]:
        named = list(KINDS.items())
        rows: list[Line] = [[("mark  ", BOLD), ("what did you just do?", INK)], []]
        for i in range(0, len(named), 5):
            line: list[tuple[str, object]] = []
            for key, kind in named[i : i + 5]:
                line += [(key, BOLD), (f" {kind:<10}", INK)]
            rows.append(line)  # type: ignore[arg-type]
        return [
            *rows,
            [],
            [("space", BOLD), (f"  {self._last}, as before", INK)],
            [("T A H C S R ...", BOLD), ("  the same, and say what it was done to", QUIET)],
            [("esc", BOLD), ("  no mark", QUIET)],
        ]

    def take(self, event: Key) -> None:
        key = event.character or ""
        if event.key == "escape":
            self.finish(None)
        elif event.key == "space":
            self.finish(Wish(self._last, asks=self._last == "note"))
        elif key in KINDS:
            self.finish(Wish(KINDS[key], asks=KINDS[key] in ("note", "condition")))
        elif key.lower() in KINDS:
            self.finish(Wish(KINDS[key.lower()], asks=True))
