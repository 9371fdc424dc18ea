"""A tempo that wanders or steps, followed beat by beat.

First the tempo: how well each tempo fits each stretch of a few seconds, and through these the path
that fits best without leaping about (Viterbi 1967, IEEE Trans. Inf. Theory 13(2), 260-269). Seen
against that path the take is nearly even, so the beat is found as in a steady take, first roughly,
then, again by a path, where it lies at each time. Last, hits are assigned to the parts of their
beats and the beats drawn through them by local lines (Cleveland 1979, J. Am. Stat. Assoc. 74,
829-836).
"""

from dataclasses import dataclass, replace

import numpy as np

from evenhand.columns import Floats, Ints, median
from evenhand.pulse.phase import find_phase
from evenhand.pulse.recurrence import Onsets, tempo_weights
from evenhand.pulse.steady import Hints, find_tempo

# Stretches the tempo is looked for in, and the step between them, seconds.
_WINDOW_S, _STEP_S = 6.0, 1.0
_RATE, _LENGTH = 200, 8192
# What a change of tempo costs from step to step: per (step of the axis)², up to a leap.
_CHANGE, _LEAP, _FURTHEST = 0.012, 2.5, 75
_FLOOR = 0.03
# Width in beats of the window that the beat is placed by, steps per beat, and the cost of moving.
_BEATS, _PLACES, _MOVE = 4.0, 48, 0.25
# How far into a silence the tempo, and the beat, are followed, seconds and beats.
_SILENCE_S, _SILENCE_BEATS = 30.0, 64.0
# The parts of a beat that hits are assigned to, and how near they must be (share of a part).
_NEAR = 0.35
_ROUNDS = 4


@dataclass(frozen=True, eq=False)
class Path:
    """Beats against time, increasing; linear between and beyond the points.

    Attributes
    ----------
    s, beat : float64 arrays, shape (n,)
    """

    s: Floats
    beat: Floats

    def beats_at(self, s: Floats) -> Floats:
        """Beats at times in seconds."""
        return _linear(s, self.s, self.beat)

    def seconds_at(self, beat: Floats) -> Floats:
        """Times in seconds of beats."""
        return _linear(beat, self.beat, self.s)


@dataclass(frozen=True, eq=False)
class Followed:
    """The beat of a take.

    Attributes
    ----------
    path : Path
        Whole numbers are beats.
    margin : float
        Log-odds of the part of the beat that was taken for the beat.
    rivals : tuple of float
        Other tempi it could be counted at, bpm.
    """

    path: Path
    margin: float
    rivals: tuple[float, ...]


def _linear(x: Floats, xs: Floats, ys: Floats) -> Floats:
    """Linear between the points and on beyond them."""
    inside = np.interp(x, xs, ys)
    before = ys[0] + (x - xs[0]) * (ys[1] - ys[0]) / (xs[1] - xs[0])
    behind = ys[-1] + (x - xs[-1]) * (ys[-1] - ys[-2]) / (xs[-1] - xs[-2])
    return np.asarray(np.where(x < xs[0], before, np.where(x > xs[-1], behind, inside)))


def follow(onsets: Onsets, hints: Hints, smooth: float) -> Followed:
    """Follow the beat of a take.

    Parameters
    ----------
    onsets : Onsets
    hints : Hints
    smooth : float
        Over how many beats the tempo is smoothed.
    """
    path, frequency, rivals = _evened(onsets, hints)
    if hints.near is None:
        # Once more, now that it is known what counts as a beat: no leaping between ways to count.
        known = replace(hints, near=240 / (hints.unit or 4) * frequency)
        path, frequency, _ = _evened(onsets, known)
    even, rate = onsets.at(path.beats_at(onsets.s) / frequency), frequency
    phase, margin = find_phase(even, rate)
    path = replace(path, beat=path.beat - phase)
    width = max(smooth, 2.0)
    for round_ in range(_ROUNDS):
        path = _drawn(onsets, path, max(width, 4.0) if round_ < _ROUNDS - 1 else width)
    return Followed(path, margin, rivals)


