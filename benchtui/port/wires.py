"""All the wires of a live session: the links, the intake they fill, one way to drain and to close them."""

from __future__ import annotations

from benchtui.model.block import Block
from benchtui.model.notes import Note
from benchtui.model.units import Unit

from .clock import Clock
from .hookup import Hookup
from .intake import Intake, WireSink
from .link import Link, LinkStatus
from .opener import Opener, open_port


class Wires:
    """The live source of a session. Links run on threads of their own; the rest is the caller's thread."""

    def __init__(
        self, hookup: Hookup, clock: Clock, *, opener: Opener = open_port, log: WireSink | None = None
    ) -> None:
        """Starts every link at once."""
        self.channels = hookup.channels
        self.clock = clock
        self.done = False
        """True once closed; a live source never ends by itself."""
        self.intake = Intake(clock.now_ns, hookup.leads, log)
        self.links = tuple(
            Link(m.listener, m.settings, self.intake.slot(m.description.name), clock, opener=opener, log=log)
            for m in hookup.meters
        )
        for link in self.links:
            link.start()

    def drain(self) -> Block:
        """Everything that has become certain since the last drain."""
        return self.intake.drain()

    def put_note(self, note: Note) -> Note:
        """Puts a mark or a lead on the timeline now; gives it back with its time."""
        return self.intake.put_note(note)

    def put_reading(
        self, channel: int, unit: Unit, value: float, resolution: float = 0.0, flags: int = 0
    ) -> int:
        """Puts what the eye saw or a needle showed on the timeline now; its time."""
        return self.intake.put_reading(channel, unit, value, resolution, flags)

    def status(self) -> dict[str, LinkStatus]:
        """How each meter's link stands."""
        return {link.meter: link.status for link in self.links}

    def close(self) -> Block:
        """Ends every link, then gives the last block and ends the wire log."""
        for link in self.links:
            link.ask_to_close()
        for link in self.links:
            link.close()
        self.done = True
        return self.intake.close()
