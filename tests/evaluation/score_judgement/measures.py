"""The measures: what share of planted faults was mended, and at what price.

All times are in ms, one entry per hit of a `Playing`, in its order. Functions that count give
(how many, of how many), so that takes can be added up.
"""

from typing import TypeAlias

import numpy as np
from tests.evaluation.score_judgement.plant import Pushes, Slips
from tests.evaluation.score_judgement.playing import Playing

from evenhand.columns import Bools, Floats, Ints

Share: TypeAlias = tuple[int, int]

#: What counts as moved; as steady; as large; as thrown; as the same decision, ms.
MOVED_MS, STEADY_MS, LARGE_MS, THROWN_MS, SAME_MS = 2.0, 6.0, 25.0, 15.0, 5.0
#: A slip this near to where it was is repaired, and one of which this share at most is left.
NEAR_MS, LEFT, LAX_LEFT = 12.0, 0.4, 0.6
#: Lines further apart are no neighbours, ms; intervals that changed less did not change.
_NEIGHBOURS_MS, _CHANGED_MS = 1500.0, 1.0


def count(which: Bools) -> Share:
    """How many, and of how many."""
    return int(which.sum()), len(which)


def repaired(amount: Floats, left: Floats) -> Bools:
    """Which slips were taken back by three fifths and not overshot: the strict reading.

    Parameters
    ----------
    amount : float64 array
        By how much each slipped.
    left : float64 array
        How far it is from where it was before the slip; same sign conventions.
    """
    remaining = left * np.sign(amount)
    most = np.maximum(LEFT * np.abs(amount), NEAR_MS)
    return np.asarray((remaining >= -NEAR_MS) & (remaining <= most))


def eased(amount: Floats, left: Floats) -> Bools:
    """Which slips are nearer by two fifths or near to where they were: the lax reading."""
    return np.asarray(np.abs(left) <= np.maximum(LAX_LEFT * np.abs(amount), NEAR_MS))


def slips_mended(playing: Playing, slips: Slips, after: Floats) -> dict[str, Share]:
    """What became of planted slips, of the hats beside them and of all other anchors."""
    reference = playing.reference[slips.stroke]
    left = after[reference] - playing.ms[reference]
    amount = np.zeros(len(playing.reference))
    amount[slips.stroke] = slips.amount
    along = np.zeros(len(playing.reference), np.bool_)
    along[slips.stroke] = slips.along
    struck = playing.with_stroke
    beside = playing.keeper & (struck >= 0) & (np.append(amount, 0.0)[struck] != 0)
    slid, steady = (beside & (np.append(along, False)[struck] == yes) for yes in (True, False))
    others = playing.anchor & (np.append(amount, 0.0)[playing.stroke] == 0)
    shift = np.abs(after - slips.ms)
    good = repaired(slips.amount, left)
    return {
        "repaired": count(good),
        "repaired lax": count(eased(slips.amount, left)),
        "repaired alone": count(good[~slips.along]),
        "repaired along": count(good[slips.along]),
        "others moved": count(shift[others] > MOVED_MS),
        "hats steady": count(np.abs(after - playing.ms)[steady] <= STEADY_MS),
        "hats along": count(
            repaired(np.append(amount, 0.0)[struck][slid], (after - playing.ms)[slid])
        ),
    }


def pushes_eased(playing: Playing, pushes: Pushes, after: Floats) -> dict[str, Share]:
    """Pushes of which half at the most is left, and what moved far from them."""
    good = []
    away = playing.anchor.copy()
    for first, stop, amount in zip(pushes.first, pushes.stop, pushes.amount, strict=True):
        bar = (stop - first) * 0.5
        away &= (playing.ms < first - bar) | (playing.ms > stop + bar)
        inside = playing.anchor & (playing.ms >= first - 30) & (playing.ms < stop - 30)
        left = np.median((after - playing.ms)[inside])
        good.append(abs(left) <= abs(amount) / 2)
    shift = np.abs(after - pushes.at(playing.ms))
    return {
        "pushes eased": count(np.array(good, bool)),
        "others moved, pushes": count(shift[away] > MOVED_MS),
    }


def moved_strokes(playing: Playing, after: Floats) -> Bools:
    """Which strokes moved."""
    return np.asarray(np.abs(after - playing.ms)[playing.reference] > MOVED_MS)


def evener(playing: Playing, after: Floats) -> Share:
    """Moved strokes whose steps from and to their neighbours came nearer to what they usually are.

    The neighbours are all hits on the lines before and behind on which anything is struck. Strokes
    that moved along with both neighbours are left out.
    """
    if not len(playing):
        return 0, 0
    lines = int(playing.line.max()) + 1
    many = np.maximum(np.bincount(playing.line, minlength=lines), 1)
    at = np.bincount(playing.line, playing.nominal, lines) / many
    errors = []
    for ms in (playing.ms, after):
        off = ms - playing.nominal - playing.usual
        around = np.bincount(playing.line, off, lines) / many
        stroke = playing.reference
        own, line = off[stroke], playing.line[stroke]
        error = np.zeros((2, len(stroke)))
        for side, step in enumerate((-1, 1)):
            other = np.clip(line + step, 0, lines - 1)
            near = (other != line) & (np.abs(at[other] - at[line]) <= _NEIGHBOURS_MS)
            error[side] = np.where(near, np.abs(own - around[other]), 0.0)
        errors.append(error)
    before, then = errors
    changed = (np.abs(then - before) > _CHANGED_MS).any(axis=0) & moved_strokes(playing, after)
    return count((then.sum(axis=0) < before.sum(axis=0))[changed])


def thrown(playing: Playing, after: Floats) -> Share:
    """Timekeeper hits that stand further from the middle of their neighbours than they did."""
    good = np.zeros(0, np.bool_)
    for piece in np.unique(playing.piece[playing.keeper]):
        hit = np.flatnonzero(playing.keeper & (playing.piece == piece))
        hit = hit[np.argsort(playing.ms[hit], kind="stable")]
        bend = [
            np.abs(off[1:-1] - (off[:-2] + off[2:]) / 2)
            for off in ((ms - playing.nominal)[hit] for ms in (playing.ms, after))
        ]
        near = (playing.ms[hit[2:]] - playing.ms[hit[:-2]]) <= 2 * _NEIGHBOURS_MS
        if len(hit) > 2:
            good = np.append(good, (bend[1] - bend[0] > THROWN_MS)[near])
    return count(good)


def large_listed(playing: Playing, after: Floats, listed: Ints) -> Share:
    """Of the three strokes that moved furthest (and far at all), those on the list.

    Parameters
    ----------
    playing : Playing
    after : float64 array
    listed : int64 array
        Hits that any entry of the list names, by index.
    """
    shift = np.abs(after - playing.ms)[playing.reference]
    largest = np.argsort(-shift, kind="stable")[:3]
    largest = largest[shift[largest] > LARGE_MS]
    return count(np.isin(largest, playing.stroke[listed]))


def same_decisions(playing: Playing, shift: Floats, other: Floats) -> Share:
    """Anchors that two runs shift alike."""
    return count(np.abs(shift - other)[playing.anchor] <= SAME_MS)


def spread_ratio(playing: Playing, scattered: Floats, after: Floats) -> float:
    """Spread of the anchors around where they usually are: afterwards over before."""
    usual = (playing.nominal + playing.usual)[playing.anchor]
    return float(np.std(after[playing.anchor] - usual) / np.std(scattered[playing.anchor] - usual))
