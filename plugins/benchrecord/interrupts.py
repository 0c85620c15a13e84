"""Signals that end a program: each ends it as Ctrl+C does, and none in the middle of making or removing what is temporary."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import TypeVar

ENDS = (
    "SIGINT",
    "SIGTERM",
    "SIGHUP",
    "SIGBREAK",
)  # Ctrl+C, a session or a service that ends, a window that is closed, on Windows Ctrl+Break or a closed window; no system has all
Made = TypeVar("Made")


class _State:
    """How deep the main thread is in what must not be interrupted, and whether a signal waits for its end."""

    depth = 0
    waiting = False


@contextmanager
def ended_alike() -> Iterator[None]:
    """Let whatever ends this process raise KeyboardInterrupt in its main thread; what is ignored or handled already stays so."""
    if threading.current_thread() is not threading.main_thread():
        yield  # Python lets no other thread set handlers
        return
    known = [getattr(signal, name) for name in ENDS if hasattr(signal, name)]
    free = [number for number in known if signal.getsignal(number) in (signal.SIG_DFL, signal.default_int_handler)]
    before = {number: signal.signal(number, _interrupt) for number in free}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _interrupt(_number: int, _frame: FrameType | None) -> None:
    if _State.depth:
        _State.waiting = True
    else:
        raise KeyboardInterrupt


@contextmanager
def uninterrupted() -> Iterator[None]:
    """Let a signal wait until this is done; it is for what takes moments. Signals concern no other thread than the main one."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    _State.depth += 1
    try:
        yield
    finally:
        _State.depth -= 1
        if _State.waiting and not _State.depth:
            _State.waiting = False
            raise KeyboardInterrupt


@contextmanager
def temporary(make: Callable[[], Made], remove: Callable[[Made], object]) -> Iterator[Made]:
    """Make something, and remove it whatever happens; no signal comes in the middle of either."""
    made: list[Made] = []

    def removed() -> None:
        with uninterrupted():
            while made:
                remove(made.pop())

    try:
        try:
            with uninterrupted():
                made.append(make())
            yield made[0]
        finally:
            removed()
    finally:  # a signal may come at the very beginning of the first attempt
        removed()
