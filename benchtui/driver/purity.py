"""Whether a driver does I/O or reads a clock: its imports are read, and what it does is watched."""

from __future__ import annotations

import ast
import inspect
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import ModuleType

FORBIDDEN = frozenset(
    (
        "asyncio", "concurrent", "datetime", "http", "logging", "multiprocessing", "os", "pathlib", "queue",
        "random", "secrets", "select", "selectors", "serial", "shutil", "signal", "socket", "sqlite3", "ssl",
        "subprocess", "tempfile", "threading", "time", "urllib",
    )
)  # fmt: skip
"""Modules that a driver has no use for."""

_WATCHED = ("open", "os.", "socket.", "subprocess.", "_thread.start_new_thread", "sqlite3.", "shutil.")
_CLOCKS = ("sleep", "time", "time_ns", "monotonic", "monotonic_ns", "perf_counter", "perf_counter_ns")


def impure_imports(driver: object) -> list[str]:
    """`module imports name` for each forbidden import of the driver's module and the ones beside it."""
    found: list[str] = []
    seen: set[str] = set()
    todo = [type(driver).__module__]
    while todo:
        name = todo.pop()
        if name in seen:
            continue
        seen.add(name)
        module = sys.modules.get(name)
        for imported in _imports(module) if module is not None else []:
            if imported.partition(".")[0] in FORBIDDEN:
                found.append(f"{name} imports {imported}")
            elif imported.partition(".")[0] == name.partition(".")[0] and imported in sys.modules:
                todo.append(imported)
    return found


def _imports(module: ModuleType) -> list[str]:
    try:
        tree = ast.parse(inspect.getsource(module))
    except (OSError, TypeError, SyntaxError):
        return []
    found: list[str] = []
    package = module.__package__ or ""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                above = package.split(".")[: len(package.split(".")) - node.level + 1]
                base = ".".join([*above, base] if base else above)
            found += [base, *(f"{base}.{alias.name}" for alias in node.names)]
    return found


class _Watch(threading.local):
    on = False


_watch = _Watch()
_seen: list[str] = []
_hooked = False


@contextmanager
def watched() -> Iterator[list[str]]:
    """Gives the I/O that this thread does inside, by the interpreter's own audit events, and clocks it reads.

    A clock that was imported by name is not seen here; its import is, by `impure_imports`.
    """
    global _hooked  # noqa: PLW0603 (an audit hook can be added once and never taken away)
    if not _hooked:
        sys.addaudithook(_hook)
        _hooked = True
    kept = {name: getattr(time, name) for name in _CLOCKS}
    _seen.clear()
    for name, function in kept.items():
        setattr(time, name, _told(f"time.{name}", function))
    _watch.on = True
    try:
        yield _seen
    finally:
        _watch.on = False
        for name, function in kept.items():
            setattr(time, name, function)


def _told(name: str, function: Callable[..., object]) -> Callable[..., object]:
    def told(*args: object) -> object:
        if _watch.on:
            _seen.append(name)
        return function(*args)

    return told


def _hook(event: str, args: tuple[object, ...]) -> None:
    if _watch.on and event.startswith(_WATCHED):
        _seen.append(event)
