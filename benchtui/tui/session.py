"""What the dashboard asks of a session: the part of `benchtui.live.Live` that it uses."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from benchtui.chart.chart import Chart
from benchtui.chart.settings import Settings
from benchtui.model.course import Course
from benchtui.model.findings import Event
from benchtui.model.notes import Mark
from benchtui.model.readings import Channel
from benchtui.watch.board import Board


class HasChannels(Protocol):
    """Whatever knows the session's channel table."""

    @property
    def channels(self) -> Sequence[Channel]: ...


class Session(Protocol):
    """A session as it goes; all calls come from the one thread of the screen."""

    @property
    def bank(self) -> HasChannels: ...

    @property
    def chart(self) -> Chart: ...

    @property
    def settings(self) -> Settings: ...

    @property
    def trouble(self) -> str | None:
        """Why it cannot be written now; None while all is well."""

    @property
    def mishap(self) -> str | None:
        """What happened to its file, and where it goes on; None while nothing has."""

    @property
    def done(self) -> bool:
        """A replay or the time asked for has come to its end."""

    @property
    def new_events(self) -> Sequence[Event]:
        """What became known in the last step."""

    def step(self) -> Board: ...

    def course(self, point: str, start_ns: int, end_ns: int, columns: int) -> Course: ...

    def mark(self, kind: str, note: str = "", what: str = "") -> Mark | None: ...

    def seen(self, point: str, lit: bool) -> bool: ...

    def move_lead(self, channel: int, point: str | None) -> bool: ...

    def acknowledge(self, finding: int | None) -> None: ...

    def pause(self, paused: bool) -> None: ...
