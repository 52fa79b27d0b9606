"""Line 1 of a wire log: all that a replay needs besides the bytes. Read as what may come from anyone."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from benchtui.driver.description import MeterDescription
from benchtui.model.errors import DriverError, SessionError
from benchtui.model.notes import plain
from benchtui.model.readings import Accuracy, Channel

from .strict import number, text

FORMAT = "benchtui wire log"
VERSION = 1
MOST_CHANNELS = 1 << 15
"""Readings name their channel by 16 bits, signed."""


@dataclass(frozen=True, slots=True)
class Header:
    """Line 1: all that a replay needs besides the bytes."""

    started: str
    """The time of day at t_ns 0, ISO 8601 with its offset."""
    channels: tuple[Channel, ...]
    meters: tuple[MeterDescription, ...]
    chart: str = ""
    """The chart's TOML as written; likewise bench and settings."""
    bench: str = ""
    settings: str = ""
    versions: Mapping[str, str] = field(default_factory=dict)
    """Package -> version, as far as known."""

    def as_line(self) -> str:
        """The JSON text of line 1, without a line end."""
        return json.dumps(
            {
                "format": FORMAT,
                "version": VERSION,
                "started": self.started,
                "channels": [_channel_as_json(c) for c in self.channels],
                "meters": [m.as_json() for m in self.meters],
                "chart": self.chart,
                "bench": self.bench,
                "settings": self.settings,
                "versions": dict(self.versions),
            },
            ensure_ascii=False,
            default=str,
        )

    @staticmethod
    def from_line(line: str, file: str) -> Header:
        """What `as_line` wrote.

        Raises:
            SessionError: this is no wire log, a later version's, or its first line is damaged.
        """
        try:
            given = json.loads(line)
        except (ValueError, RecursionError):
            given = None
        if not isinstance(given, dict) or given.get("format") != FORMAT:
            raise SessionError(f"{file}:1: this is no wire log; its first line should be the header of one")
        if given.get("version") != VERSION:
            version = plain(str(given.get("version")), 20)
            raise SessionError(
                f"{file}:1: a wire log of version {version}; this program reads version {VERSION}"
            )
        try:
            return _checked(
                Header(
                    started=str(given["started"]),
                    channels=tuple(_channel_from_json(c) for c in given["channels"]),
                    meters=tuple(MeterDescription.from_json(m) for m in given["meters"]),
                    chart=text(given["chart"]),
                    bench=text(given["bench"]),
                    settings=text(given["settings"]),
                    versions={str(k): str(v) for k, v in given.get("versions", {}).items()},
                )
            )
        except (KeyError, TypeError, ValueError, AttributeError, OverflowError, DriverError) as error:
            raise SessionError(
                f"{file}:1: the header of this wire log is damaged: {plain(said(error), 200)}"
            ) from error


def said(error: Exception) -> str:
    """What a mistake in JSON is, for a person."""
    return f"there is no {error}" if isinstance(error, KeyError) else str(error)


def _checked(header: Header) -> Header:
    channels = len(header.channels)
    if channels > MOST_CHANNELS:
        raise ValueError(f"{channels} channels; there can be {MOST_CHANNELS}")
    for meter in header.meters:
        for channel in meter.channels:
            if not 0 <= channel < channels:
                raise ValueError(f"meter {meter.name}: channel {channel} is none of its {channels} channels")
    return header


def _channel_as_json(channel: Channel) -> dict[str, Any]:
    accuracy = channel.accuracy
    return {
        "name": channel.name,
        "meter": channel.meter,
        "accuracy": None
        if accuracy is None
        else [accuracy.of_reading, accuracy.counts, accuracy.of_full_scale],
        "input_resistance": channel.input_resistance,
        "eye": channel.eye,
    }


def _channel_from_json(given: Mapping[str, Any]) -> Channel:
    accuracy, ohms = given["accuracy"], given["input_resistance"]
    return Channel(
        name=str(given["name"]),
        meter=str(given["meter"]),
        accuracy=None if accuracy is None else Accuracy(*map(number, accuracy)),
        input_resistance=None if ohms is None else number(ohms),
        eye=bool(given["eye"]),
    )
