"""What a general-purpose method is given of a case: each point's readings while the set is on and warm."""

from __future__ import annotations

import csv
import io
import tomllib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .case import Case

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Series:
    """One point's readings within one stretch of being on, after a hold-off for warming."""

    point: str
    t: Array
    x: Array
    count: float
    """Resolution."""
    period_s: float


@dataclass(frozen=True, slots=True)
class Wiring:
    """What the chart says of the points' places."""

    feeds: dict[str, str]
    ac: frozenset[str]

    def above(self, point: str) -> list[str]:
        """All points that feed this one, nearest first."""
        found: list[str] = []
        while point in self.feeds and self.feeds[point] not in found:
            point = self.feeds[point]
            found.append(point)
        return found


def series(case: Case, hold_s: float) -> tuple[list[Series], Wiring]:
    """All judged stretches of a case. Marks, the mains meter or the first rise say when the set was on."""
    chart = tomllib.loads(case.chart)
    points = {p["name"]: p for p in chart["point"] + chart.get("glow", [])}
    units = {name: str(p["nominal"]).split()[-1] for name, p in points.items() if p["nominal"] != "lit"}
    rows: dict[str, list[tuple[float, float, float]]] = {}
    for row in csv.DictReader(io.StringIO(case.readings)):
        if row["unit"] == units.get(row["point"], "V") and row["value"] and "hold" not in row["flag"]:
            count = 10.0 ** -len(row["value"].partition(".")[2])
            rows.setdefault(row["point"], []).append((float(row["t_s"]), float(row["value"]), count))
    columns = {name: np.array(r) for name, r in rows.items() if len(r) > 40}
    wiring = Wiring(
        {name: p["fed_from"] for name, p in points.items() if "fed_from" in p},
        frozenset(name for name, unit in units.items() if unit == "Vac"),
    )
    runs = _runs(case, columns)
    found = []
    for name, column in columns.items():
        if points.get(name, {}).get("moves") == "programme":
            continue
        for on, off in runs:
            inside = column[(column[:, 0] > on + hold_s) & (column[:, 0] < off)]
            if len(inside) > 30:
                t, x, counts = inside.T
                found.append(Series(name, t, x, float(np.median(counts)), float(np.median(np.diff(t)))))
    return found, wiring


def _runs(case: Case, columns: dict[str, Array]) -> list[tuple[float, float]]:
    marks = [(float(m["t_s"]), m["kind"]) for m in csv.DictReader(io.StringIO(case.marks))]
    on = [t for t, kind in marks if kind == "on"]
    off = [t for t, kind in marks if kind == "off"]
    if on or off:
        starts = on if on and (not off or on[0] < off[0]) else [-1e4, *on]
        return [(a, next((b for b in off if b > a), np.inf)) for a in starts]
    watched = next((c for name, c in columns.items() if name.lower() == "mains"), None)
    if watched is None:
        watched = max(columns.values(), key=lambda c: float(np.median(np.abs(c[:, 1]))))
    live = np.abs(watched[:, 1]) > 0.1 * np.quantile(np.abs(watched[:, 1]), 0.9)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], live, [False]]).astype(int)))
    t = np.append(watched[:, 0], np.inf)
    spans = [(float(t[a]), float(t[b])) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return [(-1e4 if a < 2.5 else a, b) for a, b in spans if b - a > 20]
