"""Nodal analysis in time: implicit steps, Newton's method, several variants of one set side by side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .circuit import GROUND, Circuit

Array = NDArray[np.float64]
_LEAK = 1e-10
"""Siemens from every node to chassis: nothing floats."""
_MOST, _STRIDE = 15, 90.0
"""Newton's steps, and the greatest of them in volts: no anode is to leap over its knee."""


@dataclass(frozen=True, slots=True)
class Network:
    """A circuit as matrices: currents enter by `into`, elements are driven by `drive` and `across`."""

    nodes: dict[str, int]
    linear: Array
    """Incidence of the resistors and capacitors."""
    into: Array
    drive: Array
    across: Array
    capacitor: NDArray[np.bool_]
    value: Array
    emf: Array
    gain: Array
    knee: Array
    holds: Array
    strikes: Array
    least: Array
    warm: list[int]
    """Place of the valve that warms each supply and stream; -1 for none."""
    names: dict[str, list[int]]
    """Part -> its places: resistors and capacitors first, then supplies, streams and tubes."""
    counts: tuple[int, int, int, int]


def compiled(circuit: Circuit) -> Network:
    """The matrices of a circuit."""
    nodes: dict[str, int] = {}

    def at(node: str) -> int:
        return nodes.setdefault(node, len(nodes)) if node != GROUND else -1

    pairs = [(b.a, b.b) for b in circuit.branches]
    flows = [(s.neg, s.pos) for s in circuit.supplies]
    flows += [(s.plate, s.cathode) for s in circuit.streams] + [(t.a, t.b) for t in circuit.tubes]
    drives = [((s.neg, 1.0), (s.pos, -1.0)) for s in circuit.supplies]
    drives += [s.control for s in circuit.streams]  # type: ignore[misc]
    drives += [((t.a, 1.0), (t.b, -1.0)) for t in circuit.tubes]
    for a, b in pairs + flows:
        at(a), at(b)
    for control in drives:
        for node, _ in control:
            at(node)
    size = len(nodes)

    def rows(listed: list[tuple[str, str]]) -> Array:
        found = np.zeros((len(listed), size + 1))
        for row, (a, b) in enumerate(listed):
            found[row, at(a)] += 1
            found[row, at(b)] -= 1
        return found[:, :size]

    drive = np.zeros((len(drives), size + 1))
    for row, control in enumerate(drives):
        for node, weight in control:
            drive[row, at(node)] += weight
    valves = {name: place for place, name in enumerate(circuit.valves)}
    names: dict[str, list[int]] = {}
    of = [b.name for b in circuit.branches] + [s.name for s in circuit.supplies]
    of += [s.valve for s in circuit.streams] + [t.name for t in circuit.tubes]
    for place, name in enumerate(of):
        names.setdefault(name, []).append(place)
    return Network(
        nodes, rows(pairs), rows(flows), drive[:, :size], rows(flows),
        np.array([b.capacitor for b in circuit.branches]), np.array([b.value for b in circuit.branches]),
        np.array([s.emf for s in circuit.supplies]),
        np.array([1 / s.ohms for s in circuit.supplies] + [s.k for s in circuit.streams]
                 + [1 / t.ohms for t in circuit.tubes]),
        np.array([s.knee for s in circuit.streams]), np.array([t.holds for t in circuit.tubes]),
        np.array([t.strikes for t in circuit.tubes]), np.array([t.least for t in circuit.tubes]),
        [valves[s.warm] if s.warm else -1 for s in circuit.supplies]
        + [valves[s.valve] for s in circuit.streams],
        names, (len(pairs), len(circuit.supplies), len(circuit.streams), len(circuit.tubes)),
    )  # fmt: skip


