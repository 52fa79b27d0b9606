"""The simulated Saltmarsh Six and its speaking meters."""

from .catalogue import FAULTS, make_fault
from .mains import MainsCharacter
from .metermodel import MeterModel, autoranges, bench_of
from .script import Act, bring_up, once
from .simulate import Simulated, chart_text, simulate
from .truth import Label

__all__ = [
    "FAULTS", "Act", "Label", "MainsCharacter", "MeterModel", "Simulated", "autoranges", "bench_of",
    "bring_up", "chart_text", "make_fault", "once", "simulate",
]  # fmt: skip
