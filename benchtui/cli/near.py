"""A name that nothing has, and the name that was probably meant."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name that is most like it; None where none is near."""
    by_form: dict[str, str] = {}
    for one in known:
        by_form.setdefault(_form(one), one)
    form = _form(name)
    if form in by_form:
        return by_form[form]
    found = difflib.get_close_matches(form, by_form, 1, 0.6)
    return by_form[found[0]] if found else None


def did_you_mean(name: str, known: Iterable[str], most: int = 12) -> str:
    """`; did you mean "B+1"?`, or else what there is; begins with its own separator."""
    names = list(known)
    found = nearest(name, names)
    if found is not None:
        return f'; did you mean "{found}"?'
    if not names:
        return ""
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return f"; there are: {', '.join(names[:most])}{more}"


def _form(name: str) -> str:
    """What two ways of writing one name have in common: `B1+`, `b+1` and `B + 1` differ from it by little."""
    return "".join(name.casefold().replace("_", " ").split())
