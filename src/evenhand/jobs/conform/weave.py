"""Writing: stretches of the old file, bit by bit, and the fades between them."""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from pathlib import Path

import numpy as np

from evenhand.columns import Floats
from evenhand.jobs.conform.microphone import Microphone
from evenhand.jobs.conform.splices import Splice

#: Levels are held down to this likeness; single files may be more alike than all of them together.
_LEAST_ALIKE = -0.5


@lru_cache(maxsize=16)
def curves(splice: Splice) -> tuple[Floats, Floats]:
    """The two curves of a fade: how much of the old place is heard, and how much of the new one.

    They cross as squared cosine and sine. Sounds that are alike keep their level if the two add up
    to 1 (equal gain), sounds that have nothing in common if their squares do (equal power); for
    what lies between, the sum is held at the power that the measured likeness r gives:
    g₁² + g₂² + 2·r·g₁·g₂ = 1 (Fink, Holters & Zölzer 2016, "Signal-matched power-complementary
    cross-fading and dry-wet mixing", DAFx; from memory). Also where they work against each other:
    a level that falls and comes back within 10 ms is heard as an attack.
    """
    turn = (np.arange(splice.fade) + 0.5) / splice.fade
    new = np.sin(np.pi / 2 * turn) ** 2
    old = 1 - new
    alike = min(max(splice.likeness, _LEAST_ALIKE), 1.0)
    size = np.sqrt(old**2 + new**2 + 2 * alike * old * new)
    return old / size, new / size


def stretches(
    splices: Sequence[Splice], frames: int, at: int = 0, shift: int = 0
) -> Iterator[tuple[int, int, int]]:
    """What is copied between splices: start in the new file, length, shift."""
    for splice in splices:
        yield at, splice.at - at, shift
        at, shift = splice.until, splice.after
    yield at, frames - at, shift


def join(one: Microphone, splice: Splice) -> Floats:
    """The samples made anew at a splice, shape (n, channels), in the file's own numbers."""
    old, new = curves(splice)
    count = splice.until - splice.at
    rise = np.full(count, splice.gains[1])
    if splice.back:
        turn = (np.arange(splice.back) + 0.5) / splice.back
        rise[-splice.back :] **= 1 - turn
    rise[: splice.fade] *= new
    sound = rise[:, None] * one.exact(splice.at - splice.after, count)
    fading = one.exact(splice.at - splice.before, splice.fade)
    sound[: splice.fade] += splice.gains[0] * old[:, None] * fading
    return np.asarray(sound)


def write_conformed(one: Microphone, splices: Sequence[Splice], path: Path) -> None:
    """Write a file anew, cut at the splices.

    Raises
    ------
    OSError
        If the disk takes no more.
    """
    with one.anew(path) as writer:
        plan = iter(splices)
        for at, length, shift in stretches(splices, one.layout.frames):
            if length:
                writer.copy(at - shift, length)
            splice = next(plan, None)
            if splice:
                writer.put(join(one, splice))


def hear_conformed(one: Microphone, splices: Sequence[Splice], start: int, count: int) -> Floats:
    """What the new file of a microphone holds between two samples; shape (count, channels).

    In the file's own numbers, and the same as is written.
    """
    stop = start + count
    near = [splice for splice in splices if splice.until > start and splice.at < stop]
    shift = next((one.after for one in reversed(splices) if one.until <= start), 0)
    parts: list[Floats] = []
    plan = iter(near)
    for at, length, by in stretches(near, one.layout.frames, min(start, 0), shift):
        first, last = max(at, start), min(at + length, stop)
        if last > first:
            parts.append(one.exact(first - by, last - first))
        splice = next(plan, None)
        if splice:
            parts.append(join(one, splice)[max(start - splice.at, 0) : stop - splice.at])
    heard = np.concatenate(parts) if parts else np.zeros((0, one.layout.channels))
    # Behind the end of the file is silence.
    return np.pad(heard, ((0, count - len(heard)), (0, 0)))
