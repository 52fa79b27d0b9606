"""A finding as a sentence that a technician would say."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from benchtui.chart.chart import Chart
from benchtui.model.findings import Finding
from benchtui.model.notes import plain
from benchtui.model.units import BY_SYMBOL, Unit
from benchtui.watch.place.verdict import SLIPPED

PREFIXES = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n"))


def sentence(finding: Finding, chart: Chart) -> str:
    """One sentence; no control characters, whatever the names hold."""
    say = _SAY.get(finding.kind)
    text = say(finding, chart) if say is not None else finding.kind.replace("_", " ")
    return plain(text)


def amount(value: float | None, unit: Unit, digits: int = 3) -> str:
    """A quantity with three digits and an engineering prefix; `?` where there is none."""
    if value is None:
        return "?"
    symbol = unit.symbol
    if unit is Unit.STATE:
        return "lit" if value > 0.5 else "out"
    if unit in (Unit.V, Unit.VAC, Unit.UNKNOWN) and (abs(value) >= 1.0 or value == 0):
        return f"{_digits(value, digits)} {symbol}".rstrip()
    for size, prefix in PREFIXES:
        if abs(value) >= size * 0.9995:
            return f"{_digits(value / size, digits)} {prefix}{symbol}".rstrip()
    return f"{value:g} {symbol}".rstrip()


def _digits(value: float, digits: int) -> str:
    size = abs(value)
    places = 0
    while places < digits - 1 and size < 10 ** (digits - 1 - places):
        places += 1
    return f"{value:.{places}f}"


def span(seconds: float | None) -> str:
    """A stretch of time as one says it: 0.4 s, 12 s, 3:07, 2 h 05 min."""
    if seconds is None:
        return "?"
    if seconds < 9.95:
        return f"{seconds:.1f} s"
    if seconds < 60:
        return f"{seconds:.0f} s"
    whole = round(seconds)
    if whole < 3600:
        return f"{whole // 60}:{whole % 60:02d}"
    return f"{whole // 3600} h {whole % 3600 // 60:02d} min"


def _unit(f: Finding, chart: Chart) -> Unit:
    told = BY_SYMBOL.get(str(f.evidence.get("unit", "")))
    if told is not None:
        return told
    point = chart.point(f.point) if f.point else None
    return point.unit if point is not None else Unit.UNKNOWN


def _name(f: Finding) -> str:
    return f.point or "the set"


def _after(f: Finding) -> str:
    mark = f.evidence.get("after_mark")
    if mark is None:
        return ""
    return f", {span(f.start_ns / 1e9 - mark)} after {f.evidence.get('mark') or 'a mark'}"


def _with(f: Finding) -> str:
    """Those that went the same way."""
    also = f.evidence.get("also") or ()
    return "" if not also else f"; {', '.join(also)} with it"


def _too(f: Finding, chart: Chart) -> str:
    """Those that moved at the same time: the evidence does not say which way."""
    moved: list[str] = []
    out: list[str] = []
    for name in f.evidence.get("also") or ():
        point = chart.point(name)
        (out if point is not None and point.unit is Unit.STATE else moved).append(name)
    said = [f"{', '.join(moved)} moved too"] if moved else []
    return "".join(f"; {t}" for t in (*said, *([f"{', '.join(out)} went out"] if out else [])))


def _power_on(f: Finding, chart: Chart) -> str:
    how = {"mains": "the mains meter shows it", "mark": "as marked", "heater": "the heaters show it"}
    return f"Power on, run {f.evidence.get('run')}: {how.get(f.evidence['source'], 'a point has risen')}"


def _power_off(f: Finding, chart: Chart) -> str:
    on = f.evidence.get("on_for_s")
    return "Power off" + ("" if on is None else f" after {span(on)}") + "; the capacitors may hold charge"


def _settled(f: Finding, chart: Chart) -> str:
    took = f.evidence.get("took_s")
    return f"{_name(f)} settled at {amount(f.evidence['value'], _unit(f, chart))}" + (
        "" if took is None else f", {span(took)} after power-on"
    )


def _unsettled(f: Finding, chart: Chart) -> str:
    value = amount(f.evidence["value"], _unit(f, chart))
    return f"{_name(f)} should have settled by now and still moves: {value}{_with(f)}"


def _limit(f: Finding, chart: Chart) -> str:
    e, unit = f.evidence, _unit(f, chart)
    text = f"{_name(f)} {amount(e['peak'], unit)}, never above {amount(e['rating'] or e['surge'], unit)}"
    if not e["confirmed"]:
        text += "; one reading only, unconfirmed"
        if e.get("like_slipped_point"):
            text += " (ten times its level: perhaps a slipped decimal point)"
    return text


def _outside(f: Finding, chart: Chart) -> str:
    e, unit = f.evidence, _unit(f, chart)
    if unit is Unit.STATE:
        return f"{_name(f)} is out and should be lit"
    by = abs(e["by"]) if e.get("by") is not None else None
    return (
        f"{_name(f)} reads {amount(e['value'], unit)}, {amount(by, unit)} too {e['side']}"
        f" ({amount(e['low'], unit)} to {amount(e['high'], unit)})"
    )


def _dropout(f: Finding, chart: Chart) -> str:
    e, unit = f.evidence, _unit(f, chart)
    lasted = "" if f.end_ns is None else f" for {span((f.end_ns - f.start_ns) / 1e9)}"
    if unit is Unit.STATE:
        feed = "" if e.get("feed_value") is None else f"; {e['feed']} had {amount(e['feed_value'], Unit.V)}"
        what = "went out" if not lasted else f"was out{lasted}"
        return f"{_name(f)} {what}{feed}{_after(f)}"
    depth = e["depth"]
    verb = "fell" if depth * e["level"] < 0 else "jumped"
    back = lasted if lasted else " and has not come back"
    by = amount(abs(depth), unit)
    slipped = f": {SLIPPED}" if e.get("why") == SLIPPED else ""
    level = amount(e["level"], unit)
    return f"{_name(f)} {verb} by {by} from {level}{back}{_after(f)}{_too(f, chart)}{slipped}"


def _step(f: Finding, chart: Chart) -> str:
    e, unit = f.evidence, _unit(f, chart)
    stands = e.get("stands_at")
    to = e["level"] + e["depth"] if stands is None else stands
    moved = f"moved from {amount(e['level'], unit)} to {amount(to, unit)}"
    return f"{_name(f)} {moved} and stays{_after(f)}{_too(f, chart)}"


def _drift(f: Finding, chart: Chart) -> str:
    e, unit = f.evidence, _unit(f, chart)
    moved = f"from {amount(e['level'], unit)} to {amount(e['value'], unit)}"
    text = f"{_name(f)} moves slowly {moved}, {amount(e['per_h'], unit)} an hour"
    if e.get("leaves_s") is not None:
        text += f": it will leave its band in {span(e['leaves_s'] - f.found_ns / 1e9)}"
    return text + _too(f, chart)


def _departs(f: Finding, chart: Chart) -> str:
    e, unit = f.evidence, _unit(f, chart)
    stands = f"{amount(e['value'], unit)} is {100 * e['part']:.0f} % of the chart's for this mains"
    full = "" if e.get("mains") is None else f" ({100 * e['mains']:.0f} % of the full)"
    was = f"it had stood at {100 * e['was']:.0f} %"
    return f"{_name(f)} left the course of the bring-up: {stands}{full}; {was}{_with(f)}{_after(f)}"


def _slow_bleed(f: Finding, chart: Chart) -> str:
    e, unit = f.evidence, _unit(f, chart)
    return (
        f"{_name(f)} still reads {amount(e['value'], unit)} {span(e['allowed_s'])} after power-off;"
        f" by then it should be below {amount(e['below'], unit)}"
    )


def _chatter(f: Finding, chart: Chart) -> str:
    e, unit = f.evidence, _unit(f, chart)
    by = amount(abs(e["depth"]), unit)
    often = f"{e['count']} times away" if e["count"] > 1 else "to and fro"
    return f"{_name(f)} is restless: {often}, by up to {by}{_after(f)}{_too(f, chart)}"


def _mains(f: Finding, chart: Chart) -> str:
    e = f.evidence
    how = "moved and stays" if e.get("stays") else "moved and came back"
    return f"The mains {how}: {100 * e['relative']:+.1f} % on {e['shown_by']}{_with(f)}"


def _glow(f: Finding, chart: Chart) -> str:
    e = f.evidence
    had = f"{e['feed']} had {amount(e['feed_value'], Unit.V)}"
    if f.kind == "starved" and e.get("point_value") is not None:
        if e.get("feed_value") is not None and abs(e["feed_value"]) >= abs(e["strikes"][1]):
            return f"{_name(f)} lacked voltage{_after(f)} though {had}: {_between(e)}"
        own = f"it had {amount(e['point_value'], Unit.V)} itself"
        beside = f"; {had}" if e.get("feed") is not None and e.get("feed_value") is not None else ""
        return f"{_name(f)} was starved: {own}, it {_holds_from(e)}{beside}{_after(f)}"
    if f.kind == "starved":
        needs = f"strikes from {amount(e['strikes'][0], Unit.V)}" if e.get("never_lit") else _holds_from(e)
        return f"{_name(f)} was starved: {had}, it {needs}{_after(f)}"
    strikes, holds = e["strikes"][1], e["holds"][1]
    must = ("strike by", strikes) if abs(e["feed_value"]) >= strikes else ("hold down to", holds)
    needs = f"must {must[0]} {amount(must[1], Unit.V)}"
    return f"{_name(f)} was fed but out: {had}, {needs}: {e['suspects']}{_after(f)}"


def _between(e: Mapping[str, Any]) -> str:
    """What a tube had while its feed was good, and what stands between them."""
    through = e.get("through")
    resistor = "series resistor" + (f" ({amount(through, Unit.OHM)})" if through else "")
    own = f"it had {amount(e['point_value'], Unit.V)} and {_holds_from(e)}"
    return f"{own}; {resistor} or a joint open, or a short at the tube or in its load"


def _holds_from(e: Mapping[str, Any]) -> str:
    return f"holds from {amount(e['holds'][0], Unit.V)}"


def _meter_name(f: Finding) -> str:
    name = str(f.evidence["meter"])
    return name if "meter" in name.lower() else f"meter {name}"


def _gap(f: Finding, chart: Chart) -> str:
    how = "no readings" if f.end_ns is None else f"no readings for {span((f.end_ns - f.start_ns) / 1e9)}"
    if f.evidence.get("never"):
        yet = " yet" if f.end_ns is None else ""
        return f"{_name(f)}: {how}{yet}: is {_meter_name(f)} on, set to send, and on this cable?"
    return f"{_name(f)}: {how}: {_meter_name(f)} asleep, or its cable"


def _turned(f: Finding, chart: Chart) -> str:
    said = _meter("shows the sign turned: leads reversed?")(f, chart)
    point = chart.point(f.point or "")
    if point is None or (point.nominal or 0.0) >= 0.0:
        return said
    return f"{said} If they are right, the point itself has turned: a leaky coupling capacitor, or no bias"


def _meter(words: str) -> Callable[[Finding, Chart], str]:
    def say(f: Finding, chart: Chart) -> str:
        return f"{_name(f)}: {_meter_name(f)} {words}"

    return say


def _wire(words: str) -> Callable[[Finding, Chart], str]:
    def say(f: Finding, chart: Chart) -> str:
        e: Any = f.evidence
        name = _meter_name(f)
        ended = "" if f.end_ns is None else f", until {span((f.end_ns - f.start_ns) / 1e9)} later"
        return f"{name[0].upper()}{name[1:]}: {words}{ended}" + (f" ({e['text']})" if e.get("text") else "")

    return say


_SAY: dict[str, Callable[[Finding, Chart], str]] = {
    "power_on": _power_on,
    "power_off": _power_off,
    "settled": _settled,
    "unsettled": _unsettled,
    "limit": _limit,
    "outside": _outside,
    "dropout": _dropout,
    "step": _step,
    "chatter": _chatter,
    "drift": _drift,
    "creep": _drift,
    "departs": _departs,
    "slow_bleed": _slow_bleed,
    "mains": _mains,
    "starved": _glow,
    "fed_but_out": _glow,
    "gap": _gap,
    "overload": _meter("shows overload or an open probe"),
    "frozen": _meter("repeats one reading while it cannot be that quiet: hold, or stuck"),
    "function": _meter("is set to another function than this point wants"),
    "reversed": _turned,
    "garbled": _wire("bytes came that are no readings"),
    "lost": _wire("the port went away"),
    "driver": _wire("its driver failed"),
}
