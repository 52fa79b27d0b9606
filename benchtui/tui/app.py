"""The dashboard's application: it steps the session, shows its board, rings the bell, and ends."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from typing import ClassVar

from rich.console import Console
from textual.app import App
from textual.binding import Binding, BindingType
from textual.driver import Driver

from benchtui.model.errors import BenchError

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


class DashboardError(BenchError):
    """The dashboard itself failed; the session it showed is none the worse."""


class BenchApp(App[None]):
    """One screen, one timer; everything else is the session's."""

    CSS_PATH = "bench.tcss"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+q,ctrl+c", "ask_quit", show=False, priority=True),
    ]

    def __init__(
        self,
        session: Session,
        look: Look = DARK,
        *,
        cautions: bool = True,
        is_asked_to_stop: Callable[[], bool] = lambda: False,
        driver: type[Driver] | None = None,
    ) -> None:
        """
        Args:
            session: what is shown, and stepped.
            look: colours and glyphs.
            cautions: whether they stand before it.
            is_asked_to_stop: asked at each step; the app ends once it is true.
            driver: how it meets the terminal; None: Textual's own way.
        """
        super().__init__(driver_class=driver, ansi_color=None if look.glyphs == EIGHTHS else True)
        self.session = session
        self.look = look
        self.dashboard = Dashboard(session, look, self.action_ask_quit)
        self.is_asked_to_stop = is_asked_to_stop
        self.failure: BenchError | None = None
        """Why the session could not go on."""
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
        if self.is_asked_to_stop():
            self.exit()
            return
        try:
            board = self.session.step()
        except BenchError as error:
            self.failure = error
            self.exit()
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


def run_dashboard(session: Session, stop: Callable[[], bool] = lambda: False) -> None:
    """Shows a session until the person quits, it is done, `stop` is true, or the terminal is gone.

    The caller closes it. The look is the person's own, as far as the terminal can show it; what draws on it
    is standard error.

    Raises:
        BenchError: the session could not go on.
        DashboardError: the dashboard itself failed.
    """
    console = Console(file=sys.__stderr__)
    encoding = getattr(sys.__stderr__, "encoding", None)
    look = choose(session.settings.look, "NO_COLOR" in os.environ, encoding, console.color_system)
    board = session.step()
    driver, stopped = _driver(stop)
    app = BenchApp(session, look, cautions=not board.replaying, is_asked_to_stop=stopped, driver=driver)
    app.run(mouse=False)
    if app.failure is not None:
        raise app.failure
    if app.return_code:
        raise DashboardError("the dashboard itself failed; please report what stands above")


def _driver(stop: Callable[[], bool]) -> tuple[type[Driver] | None, Callable[[], bool]]:
    """The terminal's driver, and what says that the app is to end."""
    if sys.platform == "win32":
        return None, stop
    from .terminal import Terminal, is_gone

    return Terminal, lambda: stop() or is_gone()