def _evened(onsets: Onsets, hints: Hints) -> tuple[Path, float, tuple[float, ...]]:
    """The path, its middle frequency, Hz, and how else it could be counted."""
    path = _place(onsets, _tempo_path(onsets, hints.near_beats))
    rate = float(np.median(np.diff(path.beat) / np.diff(path.s)))
    even = onsets.at(path.beats_at(onsets.s) / rate)
    # Against the path the take is even: what counts as a beat is decided as in a steady take.
    frequency, _, rivals = find_tempo(even, hints)
    return replace(path, beat=path.beat * (frequency / rate)), frequency, rivals


def _tempo_path(onsets: Onsets, near: float | None) -> Path:
    """The tempo over time, as beats."""
    bpm, parts, shares, usual = tempo_weights(near)
    centre = np.arange(onsets.s[0], onsets.s[-1] + _STEP_S, _STEP_S)
    centre = _near_some(centre, onsets.s, _SILENCE_S)
    bins = parts[:, None] * bpm / 60 * (_LENGTH / _RATE)
    below = np.minimum(bins.astype(np.int64), _LENGTH // 2 - 1)
    rest = bins - below
    score = np.zeros((len(centre), len(bpm)))
    for row, middle in enumerate(centre):
        first, last = np.searchsorted(onsets.s, [middle - _WINDOW_S / 2, middle + _WINDOW_S / 2])
        if last - first < 3:
            continue
        s = onsets.s[first:last] - (middle - _WINDOW_S / 2)
        weight = onsets.weight[first:last] * np.sin(np.pi * s / _WINDOW_S)
        train = np.bincount(np.rint(s * _RATE).astype(np.int64), weight, minlength=_LENGTH)
        power = np.abs(np.fft.rfft(train, _LENGTH)) ** 2
        found = power[below] * (1 - rest) + power[below + 1] * rest
        chance = float((weight**2).sum())
        most = max(float(weight.sum()) ** 2 - chance, 1e-9)
        score[row] = np.log(shares @ np.sqrt(np.maximum(found - chance, 0) / most) + _FLOOR)
    # Neighbouring windows share their hits: each says only a part of what it seems to.
    path = _best_path(2.0 * (score + usual), _CHANGE, _LEAP, _FURTHEST)
    frequency = bpm[path] / 60
    beat = np.concatenate(
        [[0.0], np.cumsum((frequency[1:] + frequency[:-1]) / 2 * np.diff(centre))]
    )
    if len(centre) == 1:
        centre, beat = np.append(centre, centre[0] + 1), np.append(beat, frequency[0])
    return Path(centre, beat)


def _near_some(place: Floats, hits: Floats, within: float) -> Floats:
    """The places with a hit near, and the last: a silence is as long as it is, not as much work."""
    after = np.searchsorted(hits, place)
    before = place - hits[np.maximum(after - 1, 0)]
    ahead = hits[np.minimum(after, len(hits) - 1)] - place
    near = (np.abs(before) <= within) | (np.abs(ahead) <= within)
    near[[0, -1]] = True
    return np.asarray(place[near])


def _best_path(score: Floats, change: float, leap: float, furthest: int) -> Ints:
    """The path of highest score, less the costs of its changes; one column per row of `score`."""
    many = score.shape[1]
    cost = np.minimum(change * np.arange(-furthest, furthest + 1) ** 2, leap)
    # One buffer for all rows, seen through a window of changes for each column.
    padded = np.full(many + 2 * furthest, -np.inf)
    best = padded[furthest : furthest + many]
    best[:] = score[0]
    window = np.lib.stride_tricks.sliding_window_view(padded, 2 * furthest + 1)
    options = np.empty(window.shape)
    came = np.zeros(score.shape, np.int16)
    columns = np.arange(many)
    for row in range(1, len(score)):
        np.subtract(window, cost, out=options)
        step = options.argmax(axis=1)
        came[row] = columns + step - furthest
        np.add(options[columns, step], score[row], out=best)
    path = np.zeros(len(score), np.int64)
    path[-1] = int(np.argmax(best))
    for row in range(len(score) - 1, 0, -1):
        path[row - 1] = came[row, path[row]]
    return path


def _place(onsets: Onsets, path: Path) -> Path:
    """Move a path so that the same part of the beat lies on the hits everywhere."""
    beat = path.beats_at(onsets.s)
    centre = np.arange(np.floor(beat[0]), np.ceil(beat[-1]) + 1)
    centre = _near_some(centre, beat, _SILENCE_BEATS)
    parts = np.array([1.0, 2.0, 3.0, 4.0])
    turn = np.exp(2j * np.pi * parts[:, None] * beat) * onsets.weight
    place = np.arange(_PLACES) / _PLACES
    back = np.exp(-2j * np.pi * parts[:, None] * place)
    score = np.zeros((len(centre), _PLACES))
    for row, middle in enumerate(centre):
        first, last = np.searchsorted(beat, [middle - _BEATS, middle + _BEATS])
        if last == first:
            continue
        fade = np.cos(np.pi / 2 * (beat[first:last] - middle) / _BEATS)
        total = (turn[:, first:last] * fade).sum(axis=1)
        score[row] = (total[:, None] * back).real.sum(axis=0) / (
            float((onsets.weight[first:last] * fade).sum()) + 1e-9
        )
    # The place may wander over the end of the beat and on: three beats in a row, taken round.
    wide = np.tile(score, (1, 5))
    start = np.full(wide.shape[1], -np.inf)
    start[2 * _PLACES : 3 * _PLACES] = 0.0
    wide[0] += start
    found = _best_path(wide, _MOVE, np.inf, 4) / _PLACES - 2
    return Path(path.seconds_at(centre), centre - found)


def _drawn(onsets: Onsets, path: Path, width: float) -> Path:
    """Draw the beats through the hits that lie near parts of them, by local lines."""
    beat = path.beats_at(onsets.s)
    parts = _parts(beat)
    line = np.rint(beat * parts) / parts
    near = np.abs(beat - line) * parts < _NEAR
    at, s, weight = line[near], onsets.s[near], onsets.weight[near]
    whole = np.arange(np.floor(beat[0]), np.ceil(beat[-1]) + 1)
    order = np.argsort(at, kind="stable")
    at, s, weight = at[order], s[order], weight[order]
    drawn = path.seconds_at(whole)
    begin, end = (np.searchsorted(at, whole + side) for side in (-width, width))
    for index in np.flatnonzero(end - begin >= 3).tolist():
        first, last, middle = int(begin[index]), int(end[index]), float(whole[index])
        x, y = at[first:last] - middle, s[first:last]
        w = weight[first:last] * (1 - np.abs(x / width) ** 3) ** 3
        w = _without_outliers(x, y, w)
        drawn[index] = _line_at_zero(x, y, w, drawn[index])
    keep = np.concatenate([[True], np.diff(drawn) > 1e-3])
    return Path(drawn[keep], whole[keep])


def _parts(beat: Floats) -> int:
    """Whether hits lie on quarters or thirds of the beats."""
    near = [np.median(np.abs(beat * parts - np.rint(beat * parts))) for parts in (4, 3)]
    return 4 if near[0] <= near[1] else 3


def _without_outliers(x: Floats, y: Floats, w: Floats) -> Floats:
    """Weights that let go of hits far from the line through the others."""
    if w.sum() < 1e-6:
        return w
    fit = _line(x, y, w)
    off = np.abs(y - fit[0] - fit[1] * x)
    usual = max(median(off), 0.003)
    return np.asarray(w * np.clip(1 - (off / (6 * usual)) ** 2, 0, 1) ** 2)


def _line(x: Floats, y: Floats, w: Floats) -> tuple[float, float]:
    total = float(w.sum())
    middle, height = float(w @ x) / total, float(w @ y) / total
    spread = float(w @ (x - middle) ** 2)
    slope = float(w @ ((x - middle) * (y - height))) / spread if spread > 1e-9 else 0.0
    return height - slope * middle, slope


def _line_at_zero(x: Floats, y: Floats, w: Floats, fallback: float) -> float:
    if w.sum() < 1e-6 or float(np.ptp(x[w > 0])) < 0.5:
        return fallback
    return _line(x, y, w)[0]
