"""The bench of the demo: nine meters of many makes' manners, each with its own wire format."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from benchtui.model.readings import Accuracy
from benchtui.model.units import Unit

from .metermodel import MeterModel, While, autoranges
from .talker import Voice

_HANDHELD, _BENCH = Accuracy(0.005, 2), Accuracy(0.0005, 3)


def demo_voices(
    pace: float = 1.0, sleeps: Mapping[str, tuple[While, ...]] | None = None
) -> tuple[Voice, ...]:
    """The meters of the demo bench.

    Args:
        pace: how much quicker (or slower) than usual each of them reads.
        sleeps: by point, the times in which the meter there has dozed off.
    """
    ac = Unit.VAC
    voices = (
        _talks("meter A", "B+1", "value_with_unit", 4.0 * pace, 6000, gain=0.0012),
        _talks("meter B", "B+2", "plain_number", 2.5 * pace, 20000, gain=-0.0008, ranges=(200.0, 1000.0)),
        _talks("meter C", "screen", "unit_first", 2.0 * pace, 4000, gain=0.0021),
        _asked("meter D", "V6 cathode", 0.2 / pace, 200000, ranges=(20.0, 200.0, 1000.0)),
        _asked("meter E", "regulator", 0.3 / pace, 20000, ranges=(20.0, 200.0, 1000.0)),
        _talks("meter F", "B+4", "value_with_unit", 2.0 * pace, 6000, gain=-0.0016),
        _talks("meter G", "mains", "value_with_unit", 2.0 * pace, 6000, unit=ac, ranges=(600.0,)),
        _talks("meter H", "heater", "unit_first", 1.0 * pace, 4000, unit=ac, ranges=(40.0,)),
        Voice(MeterModel("light sensor", "pilot", Unit.STATE, rate=5 * pace, window_s=0.1), "state", "lines"),
    )
    return tuple(_sleepy(voice, (sleeps or {}).get(voice.model.point, ())) for voice in voices)


def _sleepy(voice: Voice, sleeps: tuple[While, ...]) -> Voice:
    return replace(voice, model=replace(voice.model, sleeps=sleeps)) if sleeps else voice


def _talks(
    name: str, point: str, speaks: str, rate: float, counts: int, *, unit: Unit = Unit.V, gain: float = 0.0,
    ranges: tuple[float, ...] = (),
) -> Voice:  # fmt: skip
    model = MeterModel(
        name, point, unit, rate=rate, counts=counts, ranges=ranges or autoranges(counts), gain=gain,
        accuracy=_HANDHELD, says_unit=speaks != "plain_number", jitter_s=0.1 / rate,
    )  # fmt: skip
    return Voice(model, speaks, "lines", "0.5 % + 2 counts")


def _asked(name: str, point: str, every_s: float, counts: int, ranges: tuple[float, ...]) -> Voice:
    """A bench meter converts 12.5 times a second; it is asked less often."""
    model = MeterModel(
        name, point, rate=12.5, counts=counts, ranges=ranges, accuracy=_BENCH, noise=1.0,
        range_manner="skip", range_s=0.3,
    )  # fmt: skip
    return Voice(model, "scpi", "scpi", "0.05 % + 3 counts", every_s)


def bench_text(voices: Sequence[Voice], ports: Sequence[str]) -> str:
    """The bench file for these meters on these ports."""
    blocks = [_block(voice, port) for voice, port in zip(voices, ports, strict=True)]
    return "# The simulated bench of the Saltmarsh Six.\n\n" + "\n".join(blocks)


def _block(voice: Voice, port: str) -> str:
    model = voice.model
    lines = [
        "[[meter]]",
        f'name = "{model.name}"',
        f'driver = "{voice.driver}"',
        f'port = "{port}"',
        f'measures = "{model.unit.symbol}"',
        f'point = "{model.point}"',
    ]
    if voice.accuracy:
        lines += [f'accuracy = "{voice.accuracy}"', f'input_resistance = "{model.input_ohms / 1e6:g} Mohm"']
    if voice.asked_every_s is not None:
        lines.append(f'every = "{voice.asked_every_s:g} s"')
    return "\n".join(lines) + "\n"
