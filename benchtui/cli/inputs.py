"""The files that a person names on the command line, read."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from benchtui.model.errors import BenchError

if TYPE_CHECKING:
    from benchtui.chart.bench import Bench
    from benchtui.chart.chart import Chart
    from benchtui.chart.settings import Settings

MOST_BYTES = 4_000_000


def text_of(path: Path) -> str:
    """The text of a file that people write.

    Raises:
        BenchError: it cannot be read, is not UTF-8, or is far too long.
    """
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise BenchError(f"{path} cannot be read: {error.strerror}") from error
    if len(data) > MOST_BYTES:
        raise BenchError(f"{path} is longer than any file of this kind")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise BenchError(f"{path}:{line}: this is no UTF-8 text: save the file as UTF-8") from error


def chart(path: Path) -> Chart:
    """A chart file, read strictly."""
    from benchtui.chart.chart_file import read_chart

    return read_chart(text_of(path), str(path))


def bench(path: Path) -> Bench:
    """A bench file, read strictly."""
    from benchtui.chart.bench_file import read_bench

    return read_bench(text_of(path), str(path))


def settings(path: Path | None, overrides: dict[str, str]) -> Settings:
    """A settings file (or none), with single settings from the command line over it."""
    from benchtui.chart.settings_file import read_settings

    return read_settings(text_of(path) if path else "", str(path or "settings"), overrides)


def overrides(warn_above: str | None) -> dict[str, str]:
    """The settings that were given on the command line, by their keys in a settings file."""
    return {} if warn_above is None else {"warn_above": warn_above}
