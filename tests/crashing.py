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
    made, write = 0, os.write

    def wrap(real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*words: Any, **more: Any) -> Any:
            nonlocal made
            if made == step:
                if last_word is not None:
                    write(last_word, b"!")
                os.kill(os.getpid(), signal.SIGKILL)
            made += 1
            return real(*words, **more)

        return call

    for name in calls:
        setattr(os, name, wrap(getattr(os, name)))
    if opening:
        io.open = wrap(io.open)
