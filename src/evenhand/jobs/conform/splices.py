"""Where time is gained or lost: at the place in the decay where the sound is most like itself.

Between two blocks that move by different amounts the sound is taken from two places that lie
`change` samples apart, and one is faded into the other. What is heard of that is the difference
between the two: where it is least in all files together, the fade is made. A large gain is made
in several turns, each of which repeats a stretch of the decay.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.jobs.conform.blocks import Blocks, Room
from evenhand.jobs.conform.encoding import Signal

#: The fade is sought no farther ahead of an attack than this, and is at most so long, seconds.
_SEARCH_S, _LONGEST_S = 0.2, 0.04
#: A fade takes so much of the room that is left over.
_SHARE = 0.5
#: How much a loud place may differ more than a quiet one: the exponent of its energy.
_MASKING = 0.5

#: All files between two samples, each at the same loudness; float32, shape (signals, samples).
Listen = Callable[[int, int], Signal]


@dataclass(frozen=True)
class Splice:
    """One fade from one shift to another.

    Attributes
    ----------
    at : int
        Its first sample in the new files.
    fade : int
        Samples.
    before, after : int
        Shift ahead of it and behind it, in samples.
    likeness : float
        How alike the two sounds are that are faded, -1 to 1, over all files by their energy.
    level_db : float
        How loud they are beside the files as a whole, dB.
    block : int
        The block behind it.
    """

    at: int
    fade: int
    before: int
    after: int
    likeness: float
    level_db: float
    block: int

    @property
    def change(self) -> int:
        """Samples gained; below zero they are lost."""
        return self.after - self.before


def changes_of(blocks: Blocks, room: Room) -> Ints:
    """The blocks ahead of which the shift changes."""
    change = np.diff(blocks.shift)
    fits = room.fits(blocks.first[1:] - blocks.last[:-1], change)
    return np.flatnonzero((change != 0) & fits) + 1


def place_splice(block: int, blocks: Blocks, room: Room, rate: int, listen: Listen) -> list[Splice]:
    """Find the fades between a block and the one before it.

    Parameters
    ----------
    block : int
    blocks : Blocks
    room : Room
    rate : int
    listen : callable
        See `Listen`.
    """
    before, after = int(blocks.shift[block - 1]), int(blocks.shift[block])
    least = int(blocks.last[block - 1]) + room.hold
    stop = int(blocks.first[block]) - room.lead
    change = after - before
    # The first block's own time is longer if that leaves enough.
    wish = min(int(blocks.until[block - 1]), stop - abs(change) - 4 * room.fade)
    start = max(least, wish, stop - abs(change) - int(_SEARCH_S * rate))
    turns = _turns(change, stop - start, room.fade)
    lag = -(-abs(change) // turns)
    spare = stop - start - lag
    fade = int(min(max(_SHARE * spare, room.fade), _LONGEST_S * rate, spare))
    if turns > 1:
        fade = min(fade, lag)
    sound = listen(start, stop)
    found: list[Splice] = []
    shift, at = before, 0
    steps = np.diff(np.rint(np.linspace(0, change, turns + 1)).astype(int)).tolist()
    for step in steps:
        place, likeness, level = _best(sound, abs(step), fade)
        source = start + place + (step if step > 0 else 0)
        at = max(source + shift, at)
        found.append(Splice(at, fade, shift, shift + step, likeness, level, block))
        shift += step
        at += fade
    return found


def _turns(change: int, free: int, fade: int) -> int:
    """In how many turns a change is made: one, but for a gain longer than the sound there."""
    if change <= 0 or change + fade <= free:
        return 1
    return -(-change // (free - fade))


def _best(sound: Signal, lag: int, fade: int) -> tuple[int, float, float]:
    """Where the sound is most like itself `lag` samples later; how alike, and how loud, dB."""
    one, other = sound[:, : sound.shape[1] - lag], sound[:, lag:]
    apart = _windows(one - other, fade)
    energy = _windows(sound, fade)
    both = energy[: len(apart)], energy[lag : lag + len(apart)]
    level = both[0] + both[1]
    floor = 1e-9 * fade * len(sound)
    cost = apart / (level + floor) ** _MASKING
    place = int(np.argmin(cost))
    power = np.sqrt(both[0][place] * both[1][place])
    inner = (level[place] - apart[place]) / 2
    likeness = float(np.clip(inner / power, -1, 1)) if power > floor else 1.0
    mean = level[place] / (2 * fade * len(sound))
    return place, likeness, float(10 * np.log10(mean + 1e-12))


def _windows(sound: Signal, fade: int) -> Floats:
    """Energy of all signals in each window of `fade` samples."""
    squares = np.einsum("ij,ij->j", sound, sound).astype(np.float64)
    total = np.concatenate([[0.0], np.cumsum(squares)])
    return np.asarray(total[fade:] - total[:-fade])
