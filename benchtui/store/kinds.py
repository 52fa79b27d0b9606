"""What kind of recording a file is, told by what it holds, not by its name."""

from __future__ import annotations

import re
from pathlib import Path

from benchtui.model.errors import SessionError


def kind_of(path: Path) -> str:
    """session, wire log or CSV.

    Raises:
        SessionError: it cannot be read, or is none of the three.
    """
    try:
        with path.open("rb") as file:
            start = file.read(4096)
    except OSError as error:
        raise SessionError(f"{path} cannot be read: {error.strerror}") from error
    if start.startswith(b"SQLite format 3\0"):
        return "session"
    if start.removeprefix(b"\xef\xbb\xbf").lstrip().startswith(b"{"):
        return "wire log"
    if start.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise SessionError(f"{path} is written in UTF-16: save it as UTF-8")
    if b"\0" in start:
        raise SessionError(f"{path} is no session, no wire log and no CSV file")
    if not start.removeprefix(b"\xef\xbb\xbf").strip():
        raise SessionError(f"{path} is empty: give a recording (session, wire log or CSV)")
    if (what := _written_by_people(start)) is not None:
        raise SessionError(f"{path}: this is {what}; give a recording (session, wire log or CSV)")
    if not _SEPARATOR.search(_first_line(start)):
        raise SessionError(
            f"{path}: this is no recording (session, wire log or CSV); "
            "a CSV begins with the line t_s,point,value,unit,flag"
        )
    return "CSV"


_HEADING = re.compile(rb"^[ \t]*\[\[?[ \t]*(set|point|glow|part|derived|meter)[ \t]*\]", re.MULTILINE)
_SETTING = re.compile(rb"^[ \t]*(?:warn_above|false_alarms|sound|look)[ \t]*=", re.MULTILINE)


_BEGINS = re.compile(rb"[ \t]*(?:\[[^\]\n]*\]|[A-Za-z0-9_.\"'-]+[ \t]*=)")
"""A line with which a TOML file can begin: a heading or a key."""
_SEPARATOR = re.compile(rb"[,;\t]")


def _first_line(start: bytes) -> bytes:
    return start.removeprefix(b"\xef\xbb\xbf").lstrip().split(b"\n", 1)[0]


def _written_by_people(start: bytes) -> str | None:
    """What kind of TOML file this is; None where it is none: text that only holds some TOML is none."""
    lines = (line.strip() for line in start.removeprefix(b"\xef\xbb\xbf").splitlines())
    first = next((line for line in lines if line and not line.startswith(b"#")), b"")
    if _BEGINS.match(first) is None:
        return None
    if (found := _HEADING.search(start)) is not None:
        return "a bench" if found[1] == b"meter" else "a chart"
    return "a settings file" if _SETTING.search(start) else "a TOML file"
