"""A port opened for a while, to hear what comes or to let a driver ask: for finding meters, not to record."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass

from benchtui.driver.listener import Listener
from benchtui.driver.trial import Chunk, Fit, Tally

from .clock import Clock
from .opener import Opener, PortSettings, is_pty, open_port
from .trouble import Lost

_READ_S = 0.1


@dataclass(frozen=True, slots=True)
class Heard:
    """What came, and from where."""

    device: str
    notes: tuple[str, ...]
    """What could not be set on this port."""
    chunks: tuple[Chunk, ...]
    lost: str = ""
    """Why it ended early; empty if it did not."""

    @property
    def has_speed(self) -> bool:
        """Whether another speed would make a difference: not on a pseudo-terminal or a socket."""
        return not (self.device.startswith("socket://") or is_pty(self.device))


def hear(
    settings: PortSettings,
    seconds: float | None,
    clock: Clock,
    told: Callable[[Chunk], None] = lambda chunk: None,
    *,
    opener: Opener = open_port,
) -> Heard:
    """Listens so long (None: until it is interrupted), sends nothing. `told` gets each chunk as it comes.

    Raises:
        PortError: the port cannot be opened.
    """
    chunks: list[Chunk] = []
    lost = ""
    with closing(opener(settings)) as port:
        end_ns = None if seconds is None else clock.now_ns() + int(seconds * 1e9)
        try:
            while end_ns is None or clock.now_ns() < end_ns:
                data = port.read(_READ_S)
                if data:
                    chunks.append(Chunk(clock.now_ns(), data))
                    told(chunks[-1])
        except Lost as error:
            lost = str(error)
        except KeyboardInterrupt:
            pass  # the person has heard enough; what was heard is still looked at
        return Heard(port.device, port.notes, tuple(chunks), lost)


def converse(
    listener: Listener,
    settings: PortSettings,
    seconds: float,
    clock: Clock,
    *,
    enough: int = 3,
    opener: Opener = open_port,
) -> Fit:
    """Lets a driver ask for so long, or until it has so many readings; what it made of the answers.

    Raises:
        PortError: the port cannot be opened.
    """
    tally = Tally()
    with closing(opener(settings)) as port:
        end_ns = clock.now_ns() + int(seconds * 1e9)
        try:
            out = listener.start(clock.now_ns())
            while True:
                now = clock.now_ns()
                tally.take(out, now)
                if out.send:
                    port.write(out.send)
                if now >= end_ns or tally.readings >= enough:
                    break
                wake = listener.wake_ns
                data = port.read(_READ_S if wake is None else min(_READ_S, clock.seconds_until(wake)))
                tally.total += len(data)
                now = clock.now_ns()
                out = listener.feed(data, now) if data else listener.tick(now)
        except Lost:
            pass  # what was heard until then is the answer
    return tally.fit(listener.line)
