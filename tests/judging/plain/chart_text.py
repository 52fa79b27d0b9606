"""The chart of a made-up set, written as a person would write it."""

from __future__ import annotations

import numpy as np

from .sets import Node, Plan, Rng


def chart_text(plan: Plan, rng: Rng) -> str:
    """TOML as `design.md` describes it, with the trade's several ways of writing a quantity."""
    head = [
        "[set]",
        f'name = "{plan.name}"',
        f'mains = "{plan.mains:g} V"',
        f'rectifier = "{plan.rectifier}"',
    ]
    head += ['filter = "capacitor"'] if rng.random() < 0.6 else []
    head += ['chassis = "isolated"'] if rng.random() < 0.3 else []
    blocks = ["\n".join(head)]
    blocks += ["\n".join(_point(node, plan, rng)) for node in plan.nodes.values()]
    return "\n\n".join(blocks) + "\n"


def _point(node: Node, plan: Plan, rng: Rng) -> list[str]:
    lines = ["[[glow]]" if node.strikes is not None else "[[point]]", f'name = "{node.name}"']
    if node.kind == "lamp":
        lines += ['nominal = "lit"', "seen = true"]
    else:
        lines += [f'nominal = "{quantity(node.nominal, node.unit)}"', *_band(node, rng)]
    if node.parent is not None and node.declared:
        lines.append(f'fed_from = "{node.parent}"')
        if node.ohms is not None and (node.strikes is not None or rng.random() < 0.6):
            lines.append(f'through = "{ohms(node.ohms, rng)}"')
    if node.limit is not None:
        lines.append(f'limit = "{quantity(node.limit, node.unit)}"')
    if node.surge is not None:
        lines.append(f'surge = "{quantity(node.surge, node.unit)} for {node.surge_s:g} s"')
    if node.bleed_s is not None:
        lines.append(f'bleed = "{node.bleed_s:g} s"')
    if node.strikes is not None and node.holds is not None:
        lines.append(f'strikes = "{node.strikes[0]:g} V .. {node.strikes[1]:g} V"')
        lines.append(f'holds = "{node.holds[0]:g} V .. {node.holds[1]:g} V"')
    if node.kind == "regulated":
        lines += ['current = "5 mA .. 30 mA"', "follows_mains = false"]
    if node.programme:
        lines.append('moves = "programme"')
    return lines


def _band(node: Node, rng: Rng) -> list[str]:
    if node.tolerance is None:
        if node.low is None or node.high is None:
            return []
        return [f'low = "{quantity(node.low, node.unit)}"', f'high = "{quantity(node.high, node.unit)}"']
    below, above = node.tolerance
    edges = sorted((node.nominal * (1 - below), node.nominal * (1 + above)))
    node.low, node.high = edges[0], edges[1]
    if node.limit is not None:
        node.limit = max(node.limit, node.high)
        node.surge = None if node.surge is None else max(node.surge, node.limit)
    if rng.random() < 0.25:
        return [f'low = "{quantity(edges[0], node.unit)}"', f'high = "{quantity(edges[1], node.unit)}"']
    if below != above:
        return [f'tolerance = "+{100 * above:g} % -{100 * below:g} %"']
    return [f'tolerance = "{"±" if rng.random() < 0.3 else ""}{100 * above:g} %"']


def quantity(value: float, unit: str) -> str:
    """`285 V`, `6.3 Vac`, `-12 V`."""
    return f"{np.round(value, 6):g} {unit}"


def ohms(value: float, rng: Rng) -> str:
    """`2.2 kohm` or `2k2`."""
    if value >= 1000 and rng.random() < 0.5:
        return f"{value / 1000:.4g} kohm"
    if 1000 <= value < 10000:
        tenths = round(value / 100)
        return f"{tenths // 10}k{tenths % 10}" if tenths % 10 else f"{tenths // 10}k"
    return f"{value / 1000:.4g} kohm" if value >= 1000 else f"{value:.4g} ohm"
