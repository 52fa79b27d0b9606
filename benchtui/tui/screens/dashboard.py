"""The board, and the keys that hands need."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from textual.app import ComposeResult
from textual.events import Key, Resize
from textual.screen import Screen

from benchtui.report.say import sentence
from benchtui.watch.board import Board

from ..courses import Courses
from ..draw import alarm, hazard, topbar
from ..draw.glance import Glance, in_run, sound
from ..draw.looks import Look
from ..draw.text import clip
from ..places import Places
from ..sayings import Sayings
from ..session import Session
from ..still import Still
from ..trend import Trend
from ..widgets.far_view import FarView
from ..widgets.near_view import NearView
from .asking import sent_on
from .dashboard_keys import KEYS
from .finding import FindingSheet
from .hands import Hands
from .keys import KeysSheet

FLASH_DRAWS = 3
SAID_DRAWS = 25
"""Draws for which the bar is turned round, and for which the key line says what the last key did."""
ASKED_DRAWS = 120
"""Draws for which the bar shows a fault that was asked for, before the most pressing comes back."""
BROWSING_DRAWS = 240
"""Draws after a key of the list for which no new fault takes the list from the person."""


class Dashboard(Screen[None]):
    """Draws the board it was shown last; asks the session for everything a key wants.

    Keys are dealt with as they come, not as bindings: a binding is looked up only once its key has come back
    to the app, and the next key would meanwhile be taken for one of the screen before.
    """

    def __init__(self, session: Session, look: Look, ask_quit: Callable[[], None]) -> None:
        super().__init__()
        self.ask_quit: Callable[[], None] = ask_quit
        self.session = session
        self.look = look
        self.board = Board()
        self.far = FarView(look, id="far")
        self.near = NearView(look, id="near")
        self._still = Still()
        self._places_held = Places()
        self._trend = Trend()
        self._asked: tuple[int | None, int] = (None, 0)
        self._browsing = 0
        self._waiting: frozenset[int] = frozenset()
        self._done = False
        self._courses = Courses(session)
        self._sayings = Sayings(lambda finding: sentence(finding, session.chart))
        self._places = {point.name: point.where for point in session.chart.points}
        self._levels: dict[str, float] = {}
        self.hands: Hands = Hands(session, look, lambda: self.board, self._ask, self.say)
        self._held_ns: int | None = None
        self._flash = 0
        self._said = ("", 0)

    def compose(self) -> ComposeResult:
        yield self.far
        yield self.near

    @property
    def is_near(self) -> bool:
        return self.has_class("-near")

    def on_mount(self) -> None:
        self.draw()

    def on_resize(self, event: Resize) -> None:
        self.call_after_refresh(self.draw)

    def show(self, board: Board, announced: bool = False) -> None:
        """Takes a new board; draws if anything changed."""
        board = self._trend.turned(sound(board))
        board = replace(board, large=self._places_held.of(board))
        self._browsing = max(self._browsing - 1, 0)
        quiet = not (self._flash or self._said[1] or announced or self._asked[1])
        if quiet and board == self.board and self.session.done == self._done:
            return
        self.board = board
        self._done = self.session.done
        self._look_at_new()
        self._levels = self._still.levels(board)
        self._flash = FLASH_DRAWS if announced else max(self._flash - 1, 0)
        text, left = self._said
        self._said = (text, left - 1) if left > 1 else ("", 0)
        self.draw()

    def _look_at_new(self) -> None:
        """A new fault takes the bar, and the list unless the person is browsing in it."""
        waiting = frozenset(f.id for f in alarm.waiting(self.board))
        asked, left = self._asked
        is_new = not waiting <= self._waiting
        self._asked = (None, 0) if is_new or left <= 1 or asked not in waiting else (asked, left - 1)
        if is_new and not self._browsing:
            self.near.forget_finding()
        self._waiting = waiting

    def draw(self) -> None:
        """Draws the view in front."""
        self._courses.next_draw()
        view = self.near if self.is_near else self.far
        view.show(self.glance(), self._courses.of, self.size)

    def glance(self) -> Glance:
        """What is drawn now."""
        return Glance(
            self.board,
            self._sayings.short,
            self._levels,
            {} if self.board.replaying else self.hands.seen_keys(),
            flash=self._flash > 0,
            ended=self.session.done,
            held_ns=self._held_ns,
            trouble=self.session.trouble or "",
            mishap=self.session.mishap or "",
            said=self._said[0],
            asked=self._asked[0],
            places=self._places,
        )

    def say(self, text: str) -> None:
        """Tells for a moment what a key did."""
        self._said = (text, SAID_DRAWS)
        self.draw()

    def _ask(self, sheet: Screen[None]) -> None:
        self.app.push_screen(sheet)

    def action_acknowledge(self, all_of_them: bool = False) -> None:
        wrong = alarm.choose(self.board, self._asked[0])
        if all_of_them:
            self.session.acknowledge(None)
        elif wrong is not None:
            for finding in (wrong.finding.id, *wrong.explains):
                self.session.acknowledge(finding)

    def action_fault(self, by: int) -> None:
        """Another of the faults that wait, in the bar; in the near view another finding of the list."""
        if self.is_near:
            self.in_near_view(lambda near, board: near.go_to_finding(board, by))
            return
        shown = alarm.choose(self.board, self._asked[0])
        if shown is not None:
            self._asked = (alarm.following(self.board, shown.finding.id, by), ASKED_DRAWS)
            self.draw()

    def action_pause(self) -> None:
        pause = not (self.board.paused or self._held_ns is not None)
        self.session.pause(pause)
        if not self.board.replaying:
            self._held_ns = self.board.at_ns if pause else None
            self.say("the chart is held; numbers and recording go on" if pause else "the chart goes on")

    def action_view(self) -> None:
        self.toggle_class("-near")
        self.draw()

    def action_keys(self) -> None:
        self.app.push_screen(KeysSheet(self.look, self.hands.seen_keys(), self.board.rows))

    def on_key(self, event: Key) -> None:
        if sent_on(self, event):
            return
        act = KEYS.get(event.key)
        if act is not None:
            event.stop()
            act(self)
        elif event.character in self.hands.seen_keys().values():
            event.stop()
            self.hands.toggle(event.character)

    def action_open(self) -> None:
        """All that is known of the finding chosen in the near view."""
        if not self.is_near:
            return
        finding = self.near.finding(self.board)
        if finding is None:
            self.say(
                f"nothing found on {clip(self.near.chosen.point or 'it', 24)}; f: what was found elsewhere"
            )
        else:
            when = in_run(self.board, finding.start_ns)
            self._browsing = BROWSING_DRAWS
            text = self._sayings.whole(finding)
            self.app.push_screen(FindingSheet(self.look, finding, text, when, self.board))

    def in_near_view(self, change: Callable[[NearView, Board], None]) -> None:
        """Another choice of what the near view shows; in the far view nothing changes unseen."""
        if self.is_near:
            self._browsing = BROWSING_DRAWS
            change(self.near, self.board)
            self.draw()

    @property
    def is_live(self) -> bool:
        """The bar says LIVE; in a replay it never does."""
        return topbar.shows_live(self.board)

    @property
    def reads(self) -> str:
        """What the point of the greatest hazard reads, as the bar says it."""
        return hazard.reads(self.glance())
