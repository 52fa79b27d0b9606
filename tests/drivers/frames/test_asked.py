"""A meter that sends a frame when it is asked: at its interval, quiet after a miss, never long behind."""

from __future__ import annotations

import heapq
from collections.abc import Callable

from benchtui.driver.contract import Driver, Out

from .test_contract import ASKED
from .wires import frames

SECOND = 1_000_000_000


def _talk(
    driver: Driver, takes_s: Callable[[int], float | None], seconds: float
) -> tuple[list[tuple[float, float, int]], list[float], int]:
    """(time, value, questions asked by then) of readings, times of questions, bytes skipped."""
    at, asked, skipped = 0, 0, 0
    readings: list[tuple[float, float, int]] = []
    questions: list[float] = []
    coming: list[tuple[int, bytes]] = []

    def take(out: Out) -> None:
        nonlocal asked, skipped
        readings.extend((at / SECOND, v, asked) for v in out.readings.value.tolist())
        skipped += out.skipped
        if out.send:
            asked += 1
            questions.append(at / SECOND)
            took = takes_s(asked)
            if took is not None:
                heapq.heappush(coming, (at + int(took * SECOND), b"%6d\r" % asked))

    take(driver.start(0))
    while at < seconds * SECOND:
        due = [t for t in (driver.wake_ns, coming[0][0] if coming else None) if t is not None]
        at = max(at, min(due))
        while coming and coming[0][0] <= at:
            take(driver.feed(heapq.heappop(coming)[1], at))
        if driver.wake_ns is not None and driver.wake_ns <= at:
            take(driver.tick(at))
    return readings, questions, skipped


def test_a_meter_is_asked_at_its_interval() -> None:
    """First quiet for 0.2 s, then every half second."""
    readings, questions, skipped = _talk(frames(ASKED), lambda n: 0.1, 3)
    assert questions == [0.2, 0.7, 1.2, 1.7, 2.2, 2.7, 3.2][: len(questions)]
    assert [v for _, v, _ in readings] == [1, 2, 3, 4, 5, 6]
    assert skipped == 0


def test_the_bench_entry_says_how_often() -> None:
    """`every` and `answer_within` replace what the description says."""
    driver = frames(ASKED, every="2 s", answer_within="500 ms")
    _, questions, _ = _talk(driver, lambda n: 0.1 if n != 2 else None, 8)
    assert questions == [0.2, 2.2, 3.2, 5.2, 7.2, 9.2][: len(questions)]


def test_a_lost_answer_costs_one_gap() -> None:
    """After the wait for it, and quiet, the question is asked again."""
    readings, _, _ = _talk(frames(ASKED), lambda n: None if n == 3 else 0.1, 6)
    assert [v for _, v, _ in readings][:5] == [1, 2, 4, 5, 6]


def test_answers_that_are_one_behind_are_found_out() -> None:
    """A meter slower than it is given time for is soon waited for: then each reading is of its question."""
    for late_s in (1.1, 1.3, 2.0, 5.0):
        readings, _, skipped = _talk(frames(ASKED), lambda n, late_s=late_s: late_s, 120)
        behind = [asked - value for _, value, asked in readings]
        assert behind[-5:] == [0, 0, 0, 0, 0]
        assert sum(b != 0 for b in behind) <= 4
        assert skipped > 0


def test_what_comes_unasked_is_no_reading() -> None:
    """Before the first question, and between two."""
    driver = frames(ASKED)
    driver.start(0)
    early = driver.feed(b"   111\r", SECOND // 10)
    assert (len(early.readings), early.skipped) == (0, 7)
    assert driver.tick(SECOND // 5).send == b"D"
    answer = driver.feed(b"   222\r   333\r", SECOND // 4)
    assert (answer.readings.value.tolist(), answer.skipped) == ([222.0], 7)
    late = driver.feed(b"   444\r", SECOND // 3)
    assert (len(late.readings), late.skipped) == (0, 7)
