"""A recording whose file was taken away under it goes on in another one, with all that can be saved."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path

from benchtui.model.block import Block
from benchtui.model.errors import SessionError
from benchtui.model.findings import Event
from benchtui.model.notes import Note

from .header import Header
from .session import Session

MOST_NAMES = 1000


def go_on(
    session: Session,
    header: Header,
    committed_ns: int,
    notes: Sequence[Note],
    events: Sequence[Event],
    folders: Sequence[Path],
    is_whole: bool,
) -> tuple[Session, bool]:
    """A new file beside the old one, or in another folder; whether it holds all that the old one held.

    A file that was taken away is still open, and `is_whole`. Of one that was cut short SQLite cannot tell
    what is missing: the new file then begins with the notes and events that are known, up to `committed_ns`.

    Raises:
        SessionError: it can be written in none of the folders.
    """
    failure: SessionError | None = None
    for path in _names(session.path, folders):
        if is_whole:
            try:
                return session.copy(path), True
            except SessionError as error:
                failure = error
        try:
            fresh = Session.create(path, header)
        except SessionError as error:
            failure = error
            continue
        with fresh.atomic():
            fresh.add(Block(notes=tuple(notes), upto_ns=committed_ns), events)
        return fresh, False
    raise failure or SessionError(f"{session.path}: there is no other place to record to")


def _names(path: Path, folders: Sequence[Path]) -> Iterator[Path]:
    """A name that is not taken, in its own folder and in each of the others, which is made if need be."""
    for folder in (path.resolve().parent, *folders):
        if folder in folders:
            with suppress(OSError):
                folder.mkdir(parents=True, exist_ok=True)
        for number in range(2, MOST_NAMES):
            name = folder / f"{path.stem}_{number}{path.suffix}"
            if not name.exists():
                yield name
                break
