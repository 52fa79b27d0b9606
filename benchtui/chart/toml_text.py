"""From the text of a file to TOML values, or to one clear problem."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from benchtui.model.errors import ChartError, Problem
from benchtui.model.notes import plain

MOST = 300_000
"""Characters; no chart, bench or settings file is longer."""


_ENDLESS_KEY = re.compile(
    r"""(?<![A-Za-z0-9_-])(?:(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){30}"""
)
"""The standard reader's time and memory go with the square of a key's parts: some seconds at a thousand."""


def load(text: str, file: str) -> dict[str, Any]:
    """The values of a TOML text.

    Raises:
        ChartError: it is no TOML; one problem, with its line.
    """
    if len(text) > MOST:
        raise _one(file, None, f"is longer than {MOST} characters: that is no chart, bench or settings file.")
    if _ENDLESS_KEY.search(text):
        raise _one(
            file, None, "holds a key of more than 30 parts: that is none of a chart, bench or settings."
        )
    try:
        return tomllib.loads(text.removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError as error:
        raise _syntax(text, file, str(error)) from None
    except RecursionError:
        raise _one(file, None, "holds lists within lists, too deep to be meant.") from None
    except (ValueError, OverflowError):
        raise _one(file, None, "holds a number or date that is too large to be meant.") from None


_AT = re.compile(r"^(.*?) \(at (?:line (\d+), column (\d+)|end of document)\)$", re.DOTALL)

_CURLY = re.compile("[\u201c\u201d\u201e\u00ab\u00bb\u2018\u2019\u201a\u2033]")
_PLAINER = (
    ("Cannot overwrite a value", "this key stands here for the second time: keep one"),
    ("Cannot mutate immutable", "this key was closed above and can't be added to here"),
    ("Cannot declare", "this table stands here for the second time: keep one, or use [[ ]] for a list"),
    ("Expected '=' after a key", 'a key is followed by ` = ` and its value, like `nominal = "285 V"`'),
    ("Invalid value", 'the value is not written right: put text and quantities in quotes, like "285 V"'),
    ("Invalid initial character for a key", 'a key is missing before the value, like `nominal = "285 V"`'),
    ("Invalid statement", 'a line begins with a key, like `nominal = "285 V"`, or with [[point]]'),
    ("Expected newline or end of document", "something follows the value: put quotes round all of it"),
    ("Unterminated string", "the closing quote is missing"),
    ("Illegal character '\\n'", "the closing quote is missing on this line"),
    ("Illegal character", "a character that cannot be seen stands here: type the line again"),
    ("Unescaped '\\' in a string", "use single quotes round a text with a backslash, like 'C:\\x'"),
    ("Unclosed array", "the closing ] is missing"),
    ("Unclosed inline table", "the closing } is missing"),
    ("Expected ']'", "the closing ] of the heading is missing"),
)
"""What the reader says, and what that means at the bench."""


def _syntax(text: str, file: str, said: str) -> ChartError:
    match = _AT.match(said)
    lines = text.count("\n") + 1
    reason, line = said, lines
    if match:
        reason, line = match[1], min(int(match[2] or lines), lines)
    shown = text.split("\n")[line - 1].strip()
    for start, words in _PLAINER:
        if reason.startswith(start):
            reason = words
            break
    if _CURLY.search(shown):
        reason = 'use straight quotes, like "285 V", in place of the curly ones'
    near = f" It reads: {plain(shown, 60)}" if shown else ""
    return _one(file, line, f"cannot be read as TOML: {plain(reason)}.{near}")


def _one(file: str, line: int | None, what: str) -> ChartError:
    return ChartError([Problem(file, line, "", what)])
