"""The bank: every watcher over one timeline, fed block by block."""

from __future__ import annotations

from collections.abc import Sequence

from benchtui.chart.chart import Chart
from benchtui.chart.settings import Settings
from benchtui.model.block import Block
from benchtui.model.findings import Event, Folding
from benchtui.model.readings import Channel


class Bank:
    """All watchers together. The events do not depend on how the timeline was cut into blocks."""

    def __init__(self, chart: Chart, channels: Sequence[Channel], settings: Settings) -> None:
        self.chart = chart
        self.channels = tuple(channels)
        self.settings = settings
        self.folding = Folding()

    def feed(self, block: Block) -> list[Event]:
        """Takes the next block; gives the events that became known in it, in order of `seq`."""
        return []
