"""Where each hit really begins in the audio, and what was struck that the take doesn't list.

A drum is heard by all microphones, by each at its own distance and with its own bleed, so the
curve of rises around a hit has a shape that belongs to the piece. That shape is learned from all
hits of the piece and laid over each of them: the curve itself says where the hit is, whichever
microphone hears it first. Where a shape begins, the first microphone hears the attack.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words
from evenhand.jobs.conform.rises import HeardAttacks

#: A hit is looked for so far from where it should be, seconds.
WITHIN_S = 0.015
#: A shape reaches from there to there around the hit, seconds.
_AHEAD_S, _BEHIND_S = 0.015, 0.03
#: Pieces with fewer hits take the shape of all.
_FEW = 6
#: What costs a hit that lies at the edge of the search, as a share of a perfect fit.
_NEARER = 0.2
#: A hit with another one close by is looked for only so far, seconds: the rise may be the other's.
_CROWDED_S = 0.003
#: The rise of another hit reaches so far ahead of it, seconds.
_RISE_S = 0.01
#: A shape begins where it first has so much of its height over what was before.
_FOOT = 0.15
#: A rise so long before the top belongs to it still, seconds.
_GAP_S = 0.006
#: Rises count up to here while shapes are learned, so that neighbours don't shine through.
_CAP = 15.0
#: A rise below this is no attack; one that the take lacks must stand out more.
_LEAST, _UNLISTED = 1.0, 3.0
#: And as high as this share of what the take's own hits make.
_SHARE = 0.3
#: No unlisted attack so near behind a listed one, seconds: it is its echo; nor so near before.
_ECHO_S, _BEFORE_S = 0.035, 0.012


@dataclass(frozen=True, eq=False)
class Attacks:
    """The attacks of some hits.

    Attributes
    ----------
    late : float64 array, shape (hits,)
        How much later than predicted each attack lies, seconds.
    found : bool array, shape (hits,)
        Whether there is a rise at all.
    near : float64 array, shape (hits,)
        How far each is from where its piece usually lies, seconds, as the curve alone says it;
        NaN where another hit is too close to tell.
    """

    late: Floats
    found: Bools
    near: Floats


def find_attacks(predicted: Floats, piece: Words, heard: HeardAttacks) -> Attacks:
    """Find the attack of each hit.

    Parameters
    ----------
    predicted : float64 array, shape (hits,)
        Where it should be in the audio, seconds.
    piece : str array, shape (hits,)
    heard : HeardAttacks
    """
    unit = 1 / heard.per_second
    reach = int(WITHIN_S / unit)
    ahead, behind = int(_AHEAD_S / unit), int(_BEHIND_S / unit)
    center = np.rint(predicted / unit).astype(np.int64)
    offsets = np.arange(-reach - ahead, reach + behind + 1)
    place = center[:, None] + offsets
    inside = (place >= 0) & (place < len(heard.rise))
    table = np.where(inside, heard.rise[np.clip(place, 0, len(heard.rise) - 1)], 0)
    capped = np.minimum(table, _CAP)
    lag = np.zeros(len(center), np.int64)
    foot, free = np.zeros_like(lag), np.zeros_like(lag)
    width = ahead + behind + 1
    there = inside[:, reach + ahead]
    shared = _learn(capped, lag, np.flatnonzero(there), reach, width)[0]
    crowded = _crowded(predicted)
    for name in np.unique(piece):
        mine = np.flatnonzero(piece == name)
        known = mine[there[mine]]
        shape = _learn(capped, lag, known, reach, width)[0] if len(known) >= _FEW else shared
        for near, some in (
            (reach, mine[~crowded[mine]]),
            (int(_CROWDED_S / unit), mine[crowded[mine]]),
        ):
            lag[some] = _best_lag(capped[some], shape, reach, near)
            free[some] = _best_lag(capped[some], shape, reach, reach, cost=0)
        foot[mine] = _foot(shape, ahead, int(_GAP_S / unit))
    at = center + lag + foot
    rows = reach + ahead + (lag + foot)[:, None] + np.arange(16)
    height = np.take_along_axis(table, np.clip(rows, 0, table.shape[1] - 1), axis=1).max(axis=1)
    # A rise is felt a step before the attack is in it whole: the step behind its foot has it.
    late = (at + 1) * unit - predicted
    return Attacks(late, height >= _LEAST, np.where(crowded, np.nan, free * unit))


def _foot(shape: Floats, ahead: int, gap: int) -> int:
    """Where a shape begins, in steps from its middle.

    From its top back to where it leaves what was there before; a microphone that stands nearer
    than those that make the top may come a little earlier.
    """
    ground = float(np.median(shape[: ahead // 2]))
    high = np.flatnonzero(shape >= ground + _FOOT * (shape.max() - ground))
    top = int(np.argmax(shape))
    high = high[high <= top]
    breaks = np.flatnonzero(np.diff(high) > gap)
    return int(high[breaks[-1] + 1] if len(breaks) else high[0]) - ahead


def _learn(table: Floats, lag: Ints, mine: Ints, reach: int, width: int) -> tuple[Floats, Ints]:
    """The shape that some hits share, and where it fits each of them best."""
    rows, here = table[mine], lag[mine]
    shape = np.zeros(width)
    for _ in range(4):
        columns = reach + here[:, None] + np.arange(width)
        shape = np.take_along_axis(rows, columns, axis=1).mean(axis=0)
        here = _best_lag(rows, shape, reach, reach)
        here = np.clip(here - int(np.median(here)), -reach, reach)
    columns = reach + here[:, None] + np.arange(width)
    shape = np.take_along_axis(rows, columns, axis=1).mean(axis=0)
    return shape, here


def _best_lag(rows: Floats, shape: Floats, reach: int, near: int, cost: float = _NEARER) -> Ints:
    """Where a shape fits each row best, at most `near` steps away; of equals the nearest."""
    plain = shape - shape.mean()
    lags = np.arange(-near, near + 1)
    fits = np.stack([rows[:, reach + lag : reach + lag + len(shape)] @ plain for lag in lags])
    far = cost * float(plain @ plain) * (lags[:, None] / reach) ** 2
    return np.asarray(lags[np.argmax(fits - far, axis=0)])


def _crowded(predicted: Floats) -> Bools:
    """Which hits have another one so near that a rise may be that one's."""
    order = np.argsort(predicted, kind="stable")
    close = np.diff(predicted[order]) < WITHIN_S + _RISE_S
    crowded = np.zeros(len(predicted), np.bool_)
    crowded[order] = np.append(close, False) | np.insert(close, 0, False)
    return crowded


