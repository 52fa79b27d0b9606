"""Whatever asks the program to stop is heard, wherever in the program it arrives."""

from __future__ import annotations

import signal
import sys
import threading

import pytest

from benchtui.cli.stopping import Stopped, as_event, as_interrupts

if sys.platform == "win32":
    pytest.skip("a process cannot send itself these signals", allow_module_level=True)

ASKED = [signal.SIGINT, signal.SIGTERM, signal.SIGHUP]


@pytest.mark.parametrize("number", ASKED)
def test_where_nothing_is_recorded_it_interrupts(number: int) -> None:
    """At once, wherever the program is."""
    with as_interrupts(), pytest.raises(Stopped):
        signal.raise_signal(number)


class Asks:
    """Is asked to stop as it is destroyed, where the interpreter drops whatever is raised."""

    def __init__(self, number: int) -> None:
        self._number = number

    def __del__(self) -> None:
        signal.raise_signal(self._number)


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize("number", ASKED)
def test_what_is_lost_on_its_way_is_heard_as_the_recording_begins(number: int) -> None:
    """The interpreter drops what a destructor raises; the session that is begun then ends all the same."""
    with as_interrupts():
        asks = Asks(number)
        del asks
        with as_event() as stop:
            assert stop.is_set()


@pytest.mark.parametrize("number", ASKED)
def test_a_recording_is_not_interrupted(number: int) -> None:
    """It is told, and ends in order."""
    with as_interrupts(), as_event() as stop:
        assert not stop.is_set()
        signal.raise_signal(number)
        assert stop.is_set()


def test_the_next_command_in_this_process_is_not_stopped_by_the_last() -> None:
    """What asked the one to stop is forgotten as the other begins."""
    with as_interrupts(), pytest.raises(Stopped):
        signal.raise_signal(signal.SIGTERM)
    with as_interrupts(), as_event() as stop:
        assert not stop.is_set()


def test_in_a_thread_signals_are_left_alone() -> None:
    """Only the main thread may say what they do; the command runs all the same."""
    before = signal.getsignal(signal.SIGTERM)
    found: list[object] = []

    def runs() -> None:
        with as_interrupts(), as_event() as stop:
            found.extend([stop.is_set(), signal.getsignal(signal.SIGTERM) is before])

    thread = threading.Thread(target=runs)
    thread.start()
    thread.join()
    assert found == [False, True]
