"""Bytes that are no readings: told by the stretch, and the wrong speed recognised."""

from __future__ import annotations

from benchtui.driver.junk import Junk

SECOND = 1_000_000_000


def test_a_stretch_is_told_when_a_good_frame_ends_it() -> None:
    """Ten bytes in three pieces are one trouble of ten."""
    junk = Junk()
    assert [junk.add(b"abc", 1), junk.add(b"def", 2), junk.add(b"\x1b[2J", 3)] == [(), (), ()]
    (told,) = junk.good(4)
    assert (told.kind, told.count, told.t_ns) == ("garbled", 10, 4)
    assert "“abcdef·[2J”" in told.text
    assert junk.good(5) == ()


def test_bytes_without_a_frame_that_fits_point_to_the_speed() -> None:
    """After 2 s of bytes of which nothing fits, it is said that the speed may be wrong; then every 10 s."""
    junk = Junk()
    junk.add(b"\xff" * 40, SECOND)
    assert junk.wake_ns == 3 * SECOND
    assert junk.tick(3 * SECOND - 1) == ()
    (told,) = junk.tick(3 * SECOND)
    assert "bytes come, no line fits: check the speed" in told.text
    junk.add(b"\xff" * 40, 4 * SECOND)
    assert junk.wake_ns == 14 * SECOND


def test_one_damaged_line_of_a_slow_meter_is_not_a_wrong_speed() -> None:
    """A few bytes alone say nothing about the speed."""
    junk = Junk()
    junk.add(b"28x.3 V", SECOND)
    assert "speed" not in junk.tick(3 * SECOND)[0].text


def test_a_flood_is_told_in_parts_of_4096_however_it_was_cut() -> None:
    """10,000 bytes are three troubles, whether they come at once or one by one."""
    whole, single = Junk(), Junk()
    at_once = [*whole.add(b"x" * 10_000, 0), *whole.good(0)]
    one_by_one = [t for _ in range(10_000) for t in single.add(b"x", 0)]
    assert at_once == [*one_by_one, *single.good(0)]
    assert [t.count for t in at_once] == [4096, 4096, 1808]


def test_alternating_good_and_bad_frames_are_not_told_one_by_one() -> None:
    """A noisy cable gives one trouble in 32 good frames, and the count is whole."""
    junk = Junk()
    told = [t for _ in range(330) for t in (*junk.add(b"abc", 0), *junk.good(0))]
    assert 10 <= len(told) <= 12
    assert sum(t.count for t in (*told, *junk.rest(0))) == 990
    assert not any("speed" in t.text for t in told)


def test_how_good_frames_come_together_changes_nothing() -> None:
    """Forty at once or one by one: the same troubles."""
    once, single = Junk(), Junk()
    at_once = [t for _ in range(5) for t in (*once.add(b"abc", 0), *once.good(0, 40))]
    one_by_one = [
        t for _ in range(5) for t in (*single.add(b"abc", 0), *(t for _ in range(40) for t in single.good(0)))
    ]
    assert at_once == one_by_one
    assert len(at_once) == 5
