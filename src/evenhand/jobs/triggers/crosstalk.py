"""Crosstalk: a blow on one pad shakes another, which answers softly and a little later.

One soft hit beside a loud one is music: ghosts and quiet hats fall together with kicks all the
time. But a player's own coincidences lie before the loud hit as often as behind it, and a little
further off as often as close by, while a pad that is shaken answers within a few ms, and after. So
each ordered pair of pads is judged by what it does in this take: the soft hits just behind loud
ones are counted against those in the stretches around. Only where they are many more, and
repeatedly, are they crosstalk; and among them only those of a loudness that the player's
coincidences hardly have.

How well the figures below do on real takes with planted faults is measured by
tests/evaluation/score_triggers.py.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints, Words

#: A shaken pad answers within this time, ms (6 ms and a tick for rounding),
ANSWER_MS = 7.0
#: and at most this loud, as a share of the blow's velocity.
LOUDEST = 0.5
#: The player's coincidences are counted from here before the blow to here behind it, ms,
BEFORE_MS, AFTER_MS = 16.0, 24.0
#: leaving out this much beside the answers, ms.
MARGIN_MS = 1.0
#: An answer is as loud as others if it is within this factor of them.
ALIKE = 1.35
#: Share of the answers of one loudness that must not be explained by coincidences.
SURE = 0.75
#: Fewest answers of a pair, and by how many standard deviations they must exceed what
#: coincidences explain.
FEWEST, DEVIATIONS = 5, 8.0
#: Blows no further apart than this, in beats, stand at the same place of the bar.
SAME_PLACE = 0.125
#: A place has its own ghosts if more of its blows are answered than elsewhere, by this many
#: standard deviations.
PLACE_DEVIATIONS = 3.0
#: Hits this crowded, in the time around a blow that is looked at, are no playing: no hands do
#: that. Nothing is judged there, and the work stays linear in the hits.
MOST_NEAR = 32
_SLACK = 5.0
#: Blows count from this percentile of those that are answered.
_SOFTEST = 10
#: How many coincidences it takes to believe their shape.
_PRIOR = 10.0

_WINDOW = ANSWER_MS + MARGIN_MS
_AROUND = BEFORE_MS + AFTER_MS - ANSWER_MS - 2 * MARGIN_MS


@dataclass(frozen=True)
class CrosstalkPair:
    """A pad that shakes another.

    Attributes
    ----------
    source, shaken : str
        The pads.
    blows : int
        Hits on the source at least as loud as the softest that was answered.
    answers : int
        Hits found to be crosstalk.
    lag_ms : float
        Median time from blow to answer.
    loudness : float
        Median velocity of the answers, percent of the blow's.
    """

    source: str
    shaken: str
    blows: int
    answers: int
    lag_ms: float
    loudness: float


@dataclass(frozen=True, eq=False)
class Crosstalk:
    """The crosstalk found.

    Attributes
    ----------
    hit, of : int64 arrays, shape (n,)
        Index of each answer, and of the blow that it answers.
    pairs : tuple of CrosstalkPair
    """

    hit: Ints
    of: Ints
    pairs: tuple[CrosstalkPair, ...]


@dataclass(frozen=True, eq=False)
class _Near:
    """Pairs of hits on two pads close in time: lag in ms, share of velocity, pads as a number."""

    blow: Ints
    other: Ints
    lag: Floats
    share: Floats
    pair: Ints

    def of(self, which: Bools | Ints) -> "_Near":
        return _Near(
            self.blow[which],
            self.other[which],
            self.lag[which],
            self.share[which],
            self.pair[which],
        )

    @property
    def inside(self) -> Bools:
        return np.asarray((self.lag >= 0) & (self.lag <= ANSWER_MS))

    @property
    def outside(self) -> Bools:
        return np.asarray((self.lag < -MARGIN_MS) | (self.lag > ANSWER_MS + MARGIN_MS))

    @property
    def soft(self) -> Bools:
        return np.asarray(self.share <= LOUDEST)


def find_crosstalk(ms: Floats, velocity: Ints, pad: Words, beat: Floats) -> Crosstalk:
    """Find soft hits that only answer a much louder hit on another pad.

    Parameters
    ----------
    ms : float64 array, shape (n,)
        Times of the hits, in any order.
    velocity : int64 array, shape (n,)
    pad : str array, shape (n,)
    beat : float64 array, shape (n,)
        Where in its bar each hit stands, in beats.

    Returns
    -------
    Crosstalk
        The pair that explains most, for the blows it takes, is judged first: what the kick
        explains need not be explained by the hat that is struck with it.
    """
    names, number = np.unique(pad, return_inverse=True)
    near = _list_near(ms, velocity, number, len(names))
    blows = np.repeat(np.bincount(number), len(names))
    judged = np.zeros(len(names) ** 2, np.bool_)
    found = near.of(np.zeros(0, np.int64))
    pairs: list[CrosstalkPair] = []
    counts = edges = np.zeros(0, np.int64)
    changed = True
    while True:
        if changed:
            counts = np.bincount(near.pair[near.inside & near.soft], minlength=len(judged))
            edges = np.searchsorted(near.pair, np.arange(len(judged) + 1))
            changed = False
        counts[judged | (counts < FEWEST)] = 0
        if not counts.any():
            break
        here = int(np.argmax(counts**2 / blows))
        judged[here] = True
        answers = _judge(near.of(np.arange(edges[here], edges[here + 1])))
        answers = _spread_out(answers, number == here // len(names), velocity, beat)
        if len(answers.other) >= FEWEST:
            pairs.append(_describe(answers, names, number, velocity))
            gone = np.zeros(len(ms), np.bool_)
            gone[answers.other] = True
            near = near.of(~gone[near.other])
            found = _joined(found, answers)
            changed = True
    order = np.argsort(found.other)
    return Crosstalk(found.other[order], found.blow[order], tuple(pairs))


def _list_near(ms: Floats, velocity: Ints, pad: Ints, pads: int) -> _Near:
    """All pairs of hits on two pads that are near in time, sorted by pair of pads."""
    order = np.argsort(ms, kind="stable")
    time = ms[order]
    first = np.searchsorted(time, time - BEFORE_MS)
    count = np.searchsorted(time, time + AFTER_MS, side="right") - first
    count[count > MOST_NEAR] = 0
    within = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    blow = np.repeat(order, count)
    other = order[np.repeat(first, count) + within]
    elsewhere = pad[blow] != pad[other]
    blow, other = blow[elsewhere], other[elsewhere]
    pair = pad[blow] * pads + pad[other]
    sort = np.argsort(pair, kind="stable")
    blow, other = blow[sort], other[sort]
    return _Near(blow, other, ms[other] - ms[blow], velocity[other] / velocity[blow], pair[sort])


def _judge(near: _Near) -> _Near:
    """Those of one pair's soft hits that are crosstalk; often none."""
    answers = near.of(near.inside & near.soft)
    around = np.log(near.share[near.outside & near.soft])
    part = _part_inside(near)
    share = np.log(answers.share)
    likely = (1 - SURE) * _alike(share, share) > part * (_alike(share, around) + 0.5)
    answers, share = answers.of(likely), share[likely]
    if len(share) < FEWEST:
        return answers.of(np.zeros(0, np.int64))
    equally_loud = (around >= share.min()) & (around <= share.max())
    explained = part * (equally_loud.sum() + 0.5)
    if len(share) < explained + DEVIATIONS * np.sqrt(explained):
        return answers.of(np.zeros(0, np.int64))
    return _each_once(answers)