def unlisted(at: Ints, heard: HeardAttacks) -> Ints:
    """Attacks that the take does not list (a hat without a trigger), in samples.

    Parameters
    ----------
    at : int64 array, shape (hits,)
        The attacks of the take's own hits, in samples.
    heard : HeardAttacks
    """
    rise, step = heard.rise, heard.step
    if not len(at) or not len(rise):
        return np.zeros(0, np.int64)
    own = np.clip(at // step, 0, len(rise) - 1)
    height = np.max([rise[np.clip(own + k, 0, len(rise) - 1)] for k in range(-2, 5)], axis=0)
    least = max(_UNLISTED, _SHARE * float(np.median(height)))
    inner = rise[1:-1]
    tops = np.flatnonzero((inner >= least) & (inner >= rise[:-2]) & (inner > rise[2:])) + 1
    ordered = np.sort(at)
    before = np.searchsorted(ordered, tops * step, side="right")
    gap = np.where(before > 0, tops * step - ordered[np.maximum(before - 1, 0)], np.inf)
    next_gap = np.where(
        before < len(ordered), ordered[np.minimum(before, len(ordered) - 1)] - tops * step, np.inf
    )
    free = (gap > _ECHO_S * heard.rate) & (next_gap > _BEFORE_S * heard.rate)
    kept: list[int] = []
    for top in tops[free].tolist():
        if not kept or (top - kept[-1]) * step > _ECHO_S * heard.rate:
            kept.append(top)
    return np.array(kept, np.int64) * step
