"""A link: the one thread that opens, reads, writes and closes one port, and runs its meter's listener."""

from __future__ import annotations

import threading
from dataclasses import dataclass, replace

from benchtui.driver.contract import Out
from benchtui.driver.listener import Listener
from benchtui.model.errors import PortError
from benchtui.model.notes import Trouble, plain

from .clock import Clock
from .intake import Abandoned, Slot, WireSink
from .opener import Opener, Port, PortSettings, open_port
from .trouble import Lost

STATES = ("closed", "opening", "live", "silent", "lost", "backing off", "ended")

_READ_S = 0.25
_BACK_OFF_S = (0.1, 0.2, 0.4, 0.5)
_SILENT_S = 3.0
_NOTHING = "nothing has come yet: is the meter on and sending? an adapter may need dtr or rts to be set"
_ASLEEP = "nothing comes any more: is the meter asleep, or its data output switched off?"
_ENDED = "the driver failed; this meter is not read any more"


@dataclass(frozen=True, slots=True)
class LinkStatus:
    """How a link stands; a snapshot that any thread may read."""

    state: str = "closed"
    """One of STATES."""
    device: str = ""
    """What the port's name was resolved to, while it is open."""
    text: str = ""
    """Why it is lost, or what could not be set; plain words."""
    identity: str = ""
    """What the meter calls itself, where it does."""
    skipped: int = 0
    """Bytes thrown away at joins in the middle of a frame, since the start."""


class Link:
    """Keeps one port open as long as it is wanted, and hands on what its meter says."""

    def __init__(
        self,
        listener: Listener,
        settings: PortSettings,
        slot: Slot,
        clock: Clock,
        *,
        opener: Opener = open_port,
        log: WireSink | None = None,
    ) -> None:
        self.meter = listener.description.name
        self.status = LinkStatus()
        self._listener = listener
        self._settings = replace(settings, gather_s=settings.gather_s / clock.speed)
        self._slot = slot
        self._clock = clock
        self._opener = opener
        self._log = log
        self._tries = 0
        self._heard = False
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"link {self.meter}", daemon=True)

    def start(self) -> None:
        """Starts the thread; returns at once."""
        self._thread.start()

    def ask_to_close(self) -> None:
        """Asks the thread to close the port and end; returns at once."""
        self._stop.set()

    def close(self, timeout_s: float = 5.0) -> None:
        """Asks the thread to close the port and end, and waits for it."""
        self._stop.set()
        if self._thread.ident is not None:
            self._thread.join(timeout_s)

    def _run(self) -> None:
        """The thread: never ends by an exception, and never leaves its slot pending."""
        try:
            while not self._stop.is_set() and not self._listener.ended:
                self._try_once()
        except Abandoned:
            self._say(state="ended", device="", text=_ENDED)
            return
        except Exception as error:  # whatever it is, it costs this meter and is told
            self._fail(error)
        if self._listener.ended:
            self._say(state="ended", device="", text=_ENDED)
        else:
            self._say(state="closed", device="")

    def _try_once(self) -> None:
        """Opens the port and listens until it is lost; then waits a little, longer each time in vain."""
        self._say(state="backing off" if self._tries else "opening")
        try:
            port = self._opener(self._settings)
        except PortError as error:
            self._lose(str(error))
        else:
            try:
                self._listen(port)
            except Lost as lost:
                self._lose(str(lost))
            finally:
                port.close()
        self._stop.wait(_BACK_OFF_S[min(self._tries, len(_BACK_OFF_S) - 1)])
        self._tries += 1

    def _listen(self, port: Port) -> None:
        """Until the port is lost or the link closed. Raises Lost."""
        self._say(state="silent", device=port.device, text="; ".join(port.notes))
        self._call(port, "start")
        heard_ns = self._clock.now_ns()
        while not self._stop.is_set() and not self._listener.ended:
            wake = self._listener.wake_ns
            wait = _READ_S if wake is None else min(_READ_S, self._clock.seconds_until(wake))
            data = port.read(wait)
            if data:
                heard_ns = self._clock.now_ns()
                self._tries, self._heard = 0, True
                self._call(port, "feed", data)
                self._say(state="live", text="; ".join(port.notes))
            elif wake is not None and wake <= self._clock.now_ns():
                self._call(port, "tick")
            elif (self._clock.now_ns() - heard_ns) / self._clock.speed > _SILENT_S * 1e9:
                self._say(state="silent", text=_ASLEEP if self._heard else _NOTHING)

    def _call(self, port: Port, what: str, data: bytes = b"") -> None:
        """One call of the listener, between the stamp and the clearing of the slot; writes what it sends."""
        log, listener = self._log, self._listener
        at = self._slot.stamp()
        outs: list[Out] = []
        try:
            if what == "feed":
                if log is not None:
                    log.rx(at, self.meter, data)
                outs.append(listener.feed(data, at))
            elif what == "start":
                if log is not None:
                    log.event(at, self.meter, "start")
                outs.append(listener.start(at))
            wake = listener.wake_ns
            if wake is not None and wake <= at and what != "start":
                if log is not None:
                    log.event(at, self.meter, "tick")
                outs.append(listener.tick(at))
            send = b"".join(o.send for o in outs)
            if send and log is not None:
                log.tx(at, self.meter, send)
        finally:
            self._slot.clear(*outs)
        for out in outs:
            if out.identity or out.skipped:
                self._say(
                    identity=out.identity or self.status.identity, skipped=self.status.skipped + out.skipped
                )
        if send:
            port.write(send)

    def _lose(self, reason: str) -> None:
        at = self._slot.stamp()
        outs: list[Out] = []
        try:
            if self._log is not None:
                self._log.event(at, self.meter, "lost", reason)
            outs.append(self._listener.lost(at, reason))
        finally:
            self._slot.clear(*outs)
        self._say(state="lost", device="", text=reason)

    def _fail(self, error: Exception) -> None:
        """The link itself failed: told like a driver's failure, also in the wire log."""
        self._listener.ended = True
        try:
            at = self._slot.stamp()
        except Abandoned:
            return
        text = plain(f"the link failed: {type(error).__name__}: {error}")
        trouble = Trouble(at, self.meter, "driver", text)
        if self._log is not None:
            self._log.note(trouble)
        self._slot.clear(Out(troubles=(trouble,)))

    def _say(self, **changes: object) -> None:
        self.status = replace(self.status, **changes)  # type: ignore[arg-type]
