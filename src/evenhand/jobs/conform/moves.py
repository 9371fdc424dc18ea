"""How far each hit of the recorded take moves: the take as played beside the tightened one."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words
from evenhand.compare import WITHIN_MS, compare
from evenhand.errors import MidiFileError
from evenhand.kit import ANCHOR, KitMap, label
from evenhand.take import Hits, Take

#: Fewer pairs than this share: another take.
_SAME_TAKE = 0.8


@dataclass(frozen=True, eq=False)
class Moves:
    """The hits of the take as played, in time order, n of them.

    Attributes
    ----------
    ms : float64 array
        When each hit was played, from the start of the take.
    shift_ms : float64 array
        How much later it is in the tightened take; NaN for a hit that is not in it.
    piece : str array
    velocity : int64 array
    anchor : bool array
        Whether it is an anchor: where hits sound together, anchors decide.
    bar, beat : int64 and float64 arrays
    """

    ms: Floats
    shift_ms: Floats
    piece: Words
    velocity: Ints
    anchor: Bools
    bar: Ints
    beat: Floats

    def __len__(self) -> int:
        return len(self.ms)


def moves_between(
    played: Take,
    tight: Take,
    kit: KitMap,
    *,
    channel: int | None = None,
    anchors: tuple[str, ...],
    within: float = WITHIN_MS,
) -> Moves:
    """Hold the tightened take against the take as played.

    Parameters
    ----------
    played, tight : Take
    kit : KitMap
    channel : int, optional
        1 to 16; found if not given.
    anchors : tuple of str
        Pieces whose hits are anchors.
    within : float
        How far a hit may have moved, ms, where the files don't hold the same hits in one order.

    Raises
    ------
    MidiFileError
        If they are not the same performance.
    """
    hits, _ = label(played.struck(channel), kit, anchors)
    after = tight.struck(channel)
    shift = np.full(len(hits), np.nan)
    if _in_one_order(hits, after, within):
        shift = after.ms - hits.ms
    else:
        both = compare(played, tight, kit, channel, within)
        pairs = both.paired
        shift[both.first[pairs]] = both.shift[pairs]
    share = float(np.mean(~np.isnan(shift))) if len(shift) else 0.0
    if share < _SAME_TAKE:
        raise MidiFileError(
            f"{tight.name} holds {share:.0%} of the hits of {played.name}: it is another take, or "
            f"hits were moved by more than {within:g} ms"
        )
    order = np.argsort(hits.ms, kind="stable")
    bar, beat = played.meter.place(hits.tick)
    return Moves(
        ms=hits.ms[order],
        # What is less than the noise of floating point must not make two shifts of one.
        shift_ms=np.round(shift[order], 6),
        piece=hits.piece[order],
        velocity=hits.velocity[order],
        anchor=(hits.role == ANCHOR)[order],
        bar=bar[order],
        beat=beat[order],
    )


def _in_one_order(hits: Hits, after: Hits, within: float) -> bool:
    """Whether both files hold the same hits in the same order, as a pass leaves them."""
    return (
        len(hits) == len(after)
        and np.array_equal(hits.note, after.note)
        and np.array_equal(hits.velocity, after.velocity)
        and float(np.mean(np.abs(after.ms - hits.ms) <= within)) >= _SAME_TAKE
    )
