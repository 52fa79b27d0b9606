"""The catalogue of drivers: every entry point of the group `benchtui.drivers`, ours and anyone's."""

from __future__ import annotations

from importlib.metadata import EntryPoint, entry_points

from benchtui.model.errors import DriverError
from benchtui.model.notes import plain

from .contract import Driver, DriverOptions

GROUP = "benchtui.drivers"


def names() -> tuple[str, ...]:
    """The drivers that can be named in a bench file, in alphabetical order. Loads none of them."""
    return tuple(sorted({e.name for e in entry_points(group=GROUP)}))


def open_driver(name: str, options: DriverOptions) -> Driver:
    """A fresh driver of this name.

    Raises:
        DriverError: there is none of this name (the text lists what there is), an option is wrong, or the
            driver itself is broken; the text names the meter.
    """
    where = f"meter {options.meter}: " if options.meter else ""
    found = entry_points(group=GROUP, name=name)
    if not found:
        there = ", ".join(names()) or "none is installed"
        raise DriverError(f'{where}there is no driver "{plain(name, 60)}"; there is: {there}')
    # Two packages may bring the same name: which one is meant must not depend on the order of a folder.
    entry = min(found, key=lambda e: e.value)
    if len({e.value for e in found}) > 1:
        brought = ", ".join(sorted(_package(e) for e in found))
        raise DriverError(f'{where}several packages bring a driver "{name}": {brought}; remove all but one')
    try:
        driver: Driver = entry.load()(options)
        _ = (tuple(driver.channels), driver.line.baud, driver.wake_ns)
    except DriverError as error:
        raise DriverError("\n".join(where + line for line in str(error).splitlines())) from error
    except Exception as error:  # a third party's code may raise anything; it costs one meter, not the program
        raise DriverError(
            f'{where}the driver "{name}" ({_package(entry)}) is broken: {type(error).__name__}: '
            f"{plain(str(error), 200)}"
        ) from error
    return driver


def _package(entry: EntryPoint) -> str:
    return entry.dist.name if entry.dist is not None else entry.value
