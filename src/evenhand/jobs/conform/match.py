"""Matching: the hits of the take and the attacks in the audio, and how sure that is."""

from dataclasses import dataclass, field

import numpy as np

from evenhand.columns import Bools, Floats, Ints
from evenhand.errors import SoundError
from evenhand.jobs.conform.attacks import find_attacks
from evenhand.jobs.conform.clocks import Clock, coarse_clock, fit_line
from evenhand.jobs.conform.first_heard import Ears, FirstHeard, find_first
from evenhand.jobs.conform.moves import Moves
from evenhand.jobs.conform.rises import HeardAttacks

#: The right audio has most hits where their pieces usually are, nearer than this, seconds: chance
#: puts every fourth one there, and another take of the song not many more.
_NEAR_S, _RIGHT_SHARE = 0.004, 0.5
#: Fewer hits than this prove nothing.
_FEWEST = 4
#: Drift in millionths that is told, and that is refused unless allowed.
TOLD_PPM, REFUSED_PPM = 20.0, 200.0
#: A drift must stand out of its own error by this factor, or there is none.
_SURE = 3.0
_ROUNDS = 4


@dataclass(frozen=True, eq=False)
class Match:
    """Where the hits are in the audio.

    Attributes
    ----------
    clock : Clock
    error_ppm : float
        Standard error of the drift, millionths; infinite where none was looked for.
    at : int64 array, shape (hits,)
        The attack of each hit, in samples.
    late : float64 array, shape (hits,)
        How much later than the clock says, seconds.
    found : bool array, shape (hits,)
    share : float
        Share of the hits that lie where their piece usually does, of those that can be told.
    first : dict
        Pieces that one file hears earlier than most, and where; by piece.
    """

    clock: Clock
    error_ppm: float
    at: Ints
    late: Floats
    found: Bools
    share: float
    first: dict[str, FirstHeard] = field(default_factory=dict)


def find_match(
    moves: Moves,
    heard: HeardAttacks,
    offset_ms: float | None,
    drift: bool,
    ears: Ears | None = None,
) -> Match:
    """Find the hits in the audio.

    Parameters
    ----------
    moves : Moves
    heard : HeardAttacks
    offset_ms : float, optional
        How late the audio is; found if not given.
    drift : bool
        Whether clocks may run apart by more than 200 millionths.
    ears : callable, optional
        Listens to one file by itself; hits are then placed where the first file has them.

    Raises
    ------
    SoundError
        If too few hits are there, or the clocks run apart too far.
    """
    seconds = moves.ms / 1000
    if not heard.rise.any():
        raise SoundError("all files are silent from start to end; there is nothing to conform")
    given = offset_ms is not None
    clock = Clock((offset_ms or 0.0) / 1000) if given else coarse_clock(seconds, heard)
    error = float("inf")
    for turn in range(_ROUNDS):
        attacks = find_attacks(clock.at(seconds), moves.piece, heard)
        line, error = fit_line(
            seconds, attacks.late, attacks.found, moves.piece, moves.anchor, turn > 0
        )
        clock = Clock(
            clock.offset if given else clock.offset + line.offset, clock.drift + line.drift
        )
    if abs(clock.drift) < _SURE * error:
        # No more than chance: one speed, and the offset that goes with it.
        middle = float(np.mean(seconds))
        there = clock.offset if given else clock.offset + clock.drift * 1e-6 * middle
        clock = Clock(there)
    predicted = clock.at(seconds)
    attacks = find_attacks(predicted, moves.piece, heard)
    inside = (predicted >= 0) & (predicted < len(heard.rise) / heard.per_second)
    share = _share(attacks.near, attacks.found, inside)
    count = int(inside.sum()), int((attacks.found & inside).sum())
    _refuse(clock, share, count, drift, given)
    late, found = attacks.late, attacks.found & inside
    first = find_first(predicted + late, moves.piece, found, heard, ears) if ears else {}
    for name, one in first.items():
        if one.sure:
            late = late - one.earlier * (moves.piece == name)
    if not given and any(one.sure for one in first.values()):
        line, _ = fit_line(seconds, late, found, moves.piece, moves.anchor, False)
        clock, late = Clock(clock.offset + line.offset, clock.drift), late - line.offset
    at = np.rint((clock.at(seconds) + late) * heard.rate).astype(np.int64)
    return Match(clock, error, at, late, found, share, first)


def _share(near: Floats, found: Bools, inside: Bools) -> float:
    told = ~np.isnan(near) & inside
    if not told.any():
        told = inside
        near = np.zeros(len(near))
    if not told.any():
        return 0.0
    return float(np.mean(found[told] & (np.abs(near[told]) < _NEAR_S)))


def _refuse(clock: Clock, share: float, count: tuple[int, int], drift: bool, given: bool) -> None:
    inside, found = count
    ms = f"{clock.offset * 1000:+.1f} ms"
    where = f"at the offset of {ms} that was given" if given else f"at an offset of {ms}"
    if inside < _FEWEST:
        other = "leave --offset out, and it is looked for" if given else "give it with --offset"
        raise SoundError(
            f"only {inside} hits of the take lie inside the audio {where}; {other}, or give "
            "other files"
        )
    if share < _RIGHT_SHARE:
        best = "" if given else ", the best there is"
        other = "; without --offset it is looked for" if given else ""
        raise SoundError(
            f"this is not the audio of this take, or its offset is another: {where}{best}, "
            f"{share:.0%} of the hits have an attack where it belongs ({found} of {inside} have "
            f"any); {_RIGHT_SHARE:.0%} are needed{other}"
        )
    if abs(clock.drift) > REFUSED_PPM and not drift:
        raise SoundError(
            f"the clocks run apart by {clock.drift:+.0f} millionths ({clock.drift * 0.06:+.1f} ms "
            "a minute); if that is so, allow it with --drift"
        )
