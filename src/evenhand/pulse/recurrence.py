"""The pulse: how strongly hits recur at each tempo, whatever the file says about it.

The measure is coherence: with each hit a unit vector turning at a frequency, the length of their
mean, 1 where all fall on one phase and near 0 where they fall anywhere. It is taken in stretches
of half a minute, so that a player who drifts still shows, and averaged over them. A tempo is
scored by the coherence of its beat and of the beat's halves, thirds, quarters and sixths, and by
how usual such a tempo is.
"""

from dataclasses import dataclass, fields

import numpy as np

from evenhand.columns import Bools, Complexes, Floats, Ints, Words, among, indices
from evenhand.kit import ANCHOR, TIMEKEEPER
from evenhand.take import Hits

#: Tempi that are looked at, beats per minute.
SLOWEST, FASTEST = 36.0, 320.0
# The step between them, as a share.
_STEP = 0.004
# Stretches: length in seconds; they overlap by half.
_STRETCH_S = 30.0
# Trains of hits are sampled at this rate, and the spectrum is this long.
_RATE, _LENGTH = 250, 32768
# Most stretches that are looked at: those of 25 minutes.
_MOST_STRETCHES = 100
# Most hits that a frequency is sharpened by: of more, some evenly strewn say as much.
_MOST_HITS, _GOLDEN = 8000, (5**0.5 - 1) / 2
# Fewest hits that a stretch is judged by.
_FEWEST = 4
# How usual a tempo is: a bell over its logarithm, in octaves. Common practice; the middle and the
# width were set on the tuning part of the takes (docs/assess.md).
_USUAL_BPM, _USUAL_OCTAVES = 100.0, 0.8
# With a hint, nothing beyond this share of it, up or down.
_NEAR_SHARE = 1.2
_FLOOR = 0.02
# Parts of a beat whose recurrence counts for it, and how much.
_PARTS = np.array([1.0, 2.0, 3.0, 4.0, 6.0])
_SHARES = np.array([1.0, 1.0, 1.0, 1.0, 0.5]) / 4.5


@dataclass(frozen=True, eq=False)
class Onsets:
    """What a fit goes by, n hits in time order.

    Attributes
    ----------
    s : float64 array
        Seconds from the start of the file.
    weight : float64 array
        0 to 1, by loudness.
    kick, snare, keeper, crash : bool arrays
        Snares are those that are anchors.
    piece : str array
    """

    s: Floats
    weight: Floats
    kick: Bools
    snare: Bools
    keeper: Bools
    crash: Bools
    piece: Words

    def __len__(self) -> int:
        return len(self.s)

    def at(self, s: Floats) -> "Onsets":
        """The same hits at other times."""
        return Onsets(s, self.weight, self.kick, self.snare, self.keeper, self.crash, self.piece)

    def where(self, which: Bools) -> "Onsets":
        """Some of the hits."""
        return Onsets(*(getattr(self, one.name)[which] for one in fields(self)))


def onsets_of(hits: Hits) -> Onsets:
    """Get the onsets from hits with pieces and roles named.

    Parameters
    ----------
    hits : Hits
    """
    order = np.argsort(hits.ms, kind="stable")
    names, of_piece = hits.by_piece
    piece, role = of_piece[order], hits.role[order]
    return Onsets(
        s=hits.ms[order] / 1000,
        weight=np.sqrt(hits.velocity[order] / 127),
        kick=(names == "kick")[piece],
        snare=((names == "snare") | (names == "side stick"))[piece] & (role == ANCHOR),
        keeper=role == TIMEKEEPER,
        crash=among(names, ("crash", "china", "splash"))[piece],
        piece=names[piece],
    )


def turned(place: Floats, parts: tuple[int, ...] = (1, 2, 3, 4)) -> Complexes:
    """Where places in quarters lie on the circles of some parts of a quarter: shape (parts, n)."""
    # By products: they are far cheaper than further exponentials.
    powers = np.empty((max(parts), *place.shape), np.complex128)
    np.exp(2j * np.pi * place, out=powers[0])
    for part in range(1, max(parts)):
        np.multiply(powers[part - 1], powers[0], out=powers[part])
    every = len(parts) == len(powers)
    return powers if every else powers[np.array(parts) - 1]


def gathering(place: Floats, parts: tuple[int, ...] = (1, 2, 3, 4)) -> Floats:
    """How surely places in quarters lie on some parts of a quarter: 0 to 1 each.

    If not given otherwise: on quarters, eighths, triplets and sixteenths.
    """
    return np.asarray(np.abs(turned(place, parts).mean(axis=1)))


def tempo_axis(near: float | None = None) -> Floats:
    """The tempi that are looked at, bpm: wider if a hint lies outside."""
    slowest = min(SLOWEST, near / _NEAR_SHARE) if near else SLOWEST
    fastest = max(FASTEST, near * _NEAR_SHARE) if near else FASTEST
    return np.asarray(np.exp(np.arange(np.log(slowest), np.log(fastest), _STEP)))


