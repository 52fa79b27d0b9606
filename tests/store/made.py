"""Readings, notes and headers for the tests of the store, real ones and ones that hypothesis makes."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from benchtui.model.block import Block
from benchtui.model.notes import MARK_KINDS, TROUBLE_KINDS, Lead, Mark, Note, Trouble
from benchtui.model.readings import Accuracy, Channel, Readings
from benchtui.model.units import Unit
from benchtui.store.header import Header

CHANNELS = (
    Channel("bench meter", "bench meter", Accuracy(0.0005, 3.0), 10e6),
    Channel("panel:V", "panel", None, None),
    Channel("pilot", "eye", eye=True),
)
HEADER = Header(
    set_name="Saltmarsh Six",
    channels=CHANNELS,
    chart='[set]\nname = "Saltmarsh Six"\n',
    bench="# µ and Ω\n",
    settings='warn_above = "30 V"\n',
    started_wall_ns=1_700_000_000_123_456_789,
    versions={"benchtui": "0.1.0"},
)


def same_readings(a: Readings, b: Readings) -> bool:
    """Equal to the last bit, NaN like NaN."""
    return all(
        getattr(a, name).dtype == getattr(b, name).dtype
        and getattr(a, name).tobytes() == getattr(b, name).tobytes()
        for name in ("t_ns", "channel", "unit", "value", "resolution", "flags")
    )


def steady(count: int, start_ns: int = 0, every_ns: int = 50_000_000) -> Readings:
    """Plain readings of channel 0, one every 50 ms."""
    t_ns = start_ns + every_ns * np.arange(count, dtype=np.int64)
    return Readings.of(t_ns, 0, int(Unit.V), 285.0 + 0.1 * (np.arange(count) % 7), 0.1)


@st.composite
def readings(draw: st.DrawFn, after_ns: int = -1, most: int = 30) -> Readings:
    """Readings of any times, values, units and flags, in order."""
    count = draw(st.integers(0, most))
    gaps = draw(st.lists(st.integers(0, 3_000_000_000), min_size=count, max_size=count))
    t_ns = after_ns + 1 + np.cumsum(np.array(gaps, dtype=np.int64))
    floats = st.floats(allow_nan=True, allow_infinity=False)
    return Readings.of(
        t_ns,
        draw(st.lists(st.integers(0, 2), min_size=count, max_size=count)),
        draw(st.lists(st.sampled_from([int(u) for u in Unit]), min_size=count, max_size=count)),
        draw(st.lists(floats, min_size=count, max_size=count)),
        draw(st.lists(st.floats(0, 1e3), min_size=count, max_size=count)),
        draw(st.lists(st.integers(0, 15), min_size=count, max_size=count)),
    ).in_order()


PRINTABLE = st.text(st.characters(categories=("L", "N", "P", "S", "Zs")), max_size=20)


def notes(t_ns: st.SearchStrategy[int]) -> st.SearchStrategy[Note]:
    """Marks, leads and troubles at these times."""
    return st.one_of(
        st.builds(Mark, t_ns, st.sampled_from(MARK_KINDS), PRINTABLE, PRINTABLE),
        st.builds(Lead, t_ns, st.integers(0, 2), st.none() | st.just("B+1") | PRINTABLE),
        st.builds(
            Trouble, t_ns, st.just("panel"), st.sampled_from(TROUBLE_KINDS), PRINTABLE, st.integers(1, 99)
        ),
    )


@st.composite
def timelines(draw: st.DrawFn, most_blocks: int = 6) -> list[Block]:
    """Some blocks, one after the other, each under its watermark."""
    blocks: list[Block] = []
    upto_ns = -1
    for _ in range(draw(st.integers(1, most_blocks))):
        part = draw(readings(upto_ns))
        last = int(part.t_ns[-1]) if len(part) else upto_ns
        watermark = max(0, last + draw(st.integers(0, 2_000_000_000)))
        times = st.integers(min(upto_ns + 1, watermark), watermark)
        noted = sorted(draw(st.lists(notes(times), max_size=5)), key=lambda note: note.t_ns)
        blocks.append(Block(part, tuple(noted), watermark))
        upto_ns = watermark
    return blocks
