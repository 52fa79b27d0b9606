"""The board, and the keys that hands need."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from textual.app import ComposeResult
from textual.events import Key, Resize
from textual.screen import Screen

from benchtui.report.say import sentence
from benchtui.watch.board import Board

from .. import leads
from ..courses import Courses
from ..draw import alarm, hazard, topbar
from ..draw.glance import Glance, in_run, sound, told
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
from .finding import FindingSheet
from .keys import KeysSheet
from .mark import MarkSheet, Wish
from .meter import MeterSheet
from .note import NoteSheet

SEEN_KEYS = "123456789bcdegmrstuwxy"
"""Keys of the points that only the eye can read, in the order of the chart."""
FLASH_DRAWS = 3
SAID_DRAWS = 25
"""Draws for which the bar is turned round, and for which the key line says what the last key did."""
ASKED_DRAWS = 120
"""Draws for which the bar shows a fault that was asked for, before the most pressing comes back."""
BROWSING_DRAWS = 240
"""Draws after a key of the list for which no new fault takes the list from the person."""
NO_MARKS = "a replay takes no marks"


class Dashboard(Screen[None]):
    """Draws the board it was shown last; asks the session for everything a key wants.

    Keys are dealt with as they come, not as bindings: a binding is looked up only once its key has come back
    to the app, and the next key would meanwhile be taken for one of the screen before.
    """

    def __init__(self, session: Session, look: Look) -> None:
        super().__init__()
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
        self._last_kind: str | None = None
        self._roving: int | None = None
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
            {} if self.board.replaying else self.seen_keys(),
            flash=self._flash > 0,
            ended=self.session.done,
            held_ns=self._held_ns,
            trouble=self.session.trouble or "",
            mishap=self.session.mishap or "",
            said=self._said[0],
            asked=self._asked[0],
            places=self._places,
        )

    def seen_keys(self) -> dict[str, str]:
        """Seen point -> its key."""
        seen = [row.point for row in self.board.rows if row.seen]
        return dict(zip(seen, SEEN_KEYS, strict=False))

    def say(self, text: str) -> None:
        """Tells for a moment what a key did."""
        self._said = (text, SAID_DRAWS)
        self.draw()

    def action_mark(self) -> None:
        if self.board.replaying:
            self.say(NO_MARKS)
            return
        self.app.push_screen(MarkSheet(self.look, self._last_kind, self._wished))

    def _wished(self, wish: Wish | None) -> None:
        if wish is None:
            return
        self._last_kind = wish.kind
        if not wish.asks:
            self._mark(wish.kind)
            return
        asked = "note" if wish.kind in ("note", "condition") else f"{wish.kind}: what?"
        worded = "note" if wish.kind in ("note", "condition") else "what"

        def keep(text: str) -> None:
            self._mark(wish.kind, **{worded: text})

        self.app.push_screen(NoteSheet(self.look, asked, keep))

    def _mark(self, kind: str, note: str = "", what: str = "") -> None:
        made = self.session.mark(kind, note, what)
        words = " ".join(t for t in (kind, what, note) if t)
        self.say(NO_MARKS if made is None else f"marked at {told(self.board, made.t_ns)}: {clip(words, 50)}")

    def action_next(self, choose: bool = False) -> None:
        if self.board.replaying:
            self.say("a replay moves no leads")
            return
        channels = self.session.bank.channels
        meters = leads.meters(channels)
        if len(meters) == 1:
            self._move(meters[0])
        elif self._roving is not None and not choose:
            self._move(self._roving)
        elif meters:
            rows = [leads.row_of(self.board, channels, n) for n in meters]
            named = [
                (n, channels[n].name, row.point if row else "") for n, row in zip(meters, rows, strict=True)
            ]
            self.app.push_screen(MeterSheet(self.look, named, self._move))

    def _move(self, channel: int | None) -> None:
        if channel is None:
            return
        self._roving = channel
        channels = self.session.bank.channels
        row = leads.next_point(self.board, channels, channel)
        name = clip(channels[channel].name, 20)
        if row is None:
            self.say(f"{name}: no point is left for it")
        elif self.session.move_lead(channel, row.point):
            place = self._places.get(row.point, "")
            self.say(f"{name}: lead on {clip(row.point, 24)}" + (f", {place}" if place else ""))
        else:
            self.say("a replay moves no leads")

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
            self._browsing = BROWSING_DRAWS
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
        self.app.push_screen(KeysSheet(self.look, self.seen_keys()))

    def action_looked(self) -> None:
        """The eye has looked at everything, and it is as shown."""
        known = [row for row in self.board.rows if row.seen and row.value is not None]
        put = [self.session.seen(row.point, (row.value or 0.0) >= 0.5) for row in known]
        if known:
            self.say("looked: all as shown" if all(put) else NO_MARKS)

    def on_key(self, event: Key) -> None:
        if sent_on(self, event):
            return
        act = KEYS.get(event.key)
        if act is not None:
            event.stop()
            act(self)
        elif event.character in self.seen_keys().values():
            event.stop()
            self._toggle(event.character)

    def _toggle(self, key: str | None) -> None:
        """A key of a point for the eye: lit becomes out, and out lit."""
        point = next((p for p, its in self.seen_keys().items() if its == key), None)
        row = next((r for r in self.board.rows if r.point == point), None)
        if row is None:
            return
        lit = row.value is None or row.value < 0.5
        put = self.session.seen(row.point, lit)
        self.say(f"seen: {clip(row.point, 24)} {'lit' if lit else 'out'}" if put else NO_MARKS)

    def action_open(self) -> None:
        """All that is known of the finding chosen in the near view."""
        finding = self.near.finding(self.board)
        if self.is_near and finding is not None:
            when = in_run(self.board, finding.start_ns)
            self._browsing = BROWSING_DRAWS
            text = self._sayings.whole(finding)
            self.app.push_screen(FindingSheet(self.look, finding, text, when, self.board))

    def in_near_view(self, change: Callable[[NearView, Board], None]) -> None:
        """Another choice of what the near view shows; in the far view nothing changes unseen."""
        if self.is_near:
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


_Act = Callable[[Dashboard], object]
_BOTH: dict[str, _Act] = {
    "space": Dashboard.action_mark,
    "n": Dashboard.action_next,
    "N": lambda d: d.action_next(choose=True),
    "a": Dashboard.action_acknowledge,
    "A": lambda d: d.action_acknowledge(all_of_them=True),
    "f": lambda d: d.action_fault(1),
    "F": lambda d: d.action_fault(-1),
    "p": Dashboard.action_pause,
    "v": Dashboard.action_view,
    "i": Dashboard.action_looked,
    "question_mark": Dashboard.action_keys,
    "enter": Dashboard.action_open,
}
_NEAR: dict[str, Callable[[NearView, Board], None]] = {
    "j": lambda near, board: near.go_to_point(board, 1),
    "k": lambda near, board: near.go_to_point(board, -1),
    "plus": lambda near, board: near.zoom(board, 0.5),
    "minus": lambda near, board: near.zoom(board, 2.0),
    "h": lambda near, board: near.shift(board, -0.25),
    "l": lambda near, board: near.shift(board, 0.25),
    "0": NearView.whole_run,
    "z": NearView.change_scale,
}
_ALSO = {"down": "j", "up": "k", "equals_sign": "plus", "left": "h", "right": "l"}


def _near(change: Callable[[NearView, Board], None]) -> _Act:
    return lambda dashboard: dashboard.in_near_view(change)


KEYS: dict[str, _Act] = {
    **_BOTH,
    **{key: _near(change) for key, change in _NEAR.items()},
    **{key: _near(_NEAR[like]) for key, like in _ALSO.items()},
}
"""Textual's name of a key -> what it does; those of the near view do nothing in the far view."""