def coherence(s: Floats, weight: Floats, frequency: Floats) -> Floats:
    """Coherence of hits at frequencies, averaged over stretches of the take.

    Parameters
    ----------
    s, weight : float64 arrays, shape (n,)
        Times in seconds, in order, and weights.
    frequency : float64 array
        In Hz, below half of the rate of sampling.

    Returns
    -------
    float64 array, shape of `frequency`
        0 to 1. What chance alone would give is taken off.
    """
    total = np.zeros(frequency.shape)
    judged = 0
    if not len(s):
        return total
    bins = frequency * (_LENGTH / _RATE)
    below = np.minimum(bins.astype(np.int64), _LENGTH // 2 - 1)
    share = bins - below
    begins = np.arange(s[0], max(s[-1] - _STRETCH_S / 2, s[0] + 1e-3), _STRETCH_S / 2)
    firsts, lasts = np.searchsorted(s, begins), np.searchsorted(s, begins + _STRETCH_S)
    telling = indices(lasts - firsts >= _FEWEST)
    # Of a take of an hour some of its stretches, evenly apart, say enough.
    telling = telling[:: max(1, -(-len(telling) // _MOST_STRETCHES))]
    for index in telling.tolist():
        begin, first, last = begins[index], int(firsts[index]), int(lasts[index])
        w = weight[first:last]
        place = np.rint((s[first:last] - begin) * _RATE).astype(np.int64)
        train = np.bincount(place, w, minlength=_LENGTH)
        power = np.abs(np.fft.rfft(train)) ** 2
        found = power[below] * (1 - share) + power[below + 1] * share
        chance = float((w**2).sum())
        most = max(float(w.sum()) ** 2 - chance, 1e-9)
        total += (last - first) * np.sqrt(np.maximum(found - chance, 0) / most)
        judged += int(last - first)
    return total / max(judged, 1)


def score_tempi(onsets: Onsets, near: float | None = None) -> tuple[Floats, Floats]:
    """Score every tempo there is.

    Parameters
    ----------
    onsets : Onsets
    near : float, optional
        A hint, beats per minute.

    Returns
    -------
    bpm, score : float64 arrays
        The score is a log-likelihood of sorts: differences count.
    """
    bpm, _, _, usual = tempo_weights(near)
    return bpm, recurrence(onsets, bpm / 60) + usual


def recurrence(onsets: Onsets, frequency: Floats) -> Floats:
    """How much hits recur at beats of some frequencies, Hz, and at parts of them: a log."""
    found = coherence(onsets.s, onsets.weight, _PARTS[:, None] * frequency)
    return np.asarray(np.log(_SHARES @ found + _FLOOR))


def tempo_weights(near: float | None) -> tuple[Floats, Floats, Floats, Floats]:
    """What tempi are scored by.

    Returns
    -------
    bpm : float64 array, shape (t,)
    parts, shares : float64 arrays
        The parts of a beat that count for it, and how much.
    usual : float64 array, shape (t,)
        Log-weight of each tempo before any hit is heard.
    """
    bpm = tempo_axis(near)
    if near is None:
        usual = -0.5 * (np.log2(bpm / _USUAL_BPM) / _USUAL_OCTAVES) ** 2
    else:
        usual = np.where(np.abs(np.log2(bpm / near)) <= np.log2(_NEAR_SHARE), 0.0, -1e3)
    return bpm, _PARTS, _SHARES, np.asarray(usual)


def refine(onsets: Onsets, frequency: float) -> tuple[float, float]:
    """Sharpen a frequency on longer and longer stretches, then on the whole take.

    Parameters
    ----------
    onsets : Onsets
    frequency : float
        Of the beat, Hz, right to about one percent.

    Returns
    -------
    frequency : float
    coherence : float
        Over the whole take at the beat's quarters, thirds and halves and the beat, the mean.
    """
    s, weight = onsets.s - onsets.s[0], onsets.weight
    whole = float(s[-1])
    if len(s) > _MOST_HITS:
        some = _strewn(len(s), _MOST_HITS)
        s, weight = s[some], weight[some]
    best, length = frequency, min(12.0, whole)
    step = 0.006 * frequency
    while True:
        tries = best + step * np.linspace(-1, 1, 17)
        score = np.zeros(len(tries))
        blocks = max(int(whole / length), 1)
        edges = np.searchsorted(s, np.linspace(0, whole + 1e-6, blocks + 1))
        for turn in turned(np.outer(tries, s)):
            sums = np.add.reduceat(turn * weight, np.minimum(edges[:-1], len(s) - 1), axis=1)
            score += np.abs(sums).sum(axis=1) / weight.sum()
        best = float(tries[np.argmax(score)])
        if length >= whole:
            return best, float(score.max() / 4)
        length = min(length * 3, whole)
        step = max(step / 3, 0.1 / length / 4)


def _strewn(count: int, most: int) -> Ints:
    """Some of many, in order: evenly, but in step with nothing (multiples of the golden ratio)."""
    return np.unique((np.arange(most) * _GOLDEN % 1 * count).astype(np.int64))