def _spread_out(answers: _Near, source: Bools, velocity: Ints, beat: Floats) -> _Near:
    """Those that do not come mainly at certain places of the bar.

    A pad is shaken wherever the blow stands; a ghost that falls together with it comes where the
    pattern has it. So the share of blows answered at one place is held against that elsewhere.
    """
    if not len(answers.other):
        return answers
    strength = velocity[answers.blow]
    # A few coincidences with soft blows don't make all soft blows count.
    enough = np.percentile(strength, _SOFTEST)
    blows = np.sort(beat[source & (velocity >= enough)])
    place = beat[answers.blow]
    counted = np.sort(place[strength >= enough])
    struck, answered = _within(blows, place), _within(counted, place)
    overall = len(counted) / len(blows)
    share = (len(counted) - answered + _SLACK * overall) / (len(blows) - struck + _SLACK)
    expected = share * struck
    return answers.of(answered <= expected + PLACE_DEVIATIONS * np.sqrt(expected + 1))


def _within(ordered: Floats, place: Floats) -> Ints:
    """How many of `ordered` stand near each place."""
    first = np.searchsorted(ordered, place - SAME_PLACE)
    return np.asarray(np.searchsorted(ordered, place + SAME_PLACE, side="right") - first)


def _part_inside(near: _Near) -> float:
    """How many coincidences to expect among the answers for each one around them.

    Even spread gives the ratio of the widths; where the player's hits on the two pads fall
    together more closely than that, the hits too loud to be answers show it.
    """
    flat = _WINDOW / _AROUND
    inside, outside = (near.inside & ~near.soft).sum(), (near.outside & ~near.soft).sum()
    return float(max(flat, (inside + flat * _PRIOR) / (outside + _PRIOR)))


def _alike(share: Floats, others: Floats) -> Ints:
    """How many of `others` are about as loud as each of `share` (all logarithms)."""
    ordered, room = np.sort(others), np.log(ALIKE)
    first = np.searchsorted(ordered, share - room)
    return np.asarray(np.searchsorted(ordered, share + room, side="right") - first)


def _each_once(answers: _Near) -> _Near:
    """Each soft hit once, with the blow nearest before it."""
    order = np.lexsort((answers.lag, answers.other))
    _, first = np.unique(answers.other[order], return_index=True)
    return answers.of(order[first])


def _joined(one: _Near, other: _Near) -> _Near:
    return _Near(
        np.concatenate([one.blow, other.blow]),
        np.concatenate([one.other, other.other]),
        np.concatenate([one.lag, other.lag]),
        np.concatenate([one.share, other.share]),
        np.concatenate([one.pair, other.pair]),
    )


def _describe(answers: _Near, names: Words, pad: Ints, velocity: Ints) -> CrosstalkPair:
    source, shaken = divmod(int(answers.pair[0]), len(names))
    enough = (pad == source) & (velocity >= velocity[answers.blow].min())
    return CrosstalkPair(
        str(names[source]),
        str(names[shaken]),
        int(enough.sum()),
        len(answers.other),
        float(np.median(answers.lag)),
        float(100 * np.median(answers.share)),
    )
