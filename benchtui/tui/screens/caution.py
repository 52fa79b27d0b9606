"""The cautions that stand before a session: the usual ones for work on a set with the power on."""

from __future__ import annotations

from collections.abc import Sequence

from textual.events import Key

from ..draw.looks import Look
from ..draw.paint import BOLD, INK, LIVE_BOLD, QUIET, TROUBLE
from ..widgets.sheet import Line, Sheet
from .asking import Asking


class Caution(Asking[None]):
    """Stays until a key is pressed; the session runs behind it."""

    def __init__(self, look: Look, chassis: str, warn_above: float) -> None:
        super().__init__(look)
        self._chassis = chassis
        self._warn_above = warn_above
        self._reads = ""

    def lines(self) -> Sequence[Line]:
        return cautions(self._chassis, self._warn_above, self._reads)

    def show_live(self, reads: str) -> None:
        """Something is above the level while the cautions stand: what reads most, in the bar's words."""
        if reads != self._reads:
            self._reads = reads
            for sheet in self.query(Sheet):
                sheet.change(self.lines())

    def take(self, event: Key) -> None:
        self.finish(None)


def cautions(chassis: str, warn_above: float, reads: str = "") -> list[Line]:
    """The cautions, the gravest first; what the chart says of the chassis among them.

    `reads` is what already reads above the level; the power is on then, and the sheet says that first.
    """
    title = " POWER IS ON " if reads else " BEFORE THE POWER COMES ON "
    first: list[Line] = [[(title, LIVE_BOLD), (f"  {reads}" if reads else "", BOLD)], []]
    if chassis == "live":
        first += [
            [("LIVE CHASSIS: by its chart the chassis of this set may carry mains.", TROUBLE)],
            [("An isolating transformer, or no work under power.", TROUBLE)],
        ]
    elif chassis != "isolated":
        first += [[("The chart does not say whether the chassis may carry mains: treat it as live.", BOLD)]]
    return [
        *first,
        [("Isolating transformer. ", BOLD), ("A variable transformer does not isolate.", INK)],
        [("Is the meter that is linked to this computer isolated ", INK), ("from it?", BOLD)],
        [("Common lead clipped on ", BOLD), ("with the power off. ", INK), ("One hand.", BOLD)],
        [("Someone within call ", BOLD), ("who knows where the switch is.", INK)],
        [("Prove the meter ", BOLD), ("on a known voltage, before and after.", INK)],
        [],
        [(f"LIVE stands for more than {warn_above:g} V, DC or AC (30 V: common practice;", QUIET)],
        [("50 V: 29 CFR 1910.303(g)(2)(i)). What no meter is on is not known here.", QUIET)],
        [("Local codes and licensed practice come first.", QUIET)],
        [],
        [("any key", BOLD), ("  goes on", QUIET)],
    ]
