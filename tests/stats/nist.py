"""The NIST StRD nonlinear regression files: readings, starts and certified values; and their models."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

DATA = Path(__file__).parent / "data"


@dataclass(frozen=True)
class Certified:
    """One file."""

    x: Any
    y: Any
    starts: tuple[tuple[float, ...], tuple[float, ...]]
    values: Any
    sds: Any
    rss: float


def read(name: str) -> Certified:
    """The figures of one file as its header says where they are."""
    lines = (DATA / f"{name}.dat").read_text().splitlines()
    rows = [
        line.split("=", 1)[1].split() for line in lines[40:60] if line.strip().startswith("b") and "=" in line
    ]
    figures = np.array(rows, dtype=float)
    rss = next(float(line.split(":")[1]) for line in lines if line.startswith("Residual Sum of Squares"))
    table = np.array([line.split() for line in lines[60:] if line.strip()], dtype=float)
    return Certified(
        table[:, 1],
        table[:, 0],
        (tuple(figures[:, 0]), tuple(figures[:, 1])),
        figures[:, 2],
        figures[:, 3],
        rss,
    )


def lanczos(x: Any, b: Any) -> Any:
    return b[0] * np.exp(-b[1] * x) + b[2] * np.exp(-b[3] * x) + b[4] * np.exp(-b[5] * x)


def chwirut(x: Any, b: Any) -> Any:
    return np.exp(-b[0] * x) / (b[1] + b[2] * x)


def gauss(x: Any, b: Any) -> Any:
    return (
        b[0] * np.exp(-b[1] * x)
        + b[2] * np.exp(-((x - b[3]) ** 2) / b[4] ** 2)
        + b[5] * np.exp(-((x - b[6]) ** 2) / b[7] ** 2)
    )


MODELS: dict[str, Any] = {
    "Misra1a": lambda x, b: b[0] * (1.0 - np.exp(-b[1] * x)),
    "Misra1b": lambda x, b: b[0] * (1.0 - (1.0 + b[1] * x / 2.0) ** -2.0),
    "Misra1c": lambda x, b: b[0] * (1.0 - (1.0 + 2.0 * b[1] * x) ** -0.5),
    "Misra1d": lambda x, b: b[0] * b[1] * x / (1.0 + b[1] * x),
    "Lanczos1": lanczos,
    "Lanczos2": lanczos,
    "Lanczos3": lanczos,
    "Chwirut1": chwirut,
    "Chwirut2": chwirut,
    "DanWood": lambda x, b: b[0] * x ** b[1],
    "Gauss1": gauss,
    "Kirby2": lambda x, b: (b[0] + b[1] * x + b[2] * x**2) / (1.0 + b[3] * x + b[4] * x**2),
    "Rat42": lambda x, b: b[0] / (1.0 + np.exp(b[1] - b[2] * x)),
}
FILES = sorted(set(MODELS) - {"Misra1b", "Misra1c"})

X_POWERS: dict[str, tuple[int, ...]] = {
    "Misra1a": (0, -1), "Misra1d": (0, -1), "Lanczos1": (0, -1) * 3, "Lanczos2": (0, -1) * 3,
    "Lanczos3": (0, -1) * 3, "Chwirut1": (-1, 0, -1), "Chwirut2": (-1, 0, -1),
    "Gauss1": (0, -1, 0, 1, 1, 0, 1, 1), "Kirby2": (0, -1, -2, -1, -2), "Rat42": (0, 0, -1),
}  # fmt: skip
"""Power of the unit of x in each parameter; DanWood's is no power of a unit."""
Y_POWERS: dict[str, tuple[int, ...]] = {
    "Misra1a": (1, 0), "Misra1d": (1, 0), "Lanczos1": (1, 0) * 3, "Lanczos2": (1, 0) * 3,
    "Lanczos3": (1, 0) * 3, "Chwirut1": (0, -1, -1), "Chwirut2": (0, -1, -1),
    "DanWood": (1, 0), "Gauss1": (1, 0, 1, 0, 0, 1, 0, 0),
    "Kirby2": (1, 1, 1, 0, 0), "Rat42": (1, 0, 0),
}  # fmt: skip
"""Power of the unit of y in each parameter."""
