"""Dying on purpose, for the tests of what a crash leaves behind."""

import io
import os
import signal
from collections.abc import Callable, Iterable
from typing import Any


def die_at(
    step: int, calls: Iterable[str], opening: bool = False, last_word: int | None = None
) -> None:
    """From now on, this process is killed right before a certain call that changes the disk.

    Parameters
    ----------
    step : int
        Which call, counted from 0.
    calls : iterable of str
        The functions of `os` that count.
    opening : bool
        Whether opening a file counts as well.
    last_word : int, optional
        A handle on which a byte is left behind.
    """
    write = os.write

    def before(made: int) -> None:
        if made == step:
            if last_word is not None:
                write(last_word, b"!")
            os.kill(os.getpid(), signal.SIGKILL)

    _before_each(calls, opening, before)


def count_calls(calls: Iterable[str], told: int, opening: bool = False) -> None:
    """From now on, tell on a handle the number of each call, four bytes, from 0 (see `die_at`)."""
    write = os.write
    _before_each(calls, opening, lambda made: write(told, made.to_bytes(4, "big")))


def _before_each(calls: Iterable[str], opening: bool, act: Callable[[int], object]) -> None:
    made = 0

    def wrap(real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*words: Any, **more: Any) -> Any:
            nonlocal made
            act(made)
            made += 1
            return real(*words, **more)

        return call

    for name in calls:
        setattr(os, name, wrap(getattr(os, name)))
    if opening:
        io.open = wrap(io.open)
