"""Labels of what went wrong in the set, and of the mains: told once, where it happened."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from benchtui.sim.mains import STEPS_PER_S
from benchtui.sim.truth import Label, labels_of, stretches

from ..case import Answer, Truth
from .view import FREE, MOVED, SLOW, View

LASTS_ON = 5.0
"""Seconds for which the set itself takes to come back after a deep or long fault: heaters, capacitors."""


def of_the_set(view: View) -> Iterator[Truth]:
    """Every spell of every fault, every lamp that went out, every sag."""
    labels = labels_of(view.evidence)
    spells: dict[str, list[Label]] = {}
    for label in labels:
        if label.kind in ("power_on", "power_off"):
            yield from _power(view, label)
        elif label.kind == "mains":
            yield from _sag(view, label)
        elif label.kind in ("fed_but_out", "starved"):
            yield _glow(view, label, labels)
        elif label.point == "pilot" and label.fault:
            yield _lamp(view, label, labels)
        elif label.fault:
            before = spells.setdefault(label.fault, [])
            close = bool(before) and label.start_s - _end(view, before[-1]) < 2 * view.slack(label.point)
            before.append(label)
            yield from _spell(view, label, close)
    for several in spells.values():
        yield from _often(view, several)
    yield from _wandering(view)
    yield from _swings(view)


def _power(view: View, label: Label) -> Iterator[Truth]:
    """A must where it is marked or the mains is measured; else a fall may be told as what it looks like."""
    told = "mains" in view.meters or view.plot.seed % 2 == 0
    slack, at = 3.0 + view.slack(None), label.start_s
    late = slack if told else slack + 40
    yield Truth(label.kind, ((label.kind, None),), at, at, told, slack, late)
    if label.kind == "power_off" and not told:
        on = next((t for t, state in view.evidence.run.power if state and t > at), view.until)
        kinds = (*MOVED, "outside", "starved", "limit", "unsettled", "fed_but_out")
        accept = (("mains", None), *((kind, point) for kind in kinds for point in view.meters))
        yield Truth("power off, unmarked", accept, at, on + 60, False, 3.0, on + 60 - at, True)


def _end(view: View, label: Label) -> float:
    return view.until if label.end_s is None else label.end_s


def _spell(view: View, label: Label, close: bool) -> Iterator[Truth]:
    """One spell; `close` behind another it may be told as one with that."""
    point, end = str(label.point), _end(view, label)
    kinds = (label.kind, *label.or_kinds)
    slow = label.kind == "drift" or label.fault == "v6_heater_joint"
    if label.kind == "step":
        kinds = (*kinds, "dropout") if abs(label.depth) > 0.5 * view.level(point) else kinds
    if label.kind == "dropout" and end - label.start_s > 20:
        kinds = (*kinds, "step")
    if slow:
        kinds = tuple(dict.fromkeys((*kinds, *SLOW, *MOVED)))
    shown = point in view.meters and view.read_in(point, label.start_s, end) >= 2
    least = 5 if slow else 1
    must = (
        label.visible
        and shown
        and not close
        and view.sure(point, end - label.start_s)
        and _clear(view, label, least)
    )
    if label.kind == "chatter":
        must = must and end - label.start_s > 20 and view.meters[point].rate >= 0.8
    slack = view.slack(point)
    late = slack
    if slow or label.kind == "chatter":
        late = max(slack, 0.9 * (end - label.start_s))
    accept: list[Answer] = [(kind, point) for kind in kinds]
    if not must:
        accept += [(kind, child) for child in view.below(point) for kind in MOVED]
    marked = _tapped_before(view, label.start_s)
    # Of a slow walk nobody can tell the beginning: a finding may lay it where the point last stood still.
    early = max(60.0, 0.3 * (end - label.start_s)) if slow else slack
    yield Truth(label.fault, tuple(accept), label.start_s, end, must, early, late, slow, marked)
    if label.kind == "chatter":
        yield _may(view, point, FREE, label.start_s, end)
    if slow:
        yield _may(view, point, (*FREE, "unsettled"), label.start_s - early, end)
    if label.point == "regulator":
        yield _may(view, "regulator", ("fed_but_out", "starved"), label.start_s - early, end)
    yield from _beside(view, label, label.start_s - early, end)


def _clear(view: View, label: Label, least: float) -> bool:
    """Whether the greatest departure, as the meter averages it, stands clear."""
    point = str(label.point)
    meter = view.meters.get(point)
    if meter is None:
        return False
    a, b = round(label.start_s * STEPS_PER_S), round(_end(view, label) * STEPS_PER_S)
    was, would = view.evidence.column(point)
    apart = was[a : b + 1] - would[a : b + 1]
    window = max(1, round(meter.averages_s * STEPS_PER_S))
    if len(apart) < window:
        return False
    mean = np.convolve(apart, np.ones(window) / window, mode="valid")
    if label.kind == "chatter":
        return view.clear(point, float(np.ptp(mean)) / 2.5)
    return view.clear(point, float(np.abs(mean).max()) / least)


def _tapped_before(view: View, start: float) -> float | None:
    taps = [
        round(a.at_s, 3) for a in view.evidence.run.done if a.what == "tap" and -0.05 <= start - a.at_s <= 0.6
    ]
    return taps[0] if taps else None


def _beside(view: View, label: Label, start: float, end: float) -> Iterator[Truth]:
    """Other points that moved.

    Those below the point are its consequence and not told again, unless they are tubes with states of their
    own; those above or beside it may be told: the chart does not say how much a load moves its feed.
    """
    below = view.below(str(label.point))
    unmeasured = label.point not in view.meters
    for other in label.also:
        if other not in below or other in ("regulator", "pilot") or unmeasured:
            yield _may(view, other, (*FREE, "starved", "unsettled", "fed_but_out"), start, end)


def _may(view: View, point: str, kinds: tuple[str, ...], start: float, end: float) -> Truth:
    slack = view.slack(point)
    late = end - start + slack + LASTS_ON
    return Truth("allowed", tuple((k, point) for k in kinds), start, end, False, slack, late, True)


def _often(view: View, labels: list[Label]) -> Iterator[Truth]:
    """Where a part comes and goes often, the whole may be told as one restless stretch."""
    if len(labels) > 1 and labels[0].kind == "dropout":
        point = str(labels[0].point)
        yield _may(view, point, ("chatter",), labels[0].start_s, _end(view, labels[-1]))


def _lamp(view: View, label: Label, labels: tuple[Label, ...]) -> Truth:
    """A lamp that went out: a must where its own age put it out, else free beside what starved it."""
    end, slack = _end(view, label), view.slack("pilot")
    own = any(o.kind == "fed_but_out" and o.start_s == label.start_s for o in labels)
    must = own and view.sure("pilot", end - label.start_s)
    accept = tuple((kind, "pilot") for kind in (label.kind, *label.or_kinds))
    return Truth("lamp out", accept, label.start_s, end, must, slack, slack)


def _glow(view: View, label: Label, labels: tuple[Label, ...]) -> Truth:
    """Fed but out is a must where the lamp's feed was read; starved may be left to the feed's finding."""
    point, end = str(label.point), _end(view, label)
    slack = view.slack(point) + view.slack("B+4")
    must = label.kind == "fed_but_out" and {"pilot", "B+4"} <= set(view.meters) and end - label.start_s > 10
    must = must and view.read_in("B+4", label.start_s - 20, label.start_s + 1) >= 2
    return Truth(label.kind, ((label.kind, point),), label.start_s, end, must, slack, slack, not must)


def _sag(view: View, label: Label) -> Iterator[Truth]:
    """Told once, of no point; a must where the mains' own meter shows it, or three others do."""
    end, slack = _end(view, label), view.slack(None)
    depth = abs(label.depth)
    shows = [
        p for p in ("mains", "heater", "B+1", "V6 cathode")
        if p in view.meters and view.sure(p, end - label.start_s)
        and view.clear(p, 0.8 * depth * view.level(p))
    ]  # fmt: skip
    warm = bool(view.powered(warm=True)[round(label.start_s * STEPS_PER_S)])
    must = warm and ("mains" in shows or len(shows) >= 3)
    accept: list[Answer] = [("mains", None)]
    if not view.tells_mains():
        accept += [(kind, p) for p in ("B+1", "V6 cathode") for kind in MOVED]
    yield Truth("sag", tuple(accept), label.start_s, end, must, slack, slack + (0 if must else 3), not must)
    yield Truth(
        "sag again", (("mains", None),), label.start_s, end + 20, False, slack, end - label.start_s + 25, True
    )
    for point in ("regulator", "pilot"):
        yield _may(view, point, (*MOVED, "starved"), label.start_s, end)
    if not must:
        for point in view.meters:
            yield _may(view, point, MOVED, label.start_s, end)


def _wandering(view: View) -> Iterator[Truth]:
    """The mains by itself moved by half a percent within a minute and a half: it may be told, of no point."""
    every = STEPS_PER_S // 2
    mains = view.true("mains")[::every]
    on = mains > 50
    wide = 2 * 90
    for a, b in stretches(on):
        course = mains[a:b]
        moved = np.array([
            float(np.ptp(course[max(0, i - wide) : i + 1])) > 0.005 * 230 for i in range(len(course))
        ])  # fmt: skip
        for first, last in stretches(moved):
            start, end = (a + first) / 2, (a + last) / 2
            yield Truth("mains wander", (("mains", None),), start, end, False, 20.0, end - start + 20.0, True)


def _swings(view: View) -> Iterator[Truth]:
    """On a slow bring-up the mains may be told at each turn of the variable transformer."""
    for act in view.evidence.run.done:
        if act.what == "variac":
            yield Truth(
                "variac", (("mains", None),), act.at_s, act.at_s, False, 5.0, view.slack(None) + 10, True
            )
            for point in ("pilot", "regulator"):
                kinds = (*MOVED, "starved", "fed_but_out", "chatter")
                yield _may(view, point, kinds, act.at_s, act.at_s + 60)
