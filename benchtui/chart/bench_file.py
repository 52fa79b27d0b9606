"""From the text of a bench file to its meters, or to every problem in it at once."""

from __future__ import annotations

from benchtui.model.units import BY_SYMBOL, Unit

from .accuracy import parse_accuracy
from .bench import Bench, MeterEntry, SerialSettings
from .phrases import parse_load
from .point_file import NAME_MOST, positive
from .problems import Problems
from .quantity import QuantityError, parse_quantity, quoted
from .supply import check_names
from .table import Table
from .toml_text import load

_UNITS = (
    Unit.V, Unit.VAC, Unit.A, Unit.AAC, Unit.OHM, Unit.FARAD, Unit.HENRY,
    Unit.HZ, Unit.CELSIUS, Unit.WATT, Unit.DB, Unit.STATE,
)  # fmt: skip
MEASURES = [unit.symbol for unit in _UNITS]
PARITIES = ["none", "even", "odd", "mark", "space"]
STOPS = (1, 1.5, 2)
_LOAD = '"11 Mohm", "20 kohm/V" or { "2 V" = "11 Mohm", "20 V" = "10 Mohm" }'


def read_bench(text: str, file: str) -> Bench:
    """The bench in this text; `file` is how problems name it.

    Keys of a meter that are not known here are its driver's own, and are handed on as they stand. A text
    without any meter is an empty bench: everything is seen or typed.

    Raises:
        ChartError: with every problem of the file, in the order of its lines.
    """
    data = load(text, file)
    problems = Problems(file, text)
    top = Table(data, (), problems)
    tables = top.each("meter", is_open=True)
    meters = [_read_meter(t) for t in tables]
    top.refuse_rest()
    check_names(tables, "meter")
    problems.raise_if_any()
    return Bench(tuple(meters), text)


def _read_meter(table: Table) -> MeterEntry:
    load = _Load(table)
    return MeterEntry(
        name=table.text("name", "meter A", needed=True, most=NAME_MOST) or "",
        driver=table.text("driver", "lines", needed=True, most=NAME_MOST) or "",
        port=table.text("port", "/dev/ttyUSB0", needed=True) or "",
        measures=_measures(table),
        point=table.text("point", "B+1", most=NAME_MOST),
        accuracy=table.written("accuracy", parse_accuracy, "0.05 % + 3 counts"),
        input_resistance=load.ohms,
        resistance_by_range=load.by_range,
        ohms_per_volt=load.ohms_per_volt,
        range=positive(table, "range", Unit.V, Unit.VAC, like="500 V")
        if load.ohms_per_volt or load.by_range
        else None,
        max_input=positive(table, "max_input", Unit.V, Unit.VAC, like="1000 V"),
        serial=_serial(table),
        options=table.rest(),
        line=table.line,
    )


def _measures(table: Table) -> Unit:
    return BY_SYMBOL.get(table.choice("measures", MEASURES) or "", Unit.UNKNOWN)


def _serial(table: Table) -> SerialSettings:
    baud, bits = table.number("baud", 50, 4_000_000), table.number("bits", 5, 8)
    pins = table.inner("power_pins", "power_pins = { dtr = true, rts = false }")
    dtr = rts = None
    if pins is not None:
        dtr, rts = pins.flag("dtr"), pins.flag("rts")
        pins.refuse_rest()
    return SerialSettings(
        baud=None if baud is None else int(baud),
        bits=None if bits is None else int(bits),
        parity=table.choice("parity", PARITIES),
        stop=_stop(table),
        dtr=dtr,
        rts=rts,
    )


def _stop(table: Table) -> float | None:
    stop = table.number("stop", 1, 2, whole=False)
    if stop is not None and stop not in STOPS:
        table.problem("stop", "must be 1, 1.5 or 2, without quotes.")
        return None
    return stop


class _Load:
    """What a meter draws, in the three ways of saying so."""

    def __init__(self, table: Table) -> None:
        self.ohms: float | None = None
        self.ohms_per_volt: float | None = None
        self.by_range: tuple[tuple[float, float], ...] = ()
        if isinstance(table.data.get("input_resistance"), dict):
            self._by_range(table)
        elif (load := table.written("input_resistance", parse_load, "11 Mohm")) is not None:
            self.ohms, self.ohms_per_volt = load.ohms, load.ohms_per_volt

    def _by_range(self, table: Table) -> None:
        inner = table.inner("input_resistance", _LOAD)
        if inner is None or not inner.data:
            table.problem("input_resistance", f"is empty: write {_LOAD}.")
            return
        found: dict[float, float] = {}
        for key in inner.data:
            scale = _full_scale(inner, key)
            ohms = positive(inner, key, Unit.OHM, like="11 Mohm")
            if scale in found:
                inner.problem(key, "stands here twice, for the same range.")
            elif scale is not None and ohms is not None:
                found[scale] = ohms
        self.by_range = tuple(sorted(found.items()))


def _full_scale(inner: Table, key: str) -> float | None:
    try:
        found = parse_quantity(key, Unit.V, Unit.VAC)
        if found.value <= 0:
            raise QuantityError(f"{quoted(key)} is no range: a range is more than 0, like `20 V`.")
    except QuantityError as error:
        inner.problem(key, str(error))
        return None
    return found.number
