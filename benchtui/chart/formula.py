"""Formulas over points, like `k / (270 * ohm)`, checked and ready to be worked out: plain arithmetic."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from typing import TypeAlias

from benchtui.model.units import Unit

from .dimension import Dimension, unit_of

Step: TypeAlias = float | str
"""A number, the name of a point, or an operator `+ - * / neg` or `^n`, in postfix order."""


@dataclass(frozen=True, slots=True)
class Formula:
    """A checked formula."""

    names: frozenset[str]
    """The names that it uses, of those given."""
    dimension: Dimension
    steps: tuple[tuple[str, Step], ...]
    """(`number` | `name` | `do`, what), in postfix order; numbers in SI units."""

    @property
    def unit(self) -> Unit:
        """What the formula comes out in; UNKNOWN for a plain number."""
        return unit_of(self.dimension)

    def value(self, given: Mapping[str, float]) -> float:
        """The formula at these values, in SI units; NaN where it divides by zero or overflows."""
        stack: list[float] = []
        try:
            for kind, step in self.steps:
                if kind == "do":
                    _do(str(step), stack)
                else:
                    stack.append(given[step] if isinstance(step, str) else step)
        except (ZeroDivisionError, OverflowError):
            return float("nan")
        return stack[0] if isfinite(stack[0]) else float("nan")


def _do(step: str, stack: list[float]) -> None:
    if step == "neg":
        stack[-1] = -stack[-1]
    elif step.startswith("^"):
        stack[-1] = stack[-1] ** int(step[1:])
    else:
        b = stack.pop()
        a = stack[-1]
        stack[-1] = a + b if step == "+" else a - b if step == "-" else a * b if step == "*" else a / b
