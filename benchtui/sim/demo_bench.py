"""The bench of the demo: nine meters of many makes' manners, each with its own wire format."""

from __future__ import annotations

from collections.abc import Sequence

from benchtui.model.readings import Accuracy
from benchtui.model.units import Unit

from .metermodel import MeterModel, While, autoranges
from .talker import Voice

_HANDHELD, _BENCH = Accuracy(0.005, 2), Accuracy(0.0005, 3)


def demo_voices(sleeps: tuple[While, ...] = ()) -> tuple[Voice, ...]:
    """The meters of the demo bench; `sleeps` are the times in which the one on the heater has dozed off."""
    return (
        _talks("meter A", "B+1", "value_with_unit", 4.0, 6000, gain=0.0012),
        _talks("meter B", "B+2", "plain_number", 2.5, 20000, gain=-0.0008, ranges=(200.0, 1000.0)),
        _talks("meter C", "screen", "unit_first", 2.0, 4000, gain=0.0021),
        _asked("meter D", "V6 cathode", "0.2 s", 200000, ranges=(20.0, 200.0, 1000.0)),
        _asked("meter E", "regulator", "0.3 s", 20000, ranges=(20.0, 200.0, 1000.0)),
        _talks("meter F", "B+4", "value_with_unit", 2.0, 6000, gain=-0.0016),
        _talks("meter G", "mains", "value_with_unit", 2.0, 6000, unit=Unit.VAC, ranges=(600.0,)),
        _talks("meter H", "heater", "unit_first", 1.0, 4000, unit=Unit.VAC, ranges=(40.0,), sleeps=sleeps),
        Voice(MeterModel("light sensor", "pilot", Unit.STATE, rate=5.0, window_s=0.1), "state", "lines"),
    )


def _talks(
    name: str, point: str, speaks: str, rate: float, counts: int, *, unit: Unit = Unit.V, gain: float = 0.0,
    ranges: tuple[float, ...] = (), sleeps: tuple[While, ...] = (),
) -> Voice:  # fmt: skip
    model = MeterModel(
        name, point, unit, rate=rate, counts=counts, ranges=ranges or autoranges(counts), gain=gain,
        accuracy=_HANDHELD, sleeps=sleeps, says_unit=speaks != "plain_number", jitter_s=0.1 / rate,
    )  # fmt: skip
    return Voice(model, speaks, "lines", "0.5 % + 2 counts")


def _asked(name: str, point: str, every: str, counts: int, ranges: tuple[float, ...]) -> Voice:
    model = MeterModel(
        name, point, rate=12.5, counts=counts, ranges=ranges, accuracy=_BENCH, noise=2.0, range_manner="skip",
        range_s=0.3,
    )  # fmt: skip
    return Voice(model, "scpi", "scpi", "0.05 % + 3 counts", f'every = "{every}"')


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
    if voice.option:
        lines.append(voice.option)
    return "\n".join(lines) + "\n"
