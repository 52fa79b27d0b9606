"""What did you just do? One key says it; the same key twice, or the foot switch twice, says it again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from textual.events import Key

from ..draw.looks import Look
from ..draw.paint import BOLD, INK, QUIET
from ..draw.text import clip
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
WORDED = ("note", "condition")
"""Kinds that are nothing without words of their own."""
FIRST = "tap"
"""What a second press of the foot switch means before any mark was made."""


@dataclass(frozen=True, slots=True)
class Wish:
    """A mark to be made."""

    kind: str
    asks: bool
    """Words are wanted with it: what it was done to, or the note."""
    what: str = ""
    """What it was done to, where that is known already."""


class MarkSheet(Asking[Wish | None]):
    """Waits for one key."""

    def __init__(
        self, look: Look, last: Wish | None, then: Callable[[Wish | None], object] | None = None
    ) -> None:
        super().__init__(look, then)
        self._last = last or Wish(FIRST, asks=False)

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
            [("space", BOLD), (f"  {self._again()}", INK)],
            [("T A H C S R ...", BOLD), ("  the same, and say what it was done to", QUIET)],
            [("esc", BOLD), ("  no mark", QUIET)],
        ]

    def _again(self) -> str:
        done = f"{self._last.kind} {clip(self._last.what, 40)}".rstrip()
        return f"{done}, with new words" if self._last.asks else f"{done}, as before"

    def take(self, event: Key) -> None:
        key = event.character or ""
        if event.key == "escape":
            self.finish(None)
        elif event.key == "space":
            self.finish(self._last)
        elif key in KINDS:
            self.finish(Wish(KINDS[key], asks=KINDS[key] in WORDED))
        elif key.lower() in KINDS:
            self.finish(Wish(KINDS[key.lower()], asks=True))
