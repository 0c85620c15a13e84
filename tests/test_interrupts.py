"""Signals that end a program: alike, and never in the middle of making or removing what is temporary."""

from __future__ import annotations

import os
import signal
import sys
import threading
from types import FrameType
from typing import Any

import pytest

from benchrecord import interrupts
from benchrecord.interrupts import ended_alike, temporary, uninterrupted

NAMES = [name for name in interrupts.ENDS if hasattr(signal, name)]


@pytest.fixture(autouse=True)
def _plain_handlers() -> Any:
    """Begin each test with the handlers that a program has, whatever those of the tests are."""
    numbers = [getattr(signal, name) for name in NAMES]
    before = {n: signal.signal(n, signal.default_int_handler if n == signal.SIGINT else signal.SIG_DFL) for n in numbers}
    yield
    for number, handler in before.items():
        signal.signal(number, handler)


def send(name: str) -> None:
    os.kill(os.getpid(), getattr(signal, name))


@pytest.mark.parametrize("name", NAMES)
def test_each_of_them_ends_a_program_as_ctrl_c_does_and_none_is_kept(name: str) -> None:
    number = getattr(signal, name)
    before = signal.getsignal(number)
    with pytest.raises(KeyboardInterrupt), ended_alike():
        send(name)
    assert signal.getsignal(number) is before


def test_a_break_of_windows_ends_a_program_as_ctrl_c_does(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl+Break and a closed window; another number stands for it where the system has none."""
    before = signal.getsignal(signal.SIGUSR1)
    monkeypatch.setattr(signal, "SIGBREAK", signal.SIGUSR1, raising=False)
    with pytest.raises(KeyboardInterrupt), ended_alike():
        send("SIGBREAK")
    assert signal.getsignal(signal.SIGUSR1) is before


@pytest.mark.parametrize("name", NAMES)
def test_what_is_ignored_stays_ignored(name: str) -> None:
    """As under nohup, or where a shell starts something in the background."""
    signal.signal(getattr(signal, name), signal.SIG_IGN)
    with ended_alike():
        send(name)
    assert signal.getsignal(getattr(signal, name)) is signal.SIG_IGN


def test_a_signal_waits_until_what_must_be_whole_is_done() -> None:
    done = []

    def work() -> None:
        with uninterrupted():
            with uninterrupted():
                send("SIGTERM")
                done.append("inner")
            done.append("outer")

    with ended_alike(), pytest.raises(KeyboardInterrupt):
        work()
    assert done == ["inner", "outer"]
    with ended_alike(), uninterrupted():  # no signal is left from before
        done.append("next")


def test_other_threads_work_as_ever() -> None:
    done: list[str] = []

    def work() -> None:
        with ended_alike(), uninterrupted(), temporary(lambda: done.append("made"), lambda _: done.append("removed")):
            done.append("used")

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert done == ["made", "used", "removed"]


def test_what_is_temporary_is_removed_at_whatever_line_a_signal_comes() -> None:
    made: set[int] = set()
    unseen, moment, finished = [], 0, False
    while not finished:
        moment += 1
        finished = _sent_at(moment, made)
        unseen += [moment] if made else []
        made.clear()
    assert unseen == []
    assert moment > 30  # lines of the code that makes, keeps and removes


def _sent_at(moment: int, made: set[int]) -> bool:
    """Make something for a while, with a signal at one line of our own code; say whether all was done before that line came."""
    lines = 0

    def trace(frame: FrameType, event: str, _: object) -> Any:
        nonlocal lines
        if frame.f_code.co_filename == interrupts.__file__ and frame.f_code.co_name != "_interrupt" and event == "line":
            lines += 1
            if lines == moment:
                send("SIGTERM")
        return trace

    def make() -> int:
        made.add(moment)
        return moment

    ended = True
    try:
        with ended_alike():
            sys.settrace(trace)
            try:
                with temporary(make, made.discard):
                    pass
            finally:
                sys.settrace(None)
    except KeyboardInterrupt:
        ended = False
    return ended and lines < moment
