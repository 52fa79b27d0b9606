"""What a cell is painted with: the names of two colours and bold. Which colours those are, a look says."""

from __future__ import annotations

from typing import NamedTuple


class Paint(NamedTuple):
    """Roles of ink and ground of a cell; both are names in a look's palette."""

    ink: str
    ground: str = "ground"
    bold: bool = False

    def on(self, ground: str) -> Paint:
        """The same ink on another ground."""
        return self._replace(ground=ground)

    @property
    def reversed(self) -> bool:
        """True on the ground of a bar or a block: what the looks without colour show reversed."""
        return self.ground in BARS


BARS = frozenset(("live", "fault", "ink"))
"""Grounds that are bars, or blocks made of blanks."""

INK = Paint("ink")
BOLD = Paint("ink", bold=True)
QUIET = Paint("quiet")
QUIET_BOLD = Paint("quiet", bold=True)
FAINT = Paint("faint")
PLUMB = Paint("plumb", "band")
MOVING = Paint("moving", bold=True)
TROUBLE = Paint("fault_text", bold=True)
RUN = Paint("run")
LIVE = Paint("live_ink", "live")
LIVE_BOLD = Paint("live_ink", "live", bold=True)
BLOCK = Paint("ground", "ink")
FAULT = Paint("fault_ink", "fault")
FAULT_BOLD = Paint("fault_ink", "fault", bold=True)

_BY_SIGN = {
    "#": TROUBLE,
    "!!": TROUBLE,
    "^": MOVING,
    "v": MOVING,
    "?": BOLD,
    "~": BOLD,
    "x": BOLD,
    "=": QUIET_BOLD,
}


def of_sign(sign: str) -> Paint:
    """How a sign is painted: never the only thing that tells it apart."""
    return _BY_SIGN.get(sign, QUIET)


def of_word(sign: str) -> Paint:
    """How the word beside a sign is painted: a calm word is quiet."""
    return QUIET if sign == "=" else of_sign(sign)
