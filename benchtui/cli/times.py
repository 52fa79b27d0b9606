"""Times as they are typed: seconds, `m:ss` or `h:mm:ss`, as the program prints them."""

from __future__ import annotations

import re

from benchtui.model.errors import BenchError

_PARTS = re.compile(r"(?:(\d{1,6}):)?(\d{1,6}):([0-5]\d(?:\.\d{1,9})?)", re.ASCII)


def time_ns(text: str, option: str, like: str) -> int:
    """Nanoseconds of `12.5`, `3:01.5` or `1:02:03`; exact to the last of nine decimals.

    Raises:
        BenchError: it is no such time; the text names the option and how to write it.
    """
    from benchtui.store.decimal_columns import nanoseconds

    match = _PARTS.fullmatch(text.strip())
    if match is None:
        t_ns = nanoseconds(text.strip())
    else:
        hours, minutes, rest = int(match[1] or 0), int(match[2]), nanoseconds(match[3])
        too_many = match[1] is not None and minutes >= 60
        t_ns = None if rest is None or too_many else (hours * 3600 + minutes * 60) * 10**9 + rest
    if t_ns is None:
        raise BenchError(f"{option} {text}: write {like}")
    return t_ns
