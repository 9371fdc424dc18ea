"""The plan: where each hit is in the audio, what moves with what, and where the cuts are."""

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from evenhand.carry import ANCHOR_WEIGHT, FADE_MS, HOLD_MS, LEAD_MS, Room
from evenhand.columns import Floats, Ints
from evenhand.jobs.conform.attacks import unlisted
from evenhand.jobs.conform.blocks import Blocks, Units, make_blocks
from evenhand.jobs.conform.encoding import Signal
from evenhand.jobs.conform.match import Match, find_match
from evenhand.jobs.conform.microphone import Microphone, Size, common_size
from evenhand.jobs.conform.moves import Moves
from evenhand.jobs.conform.rises import HeardAttacks, ears_of, hear
from evenhand.jobs.conform.splices import Splice, changes_of, place_splice

#: Behind an attack that much stays whole in any case, and so much if there is room, seconds. What
#: rings long at a low pitch wants more. Common practice.
HOLD_S, _WISH_S, _RINGS_S = HOLD_MS / 1000, 0.05, 0.12
_RINGING = ("kick", "tom")


@dataclass(frozen=True)
class ConformSettings:
    """How to conform.

    Attributes
    ----------
    before : float
        How much stays whole ahead of each attack, ms, 1 to 20.
    offset : float, optional
        How late the audio is, ms; found if not given.
    drift : bool
        Whether clocks may run apart by more than 200 millionths.
    """

    before: float = LEAD_MS
    offset: float | None = None
    drift: bool = False


@dataclass(frozen=True, eq=False)
class CutPlan:
    """What will be done to all files alike.

    Attributes
    ----------
    size : Size
    moves : Moves
    heard : HeardAttacks
    match : Match
        Where each hit is in the audio.
    units : Units
        The attacks, listed and unlisted.
    blocks : Blocks
    splices : tuple of Splice
        In the order of the new files.
    """

    size: Size
    moves: Moves
    heard: HeardAttacks
    match: Match
    units: Units
    blocks: Blocks
    splices: tuple[Splice, ...]

    @property
    def shift(self) -> Ints:
        """How far the audio moves at each listed hit in it, in samples, by unit."""
        return np.asarray(self.blocks.shift[self.blocks.of_unit])


def make_plan(
    microphones: Sequence[Microphone],
    moves: Moves,
    settings: ConformSettings,
    pool: Executor,
    tell: Callable[[int], object],
) -> CutPlan:
    """Plan the cuts; nothing is written.

    Parameters
    ----------
    microphones : sequence of Microphone
    moves : Moves
    settings : ConformSettings
    pool : Executor
        Threads that share the work.
    tell : callable
        Told how many samples of each file have been listened to.

    Raises
    ------
    SoundError
        If the files differ in rate or length, or don't hold this take.
    """
    size = common_size(list(microphones))
    heard = hear(microphones, size, pool, tell)
    ears = ears_of(microphones, heard)
    match = find_match(moves, heard, settings.offset, settings.drift, ears)
    units = _units(moves, match, heard, size)
    room = Room(
        lead=round(settings.before / 1000 * size.rate),
        hold=round(HOLD_S * size.rate),
        fade=round(FADE_MS / 1000 * size.rate),
    )
    blocks = make_blocks(units, size.frames, room)
    listen = _listener(microphones, heard)
    todo = changes_of(blocks, room).tolist()
    found = pool.map(lambda block: place_splice(block, blocks, room, size.rate, listen), todo)
    splices = tuple(splice for some in found for splice in some)
    return CutPlan(size, moves, heard, match, units, blocks, splices)


def _units(moves: Moves, match: Match, heard: HeardAttacks, size: Size) -> Units:
    """The attacks with what each would do alone: the listed hits, and what else was struck."""
    rate = size.rate
    inside = np.flatnonzero((match.at >= 0) & (match.at < size.frames))
    at = match.at[inside]
    usual = np.rint(at - rate * _beside(match, moves)[inside]).astype(np.int64)
    wanted = np.rint(moves.shift_ms[inside] / 1000 * rate)
    known = ~np.isnan(wanted)
    others = unlisted(match.at[inside], heard)
    # What the list lacks was found where most files have it; the first one may be ahead of them.
    earlier = max((one.earlier for one in match.first.values() if one.sure), default=0.0)
    others_first = others - round(earlier * rate)
    every = np.concatenate([at, others])
    # Like everything between anchors, what the list lacks is carried in proportion.
    carried = np.rint(np.interp(every, at[known], wanted[known]) if known.any() else 0.0 * every)
    carried[: len(at)] = np.where(known, wanted, carried[: len(at)])
    piece = moves.piece[inside]
    rings = np.any([np.char.startswith(piece, name) for name in _RINGING], axis=0)
    wish = np.where(rings, _RINGS_S, _WISH_S) * rate
    weight = moves.velocity[inside] + ANCHOR_WEIGHT * moves.anchor[inside]
    order = np.argsort(every, kind="stable")
    nothing = np.zeros(len(others))
    return Units(
        at=every[order],
        first=np.concatenate([np.minimum(at, usual), others_first])[order],
        last=np.concatenate([np.maximum(at, usual), others])[order],
        shift=carried.astype(np.int64)[order],
        weight=np.concatenate([weight, nothing])[order],
        hold=np.concatenate([wish, nothing + HOLD_S * rate]).astype(np.int64)[order],
        hit=np.concatenate([inside, np.full(len(others), -1)])[order],
    )


def _beside(match: Match, moves: Moves) -> Floats:
    """How much later each attack was found than its piece usually is, seconds."""
    late = match.late
    usual = np.zeros(len(late))
    for name in np.unique(moves.piece):
        mine = moves.piece == name
        if (mine & match.found).any():
            usual[mine] = np.median(late[mine & match.found])
    return np.asarray(late - usual)


def _listener(
    microphones: Sequence[Microphone], heard: HeardAttacks
) -> Callable[[int, int], Signal]:
    """All files between two samples, each at the same loudness; silent ones left out."""
    heard_files = [
        (one, np.float32(1 / loud))
        for one, loud in zip(microphones, heard.loudness, strict=True)
        if loud > 0
    ]

    def listen(start: int, stop: int) -> Signal:
        parts = [one.listen(start, stop - start).T * scale for one, scale in heard_files]
        return np.nan_to_num(np.concatenate(parts), nan=0.0, posinf=0.0, neginf=0.0)

    return listen
