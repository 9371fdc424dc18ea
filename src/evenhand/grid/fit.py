"""The real tempo of a take: tempo, beat and bar from the hits alone."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats
from evenhand.grid.bars import Bar, find_bar, find_phase
from evenhand.grid.choice import choose_grid
from evenhand.grid.count_in import CountIn, find_count_in
from evenhand.grid.pulse import Onsets, coherence, refine, score_tempi

#: Fewest hits to find a tempo from.
FEWEST = 8

# How far before a click its player sits, ms: the middle of the tuning part of the takes (tenth to
# ninetieth percentile: 25 ahead to on it). That people tap ahead of a metronome by some tens of
# ms, musicians by less, is known (Repp 2005, Psychonomic Bulletin & Review 12(6), 969-992).
_AHEAD_MS = 10.0

# Coherence over the whole take below which there is no one tempo, by how far chance goes with few
# hits; and how much better a rival tempo may look before there is doubt.
_PULSE = 0.1
_RIVAL = 0.35
_CLEAR_BAR = 0.7
# Swung sixteenths without a backbeat are swung eighths of twice the tempo: jazz time has no
# backbeat, while music that swings its sixteenths lives on one. Up to this tempo.
_SWUNG, _BACKBEAT, _DOUBLE_UP_TO = 58.0, 0.2, 320.0
_RATIOS = (1 / 3, 1 / 2, 2 / 3, 3 / 2, 2.0, 3.0)


@dataclass(frozen=True, eq=False)
class Fit:
    """Where the beats of a take lie.

    Attributes
    ----------
    beat : float64 array, shape (n,)
        Seconds; the first begins a bar, and the last lies behind the last hit.
    bpm : float
        Beats per minute: the tempo, of a wandering one the middle.
    beats, unit : int
        The meter.
    steady : bool
    coherence : float
        How well hits keep to the tempo over the whole take, 0 to 1.
    rivals : tuple of float
        Other tempi that would explain the hits, likeliest first.
    count_in : CountIn, optional
    doubts : tuple of str
    why : str
        Why steady or not, in words.
    """

    beat: Floats
    bpm: float
    beats: int
    unit: int
    steady: bool
    coherence: float
    rivals: tuple[float, ...]
    count_in: CountIn | None
    doubts: tuple[str, ...]
    why: str

    @property
    def slowest(self) -> float:
        """The slowest beat, bpm."""
        return float(60 / np.diff(self.beat).max())

    @property
    def fastest(self) -> float:
        """The fastest beat, bpm."""
        return float(60 / np.diff(self.beat).min())


@dataclass(frozen=True)
class Hints:
    """What is known beforehand; None where it is not.

    Attributes
    ----------
    near : float, optional
        About the tempo, bpm.
    beats, unit : int, optional
        The meter.
    first_beat : float, optional
        Where the first beat of a bar lies, seconds.
    """

    near: float | None = None
    beats: int | None = None
    unit: int | None = None
    first_beat: float | None = None


def find_tempo(onsets: Onsets, hints: Hints) -> tuple[float, float, tuple[float, ...]]:
    """Find the tempo of a take that keeps to one.

    Returns
    -------
    frequency : float
        Of the beat, Hz.
    coherence : float
        Over the whole take.
    rivals : tuple of float
        Other tempi, bpm.
    """
    bpm, score = score_tempi(onsets, hints.near)
    best = int(np.argmax(score))
    frequency, strength = refine(onsets, float(bpm[best]) / 60)
    if hints.near is None and _is_half(onsets, frequency):
        frequency *= 2
    rivals = []
    for ratio in _RATIOS:
        other = frequency * 60 * ratio
        at = int(np.argmin(np.abs(bpm - other)))
        if bpm[0] < other < bpm[-1] and score[at] > score[best] - _RIVAL:
            rivals.append((float(score[at]), other))
    return frequency, strength, tuple(other for _, other in sorted(rivals, reverse=True))


def _is_half(onsets: Onsets, frequency: float) -> bool:
    """Whether the tempo is half of what a player would count: see `_SWUNG`."""
    if 120 * frequency > _DOUBLE_UP_TO:
        return False
    phase, _ = find_phase(onsets, frequency)
    telling = onsets.kick | onsets.snare | onsets.keeper
    choice = choose_grid(onsets.s[telling] * frequency - phase, 1000 / frequency)
    swung = choice.grid == "1/16T" or (choice.grid == "1/16" and choice.swing >= _SWUNG)
    snare = coherence(
        onsets.s[onsets.snare], onsets.weight[onsets.snare], np.array([frequency / 2])
    )
    return bool(swung and snare[0] < _BACKBEAT)


def fit_steady(onsets: Onsets, hints: Hints) -> Fit:
    """Fit one tempo to a take.

    Parameters
    ----------
    onsets : Onsets
        At least `FEWEST`.
    hints : Hints
    """
    frequency, strength, rivals = find_tempo(onsets, hints)
    phase, beat_margin = find_phase(onsets, frequency)
    place = onsets.s * frequency - phase
    first = (phase + _AHEAD_MS / 1000 * frequency) / frequency
    bar, count_in = lay_bars(onsets, place, frequency, hints, first)
    if hints.first_beat is not None:
        first = hints.first_beat
    else:
        first += bar.first / frequency
    period = 1 / frequency
    # The first bar line at or behind the start; a beat that is cut off by it still begins a bar.
    length = bar.beats * period
    first = first - np.floor((first + 0.125 * period) / length) * length
    count = int(np.ceil((onsets.s[-1] - first) / period)) + 1
    beat = first + period * np.arange(max(count, bar.beats) + 1)
    doubts = list(_doubts(onsets, strength, rivals, beat_margin, bar, hints))
    return Fit(
        beat=beat,
        bpm=60 * frequency,
        beats=bar.beats,
        unit=hints.unit or 4,
        steady=True,
        coherence=strength,
        rivals=rivals,
        count_in=count_in,
        doubts=tuple(doubts),
        why="",
    )


def lay_bars(
    onsets: Onsets, place: Floats, frequency: float, hints: Hints, first: float
) -> tuple[Bar, CountIn | None]:
    """Lay bars over beats: by the hint, behind a count-in, or by what is played.

    Parameters
    ----------
    onsets : Onsets
    place : float64 array
        Each hit in beats.
    frequency : float
        Of the beat, Hz.
    hints : Hints
    first : float
        Where beat 0 lies, seconds.
    """
    bar = find_bar(onsets, place, hints.beats)
    count_in = find_count_in(onsets, place)
    if hints.first_beat is not None:
        at = round((hints.first_beat - first) * frequency) % bar.beats
        return Bar(bar.beats, at, np.inf, bar.repeats), count_in
    if count_in:
        return Bar(bar.beats, count_in.next_beat % bar.beats, np.inf, bar.repeats), count_in
    return bar, None


def _doubts(
    onsets: Onsets,
    strength: float,
    rivals: tuple[float, ...],
    beat_margin: float,
    bar: Bar,
    hints: Hints,
) -> list[str]:
    doubts = []
    if strength < _PULSE + 1 / np.sqrt(len(onsets)):
        doubts.append("the hits hardly share a pulse: the tempo is a guess")
    if rivals and hints.near is None:
        listed = " or ".join(f"{bpm:.4g}" for bpm in rivals[:2])
        doubts.append(f"it could be counted at {listed} bpm as well (say with --near)")
    if hints.first_beat is None and beat_margin < _CLEAR_BAR:
        doubts.append("the beat could lie on another part of it (say with --first-beat)")
    if bar.margin < _CLEAR_BAR:
        doubts.append("bars could begin on another beat (say with --first-beat)")
    return doubts
