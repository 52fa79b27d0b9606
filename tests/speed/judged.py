"""How fast readings are judged: all watchers, from a session, beside a bare numpy pass over the same columns.

Run it: `python -m tests.speed.judged` (`--profile` says where the time goes). It asserts only that every
reading was judged. Times are processor seconds of this one process: a busy machine does not count.
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from benchtui.model.block import Block
from benchtui.model.notes import Lead, Mark
from benchtui.model.readings import Channel, Readings
from benchtui.model.units import Unit
from benchtui.store.header import Header
from benchtui.store.recording import read
from benchtui.store.session import Session
from benchtui.watch.bank import Bank
from benchtui.watch.now import board
from tests.watch.cutting import pieces
from tests.watch.streams import ns

ROWS = 65_536
LIVE_NS = 100_000_000
POINTS = {
    "B+1": 285.0, "B+2": 240.0, "screen": 185.0, "B+4": 95.0, "V6 cathode": 9.4, "anode": 120.0,
    "bias": -22.0, "mains": 230.0,
}  # fmt: skip
CHART = '[set]\nname = "Saltmarsh Six"\nmains = "230 V"\ntolerance = "10 %"\n' + "".join(
    f'[[point]]\nname = "{name}"\nnominal = "{level} V{"ac" if name == "mains" else ""}"\n'
    + ('limit = "350 V"\n' if name == "B+1" else "")
    + (f'fed_from = "{feed}"\n' if feed else "")
    for (name, level), feed in zip(
        POINTS.items(), ("", "B+1", "B+2", "B+2", "", "B+2", "", ""), strict=True
    )
)  # fmt: skip


def quiet(rng: np.random.Generator, count: int) -> Readings:
    """Eight channels, ten readings a second each: a warm-up, then noise of one count."""
    parts = []
    for number, (name, level) in enumerate(POINTS.items()):
        t_s = _times(rng, number, count)
        up = 1.0 - np.exp(-np.maximum(t_s - 5.0, 0.0) / (0.3 if name == "mains" else 4.0))
        wander = 1.0 + 0.004 * np.sin(t_s / 300.0) + 0.002 * np.sin(t_s / 41.0)
        parts.append(_column(rng, number, name, t_s, level * up * wander))
    return Readings.joined(parts).in_order()


def restless(rng: np.random.Generator, count: int) -> Readings:
    """The same, but every point (the mains aside) falls away and comes back all the time, each by itself."""
    whole = quiet(rng, count)
    value = whole.value.copy()
    for number, name in enumerate(POINTS):
        if name == "mains":
            continue
        rows = np.flatnonzero(whole.channel == number)
        turns = rng.random(len(rows)) < 0.08
        away = np.cumsum(turns) % 2 == 1
        value[rows] *= np.where(away, 1.0 - rng.uniform(0.02, 0.6, len(rows))[np.cumsum(turns)], 1.0)
    step = whole.resolution
    value = np.where(whole.t_ns > ns(60.0), np.round(value / step) * step, whole.value)
    return Readings(whole.t_ns, whole.channel, whole.unit, value, step, whole.flags)


def _times(rng: np.random.Generator, number: int, count: int) -> np.ndarray:
    return (np.arange(count) + rng.uniform(0.0, 0.2, count)) * 0.1 + 0.01 * number


def _column(rng: np.random.Generator, number: int, name: str, t_s: np.ndarray, true: np.ndarray) -> Readings:
    step = 0.1 if abs(POINTS[name]) > 60 else 0.01
    shown = np.round(true / step + rng.normal(0.0, 1.0, len(t_s))) * step
    unit = int(Unit.VAC if name == "mains" else Unit.V)
    return Readings.of(np.round(t_s * 1e9).astype(np.int64), number, unit, shown, step)


def recorded(path: Path, readings: Readings) -> None:
    """A session file with these readings, written as a live session writes it, in pieces."""
    channels = tuple(Channel(name, name) for name in POINTS)
    header = Header("Saltmarsh Six", channels, CHART, "", "", 1_700_000_000_000_000_000, {})
    leads = tuple(Lead(0, number, name) for number, name in enumerate(POINTS))
    whole = Block(readings, (*leads, Mark(ns(5.0), "on")), int(readings.t_ns[-1]))
    session = Session.create(path, header)
    for piece in pieces(whole, range(0, whole.upto_ns, ns(60.0))):
        session.add(piece)
    session.close()


def seconds(run: Callable[[], object], times: int = 3) -> float:
    """The shortest of some runs, in processor seconds."""
    taken = []
    for _ in range(times):
        begun = time.process_time()
        run()
        taken.append(time.process_time() - begun)
    return min(taken)


def bare(blocks: list[Block]) -> float:
    """One plain pass over the same columns: mean, deviation, range and differences of each channel."""
    total = 0.0
    for block in blocks:
        r = block.readings
        usable = (r.flags == 0) & np.isfinite(r.value)
        for number in range(len(POINTS)):
            x = r.value[(r.channel == number) & usable]
            if len(x) > 1:
                total += x.mean() + x.std() + x.min() + x.max() + np.abs(np.diff(x)).sum()
    return total


def judge(path: Path, blocks: list[Block]) -> Bank:
    recording = read(path)
    bank = Bank(recording.chart, recording.channels, recording.settings)
    for block in blocks:
        bank.feed(block)
    return bank


def live(path: Path, blocks: list[Block]) -> tuple[list[float], list[float]]:
    """Processor milliseconds of each live block of a tenth of a second, and of its board, for ten minutes."""
    recording = read(path)
    bank = Bank(recording.chart, recording.channels, recording.settings)
    fed, drawn = [], []
    for piece in pieces(blocks[0], range(0, ns(600.0), LIVE_NS)):
        if piece.upto_ns > ns(600.0):
            break
        begun = time.process_time()
        bank.feed(piece)
        known = time.process_time()
        board(bank)
        fed.append(1e3 * (known - begun))
        drawn.append(1e3 * (time.process_time() - known))
    return sorted(fed), sorted(drawn)


def measured(name: str, readings: Readings, profile: bool) -> None:
    """Prints one line for a session: judged, read and judged, bare, and the live block."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "session.btui"
        recorded(path, readings)
        blocks = list(read(path).blocks(ROWS))
        many = sum(len(b.readings) for b in blocks)
        assert many == len(readings)
        if profile:
            profiled(lambda: judge(path, blocks))
            return
        plain_s = seconds(lambda: bare(blocks))
        judged_s = seconds(lambda: judge(path, blocks))
        whole_s = seconds(lambda: judge(path, list(read(path).blocks(ROWS))))
        found = len(judge(path, blocks).folding.all())
        spans = live(path, blocks)
    rates = "".join(f"{many / taken:13,.0f}" for taken in (judged_s, whole_s, plain_s))
    ms = "".join(f"{span[len(span) // 2]:8.2f}{span[len(span) * 99 // 100]:8.2f}" for span in spans)
    print(f"{name:9}{many:10,}{found:9,}{rates}{judged_s / plain_s:9.1f}{ms}")


def profiled(run: Callable[[], object]) -> None:
    profile = cProfile.Profile()
    profile.runcall(run)
    pstats.Stats(profile).sort_stats("tottime").print_stats(25)


def main() -> None:
    """Prints the table, or where the time goes."""
    said = argparse.ArgumentParser(description=__doc__)
    said.add_argument("--profile", action="store_true")
    said.add_argument(
        "--minutes", type=float, default=400.0, help="of the quiet session; a tenth of it restless"
    )
    given = said.parse_args()
    rng = np.random.default_rng(1957)
    count = round(given.minutes * 600)
    if not given.profile:
        names = "".join(f"{n:>13}" for n in ("judged/s", "with file", "bare/s"))
        spans = "".join(f"{n:>8}" for n in ("feed ms", "99 %", "board", "99 %"))
        print(f"{'session':9}{'readings':>10}{'findings':>9}{names}{'x bare':>9}{spans}")
    measured("quiet", quiet(rng, count), given.profile)
    measured("restless", restless(rng, count // 10), given.profile)


if __name__ == "__main__":
    main()
