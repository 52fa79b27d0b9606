"""The beginnings of a pattern for text lines that nobody has described: for a person to go on from."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from .words import unit_word

_TOKEN = re.compile(
    r"(?P<number> *[-+]? *(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d{1,3}(?![\d.]))?)"
    r"|(?P<word>[A-Za-z°µμΩ%~](?:[A-Za-z°µμΩ%_]|-(?=[A-Za-z]))*)|(?P<blank>[ \t]+)|(?P<other>.)",
    re.DOTALL,
)
_LEAST = 3
_MEANINGS = (
    (("VOLT", "SPANN"), "V"), (("OHM", "RESIS"), "ohm"), (("AMP", "CURR"), "A"), (("HERTZ", "FREQ"), "Hz"),
    (("FARAD", "CAPAC"), "F"),
)  # fmt: skip
_ALTERNATING = ("ALT", "AC", "RMS")

_Tokens = tuple[tuple[str, str], ...]
"""(kind, text) each."""


def line_options(lines: Sequence[str]) -> dict[str, Any]:
    """Options for the driver `lines` that read most of these lines; none where they have no number in common.

    Each number but the one that changes most, each word but the one that seems to be the unit, and everything
    else is taken as it stands, as long as it stood so in all of them.
    """
    read = [_tokens(line) for line in lines if line.strip()]
    if len(read) < _LEAST:
        return {}
    usual, _ = Counter(tuple(kind for kind, _ in tokens) for tokens in read).most_common(1)[0]
    alike = [tokens for tokens in read if tuple(kind for kind, _ in tokens) == usual]
    seen = [sorted({tokens[n][1] for tokens in alike}) for n in range(len(usual))]
    numbers = [n for n, kind in enumerate(usual) if kind == "number"]
    if not numbers or len(alike) < _LEAST:
        return {}
    value = max(numbers, key=lambda n: (len(seen[n]), len(max(seen[n], key=len))))
    unit = next((n for n, kind in enumerate(usual) if kind == "word" and _meaning(seen[n][0])), None)
    options: dict[str, Any] = {}
    pattern = "".join(
        _value(texts) if n == value else _unit(texts) if n == unit else _other(kind, texts)
        for n, (kind, texts) in enumerate(zip(usual, seen, strict=True))
    )
    if any("," in text for text in seen[value]):
        options["decimal"] = "comma"
    options["pattern"] = pattern
    if unit is not None:
        options["units"] = {w: meant for w in seen[unit] if (meant := _meaning(w)) and unit_word(w) is None}
    return options


def _tokens(line: str) -> _Tokens:
    return tuple((str(found.lastgroup), found[0]) for found in _TOKEN.finditer(line.strip()))


def _value(texts: Sequence[str]) -> str:
    longest = max(len(text.strip()) for text in texts) + 2
    exponent = "(?:[eE][-+]?[0-9]{1,3})?" if any("e" in text.lower() for text in texts) else ""
    return f" *+(?P<value>[-+]? *+[0-9.]{{1,{longest}}}{exponent})"


def _unit(texts: Sequence[str]) -> str:
    return "(?P<unit>[A-Za-z°µμΩ%~_-]+)" if len(texts) > 1 else f"(?P<unit>{re.escape(texts[0])})"


def _other(kind: str, texts: Sequence[str]) -> str:
    if kind == "blank":
        return r"[ \t]*+" if any("\t" in text for text in texts) else " *+"
    if len(texts) == 1:
        return re.escape(texts[0]).replace("\\ ", " ")
    return {"number": " *+[-+]? *+[0-9.,]++", "word": "[A-Za-z°µμΩ%~_-]++"}.get(kind, ".")


def _meaning(word: str) -> str:
    """The unit that a word seems to name, as a bench file writes it; empty if it seems to name none."""
    known = unit_word(word)
    if known is not None:
        return word
    upper = word.upper()
    found = next((unit for parts, unit in _MEANINGS if any(part in upper for part in parts)), "")
    return found + "ac" if found in ("V", "A") and any(part in upper for part in _ALTERNATING) else found


def line_entry(options: Mapping[str, Any], port: str, name: str, line: Mapping[str, Any]) -> str:
    """A `[[meter]]` with these options. `line`: the keys of the serial line that are not the usual ones."""
    rows = ["[[meter]]", f'name = "{name}"', 'driver = "lines"', f'port = "{port}"']
    rows += [f"{key} = {_toml(value)}" for key, value in line.items()]
    rows += [f"{key} = {_toml(options[key])}" for key in ("decimal", "pattern") if key in options]
    units = options.get("units")
    if units:
        said = ", ".join(f"{_toml(word)} = {_toml(meant)}" for word, meant in units.items())
        rows.append(f"units = {{ {said} }}    # V is DC, Vac is AC; turn the meter and add its other words")
    elif "(?P<unit>" not in options["pattern"]:
        rows.append('# measures = "V"         # what it is set to: the wire does not seem to say')
    rows += [
        '# overload = ["OL"]      # what stands in place of the number when there is none: open its leads',
        '# point = "B+1"          # where its lead is, by the name in your chart',
        '# accuracy = "0.5 % + 2 counts"   # from its data sheet',
        '# input_resistance = "10 Mohm"    # from its data sheet',
    ]
    return "\n".join(rows) + "\n"


def _toml(value: Any) -> str:
    if not isinstance(value, str):
        return str(value)
    if "'" not in value and all(c.isprintable() for c in value) and "\\" in value:
        return f"'{value}'"
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\u{ord(c):04X}" for c in escaped) + '"'