def solve(
    net: Network, t: Array, mains: Array, warm: Array, factors: Mapping[str, Array]
) -> tuple[Array, NDArray[np.bool_]]:
    """Node voltages (time, variant, node) and which tubes are lit (time, variant, tube).

    `mains` (time, variant) is 1 at the chart's mains; `warm` (time, variant, valve) is 1 for a warm
    cathode. `factors` change parts of variant 0 alone: of a resistance or capacitance, else of a current.
    """
    nl, ns, nv, nt = net.counts
    variants = mains.shape[1]
    scale = np.ones((variants, nl + ns + nv + nt))
    changing = [(net.names[name], f) for name, f in factors.items()]
    v = np.zeros((variants, len(net.nodes)))
    lit = np.zeros((variants, nt), dtype=np.bool_)
    out = np.zeros((len(t), *v.shape))
    shining = np.zeros((len(t), variants, nt), dtype=np.bool_)
    warmed = np.concatenate([warm, np.ones((*warm.shape[:2], 1))], axis=2)[:, :, net.warm]
    steps = np.diff(t, prepend=t[0] - 1e-3)
    conduct = np.zeros((variants, nl))
    matrix = np.zeros((variants, v.shape[1], v.shape[1]))
    held: tuple[float, bytes] | None = None
    for i, dt in enumerate(steps.tolist()):
        for places, factor in changing:
            scale[0, places] = factor[i]
        key = (round(dt, 6), scale[0, :nl].tobytes())
        if key != held:
            held = key
            conduct = np.where(net.capacitor, net.value * scale[:, :nl] / dt, 1 / (net.value * scale[:, :nl]))
            matrix = (net.linear.T * conduct[:, None, :]) @ net.linear + _LEAK * np.eye(v.shape[1])
        history = (np.where(net.capacitor, conduct * (v @ net.linear.T), 0.0)) @ net.linear
        gain = net.gain * scale[:, nl:]
        gain[:, : ns + nv] *= warmed[i]
        for _ in range(_MOST):
            current, by_drive, by_across = _elements(net, v, mains[i], gain, lit)
            slope = net.into.T @ (by_drive[:, :, None] * net.drive + by_across[:, :, None] * net.across)
            left = (matrix @ v[:, :, None])[:, :, 0] - history + current @ net.into
            move = np.linalg.solve(matrix + slope, -left[:, :, None])[:, :, 0]
            v = v + np.clip(move, -_STRIDE, _STRIDE)
            if np.abs(move).max() < 0.02:
                break
        if nt:
            over = v @ net.across[ns + nv :].T
            through = (over - net.holds) * gain[:, ns + nv :]
            lit = np.where(lit, through > net.least, over > net.strikes) & (gain[:, ns + nv :] > 0)
        out[i], shining[i] = v, lit
    return out, shining


def _elements(
    net: Network, v: Array, mains: Array, gain: Array, lit: NDArray[np.bool_]
) -> tuple[Array, Array, Array]:
    """Currents of the elements, and their slopes by what drives them and by what stands across them."""
    _, ns, nv, nt = net.counts
    u = v @ net.drive.T
    u[:, :ns] += net.emf * mains[:, None]
    current, by_drive, by_across = (np.zeros_like(u) for _ in range(3))
    push = gain[:, :ns] * (u[:, :ns] > 0)
    current[:, :ns], by_drive[:, :ns] = push * u[:, :ns], push
    of = slice(ns, ns + nv)
    drive, over = np.maximum(u[:, of], 0.0), v @ net.across[of].T
    plate = np.maximum(over, 0.0)  # below its cathode it goes on as a resistance
    root = gain[:, of] * np.sqrt(drive)
    share = np.where(over > 0, plate / (plate + net.knee), over / net.knee)
    current[:, of], by_drive[:, of] = root * drive * share, 1.5 * root * share
    by_across[:, of] = root * drive * net.knee / (plate + net.knee) ** 2
    if nt:
        glow = gain[:, ns + nv :] * lit
        current[:, ns + nv :], by_drive[:, ns + nv :] = glow * (u[:, ns + nv :] - net.holds), glow
    return current, by_drive, by_across
