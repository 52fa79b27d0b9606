"""The dashboard's application: it steps the session, shows its board, rings the bell, and ends."""

from __future__ import annotations

import os
import sys
from typing import ClassVar

from rich.console import Console
from textual.app import App
from textual.binding import Binding, BindingType

from benchtui.model.errors import BenchError
from benchtui.model.notes import plain

from .draw.looks import DARK, EIGHTHS, Look, choose
from .screens.caution import Caution
from .screens.dashboard import Dashboard
from .screens.quit import QuitSheet
from .session import Session
from .sounds import strokes
from .theme import theme

STEPS_PER_S = 12
"""How often the session is stepped and, if anything changed, drawn."""
STROKE_S = 0.2
"""Seconds between two strokes of the bell."""


class BenchApp(App[None]):
    """One screen, one timer; everything else is the session's."""

    CSS_PATH = "bench.tcss"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("q", "ask_quit", show=False),
        Binding("ctrl+q,ctrl+c", "ask_quit", show=False, priority=True),
    ]

    def __init__(self, session: Session, look: Look = DARK, *, cautions: bool = True) -> None:
        super().__init__(ansi_color=None if look.glyphs == EIGHTHS else True)
        self.session = session
        self.look = look
        self.dashboard = Dashboard(session, look)
        self._cautions = cautions
        self._caution: Caution | None = None
        self._ringing = 0

    def on_mount(self) -> None:
        self.register_theme(theme(self.look))
        self.theme = f"bench-{self.look.name}"
        self.push_screen(self.dashboard)
        if self._cautions:
            chart, settings = self.session.chart, self.session.settings
            self._caution = Caution(self.look, chart.chassis, settings.warn_above)
            self.push_screen(self._caution)
        self.set_interval(1 / STEPS_PER_S, self.step)

    def step(self) -> None:
        """Takes what has come, and shows it."""
        try:
            board = self.session.step()
        except BenchError as error:
            self.exit(return_code=2, message=plain(str(error)))
            return
        count = strokes(self.session.new_events)
        self.dashboard.show(board, announced=count > 1)
        if self._caution is not None and self._caution.is_current and self.dashboard.is_live:
            self._caution.show_live(self.dashboard.reads)
        if count and self.session.settings.sound:
            self.ring(count)
        if self.session.done and not board.replaying:
            self.exit()

    def ring(self, count: int) -> None:
        """So many strokes, unless as many are being rung already."""
        if count <= self._ringing:
            return
        begun = self._ringing > 0
        self._ringing = count
        if not begun:
            self._stroke()

    def _stroke(self) -> None:
        self.bell()
        self._ringing -= 1
        if self._ringing > 0:
            self.set_timer(STROKE_S, self._stroke)

    def action_ask_quit(self) -> None:
        """Asks once; asked again while it is asking, it quits."""
        if isinstance(self.screen, QuitSheet):
            self.exit()
            return
        board = self.dashboard.board
        self.push_screen(QuitSheet(self.look, self.dashboard.is_live, board.recording, self._quit))

    def _quit(self, sure: bool) -> None:
        if sure:
            self.exit()


def run_dashboard(session: Session) -> None:
    """Shows a session until the person quits or it is done. The caller closes it.

    The look is the person's own, as far as the terminal can show it; what draws on it is standard error.
    """
    console = Console(file=sys.__stderr__)
    encoding = getattr(sys.__stderr__, "encoding", None)
    look = choose(session.settings.look, "NO_COLOR" in os.environ, encoding, console.color_system)
    board = session.step()
    app = BenchApp(session, look, cautions=not board.replaying)
    app.run(mouse=False)
