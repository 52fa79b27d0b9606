"""What hands do at the bench, told to the session: marks, leads that move, what the eye has seen."""

from __future__ import annotations

from collections.abc import Callable

from textual.screen import Screen

from benchtui.watch.board import Board

from .. import format as fmt
from .. import leads
from ..draw.glance import told
from ..draw.looks import Look
from ..draw.text import clip
from ..draw.topbar import is_live
from ..session import Session
from .mark import WORDED, MarkSheet, Wish
from .meter import MeterSheet
from .note import NoteSheet

SEEN_KEYS = "123456789bcdegmrstuwxy"
"""Keys of the points that only the eye can read, in the order of the chart."""
POWER_OFF = "LIVE: power off to move leads. "
NO_MARKS = "a replay takes no marks"


class Hands:
    """Asks what it must know with a sheet, and says in the key line what it did."""

    def __init__(
        self,
        session: Session,
        look: Look,
        board: Callable[[], Board],
        ask: Callable[[Screen[None]], object],
        say: Callable[[str], None],
    ) -> None:
        self._session = session
        self._look = look
        self._board = board
        self._ask = ask
        self._say = say
        self._last: Wish | None = None
        self._roving: int | None = None
        self._places = {point.name: point.where for point in session.chart.points}

    def seen_keys(self) -> dict[str, str]:
        """Seen point -> its key."""
        seen = [row.point for row in self._board().rows if row.seen]
        return dict(zip(seen, SEEN_KEYS, strict=False))

    def mark(self) -> None:
        """Asks what was done, and puts it on the timeline."""
        if self._board().replaying:
            self._say(NO_MARKS)
            return
        self._ask(MarkSheet(self._look, self._last, self._wished))

    def _wished(self, wish: Wish | None) -> None:
        if wish is None:
            return
        if not wish.asks:
            self._mark(wish.kind, what=wish.what)
            return
        asked = wish.kind if wish.kind in WORDED else f"{wish.kind}: what?"
        worded = "note" if wish.kind in WORDED else "what"

        def keep(text: str) -> None:
            self._mark(wish.kind, **{worded: text})

        self._ask(NoteSheet(self._look, asked, keep))

    def _mark(self, kind: str, note: str = "", what: str = "") -> None:
        self._last = Wish(kind, asks=kind in WORDED, what=what)
        made = self._session.mark(kind, note, what)
        words = " ".join(t for t in (kind, what, note) if t)
        if made is None:
            self._say(NO_MARKS)
        else:
            self._say(f"marked at {told(self._board(), made.t_ns)}: {clip(words, 50)}")

    def move_lead(self, choose: bool = False) -> None:
        """The roving lead is on the next point; asks which lead that is, the first time and on `choose`."""
        if self._board().replaying:
            self._say("a replay moves no leads")
            return
        channels = self._session.bank.channels
        meters = leads.meters(channels)
        if len(meters) == 1:
            self._move(meters[0])
        elif self._roving is not None and not choose:
            self._move(self._roving)
        elif meters:
            rows = [leads.row_of(self._board(), channels, n) for n in meters]
            named = [
                (n, channels[n].name, row.point if row else "") for n, row in zip(meters, rows, strict=True)
            ]
            self._ask(MeterSheet(self._look, named, self._move))

    def _move(self, channel: int | None) -> None:
        if channel is None:
            return
        self._roving = channel
        channels = self._session.bank.channels
        row = leads.next_point(self._board(), channels, channel)
        name = clip(channels[channel].name, 20)
        if row is None:
            self._say(f"{name}: no point is left for it")
        elif self._session.move_lead(channel, row.point):
            place = self._places.get(row.point, "")
            caution = POWER_OFF if is_live(self._board()) else ""
            self._say(f"{caution}{name}: lead on {clip(row.point, 24)}" + (f", {place}" if place else ""))
        else:
            self._say("a replay moves no leads")

    def looked(self) -> None:
        """The eye has looked at everything, and it is as shown."""
        known = [row for row in self._board().rows if row.seen and row.value is not None]
        put = [self._session.seen(row.point, (row.value or 0.0) >= 0.5) for row in known]
        if known:
            self._say("looked: all as shown" if all(put) else NO_MARKS)

    def toggle(self, key: str | None) -> None:
        """A key of a point for the eye: lit becomes out, and out lit; what it recorded is said."""
        point = next((p for p, its in self.seen_keys().items() if its == key), None)
        row = next((r for r in self._board().rows if r.point == point), None)
        if row is None:
            return
        now = fmt.pressed(row)
        put = self._session.seen(row.point, now == "lit")
        back = "out" if now == "lit" else "lit"
        said = f"recorded: {clip(row.point, 24)} {now}; {key} again: {back}"
        self._say(said if put else NO_MARKS)
