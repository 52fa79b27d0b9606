"""What a recording is to be judged by: what a person gave, and for the rest what it carries itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from benchtui.chart.bench import Bench
from benchtui.chart.chart import Chart
from benchtui.chart.settings import Settings


@dataclass(frozen=True, slots=True)
class Given:
    """What a person gave to be judged by; the rest is what the recording carries."""

    chart: Chart | None = None
    bench: Bench | None = None
    settings: Settings | None = None
    overrides: Mapping[str, str] = field(default_factory=dict)

    def or_of(self, carried: Carried, path: Path) -> tuple[Chart, Bench, Settings]:
        """All three; of what is carried only that is read which nothing replaces.

        Raises:
            ChartError: it has mistakes.
        """
        from benchtui.chart.bench_file import read_bench
        from benchtui.chart.chart_file import read_chart

        return (
            self.chart or read_chart(carried.chart, f"the chart in {path}"),
            self.bench or read_bench(carried.bench, f"the bench in {path}"),
            self.settings_or(carried.settings, f"the settings in {path}"),
        )

    def settings_or(self, carried: str, file: str) -> Settings:
        """The settings; `file` is how mistakes in those that are carried name them. Raises ChartError."""
        from benchtui.chart.settings_file import read_settings

        return self.settings or read_settings(carried, file, self.overrides)


class Carried(Protocol):
    """The TOML texts that a recording carries."""

    @property
    def chart(self) -> str: ...
    @property
    def bench(self) -> str: ...
    @property
    def settings(self) -> str: ...
