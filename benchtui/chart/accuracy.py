"""The accuracy of a meter as its data sheet states it."""

from __future__ import annotations

import re
from decimal import Decimal

from benchtui.model.readings import Accuracy

from .phrases import PLUS_MINUS
from .quantity import NUMBER, QuantityError, clean, quoted

_OF_READING = ("", "of reading", "of the reading", "of rdg", "reading", "rdg", "of value")
_OF_SCALE = (
    "of full scale", "of fullscale", "full scale", "of fs", "fs", "of fsd", "fsd",
    "of range", "of the range", "range", "of full scale deflection",
)  # fmt: skip
_COUNTS = ("counts", "count", "digits", "digit", "dgt", "dgts", "cts", "ct", "d", "lsd", "lsb")
_TERM = re.compile(rf"({NUMBER}) ?(%|ppm)? ?([a-z. ]*)")
_WRITE_ACCURACY = "write it like `0.05 % + 3 counts` or `2 % of full scale`"


def parse_accuracy(text: str) -> Accuracy:
    """`0.05 % + 3 counts`, `2 % of full scale`, `±(0.5 % rdg + 0.1 % fs + 2 digits)`.

    Raises:
        QuantityError: it is none; the text says what to write instead.
    """
    tidy = clean(text).lower()
    tidy = re.sub(rf"^{PLUS_MINUS} ?", "", tidy).replace("(", "").replace(")", "")
    found: dict[str, float] = {}
    for term in tidy.split("+"):
        kind, size = _accuracy_term(term.strip(), text)
        if kind in found:
            raise QuantityError(f"{quoted(text)} says the same part twice: {_WRITE_ACCURACY}.")
        found[kind] = size
    if not any(found.values()):
        raise QuantityError(f"{quoted(text)}: no meter is exact; {_WRITE_ACCURACY}, or leave it out.")
    return Accuracy(**found)


def _accuracy_term(term: str, text: str) -> tuple[str, float]:
    match = _TERM.fullmatch(term)
    if match is None:
        raise QuantityError(f"{quoted(text)} is no accuracy: {_WRITE_ACCURACY}.")
    number, words = Decimal(match[1]), match[3].replace(".", "").strip()
    if match[2] is None:
        if words not in _COUNTS:
            raise QuantityError(f"{quoted(text)}: {quoted(term)} is neither % nor counts; {_WRITE_ACCURACY}.")
        kind, part = "counts", number
    elif words in _OF_READING or words in _OF_SCALE:
        kind = "of_reading" if words in _OF_READING else "of_full_scale"
        part = number.scaleb(-2 if match[2] == "%" else -6)
    else:
        raise QuantityError(f"{quoted(text)}: {quoted(term)} is a part of what? {_WRITE_ACCURACY}.")
    if part > (100_000 if kind == "counts" else 1):
        raise QuantityError(f"{quoted(text)} is too large to be meant: {_WRITE_ACCURACY}.")
    return kind, float(part)
