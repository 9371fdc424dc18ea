"""Where time is gained or lost: at the place in the decay where the sound is most like itself.

Between two blocks that move by different amounts the sound is taken from two places that lie
`change` samples apart, and one is faded into the other. What is heard of that is the difference
between the two: where it is least in all files together, the fade is made. A large gain is made
in several turns, each of which repeats a stretch of the decay.

Sound that is taken from earlier in a decay is louder than what should be there, and sound from
later is softer. So what follows the fade is brought to the level of what was ahead of it, in all
files alike, and comes back to its own just before the lead of the next attack, which hides that.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from evenhand.carry import Room
from evenhand.columns import Floats, Ints
from evenhand.jobs.conform.blocks import Blocks
from evenhand.jobs.conform.encoding import Signal

#: The fade is sought no farther ahead of an attack than this, and is at most so long, seconds.
_SEARCH_S, _LONGEST_S = 0.2, 0.04
#: A fade takes so much of the room that is left over.
_SHARE = 0.5
#: Levels are matched from here, dB, and within these factors.
_LEAST_DB, _SOFTEST, _LOUDEST = 0.5, 0.25, 2.0
#: And come back to their own within this time, seconds.
_RETURN_S = 0.008

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
    gains : tuple of two floats
        Factors of the sound ahead of the fade and behind it.
    until : int
        The sample in the new files from which on nothing is made anew.
    back : int
        So many samples before that, the factor comes back to 1; 0 if it doesn't.
    """

    at: int
    fade: int
    before: int
    after: int
    likeness: float
    level_db: float
    block: int
    gains: tuple[float, float]
    until: int
    back: int

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
    shortest = int(room.fade)
    least = int(blocks.last[block - 1] + room.hold)
    stop = int(blocks.first[block] - room.lead)
    change = after - before
    # The first block's own time is longer if that leaves enough.
    wish = min(int(blocks.until[block - 1]), stop - abs(change) - 4 * shortest)
    start = max(least, wish, stop - abs(change) - int(_SEARCH_S * rate))
    turns = _turns(change, stop - start, shortest)
    lag = -(-abs(change) // turns)
    spare = stop - start - lag
    fade = int(min(max(_SHARE * spare, shortest), _LONGEST_S * rate, spare))
    if turns > 1:
        # All turns repeat one stretch, so each fade ends before the next one begins.
        fade = min(fade, change // turns)
    sound = listen(start, stop)
    place = _best_place(sound, lag if change > 0 else -lag, fade)
    found: list[Splice] = []
    shift, gain = before, 1.0
    steps = np.diff(np.rint(np.linspace(0, change, turns + 1)).astype(int)).tolist()
    for step in steps:
        likeness, level, factor = _compare(sound, place, step, fade)
        at = start + place + max(step, 0) + shift
        gains = (gain, float(np.clip(gain * factor, _SOFTEST, _LOUDEST)))
        shift, gain = shift + step, gains[1]
        found.append(
            Splice(at, fade, shift - step, shift, likeness, level, block, gains, at + fade, 0)
        )
    return _joined(found, stop + after, round(_RETURN_S * rate))


def _joined(found: list[Splice], stop: int, back: int) -> list[Splice]:
    """The same, each made anew up to the next one, and the last up to the lead of the attack."""
    ends = [one.at for one in found[1:]] + [stop]
    return [
        one
        if one.gains[1] == 1
        else replace(one, until=end, back=0 if end != stop else min(back, end - one.at - one.fade))
        for one, end in zip(found, ends, strict=True)
    ]


def _turns(change: int, free: int, fade: int) -> int:
    """In how many turns a change is made: one, but for a gain longer than the sound there."""
    if change <= 0 or change + fade <= free:
        return 1
    return -(-change // (free - fade))


def _pair(sound: Signal, step: int) -> tuple[Signal, Signal]:
    """The sound that would go on, and the one that lies `step` samples ahead of it or behind."""
    early, late = sound[:, : sound.shape[1] - abs(step)], sound[:, abs(step) :]
    return (late, early) if step > 0 else (early, late)


def _best_place(sound: Signal, step: int, fade: int) -> int:
    """Where the sound is most like itself `step` samples away: the least of it would be lost."""
    old, new = _pair(sound, step)
    mine, other, apart = (_windows(one, fade) for one in (old, new, old - new))
    # What is left of the old sound when the new one, at its best level, is taken out of it.
    shared = np.maximum(mine + other - apart, 0) / 2
    return int(np.argmin(mine - shared**2 / (other + 1e-9 * fade * len(sound))))


def _compare(sound: Signal, place: int, step: int, fade: int) -> tuple[float, float, float]:
    """How alike both sounds are at a place, how loud (dB), and what makes the new one as loud."""
    old, new = (one[:, place : place + fade].astype(np.float64) for one in _pair(sound, step))
    floor = 1e-9 * old.size
    mine, other = float(np.sum(old**2)), float(np.sum(new**2))
    power = np.sqrt(mine * other)
    likeness = float(np.clip(np.sum(old * new) / power, -1, 1)) if power > floor else 1.0
    factor = float(np.sqrt((mine + floor) / (other + floor)))
    if abs(20 * np.log10(factor)) < _LEAST_DB:
        factor = 1.0
    level = 10 * np.log10((mine + other) / (2 * old.size) + 1e-12)
    return likeness, float(level), factor


def _windows(sound: Signal, fade: int) -> Floats:
    """Energy of all signals in each window of `fade` samples."""
    squares = np.einsum("ij,ij->j", sound, sound).astype(np.float64)
    total = np.concatenate([[0.0], np.cumsum(squares)])
    return np.asarray(total[fade:] - total[:-fade])
