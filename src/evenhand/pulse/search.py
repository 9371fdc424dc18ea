"""The real tempo of a take: tempo, beat and bar from the hits alone."""

from dataclasses import dataclass, replace

import numpy as np

from evenhand.columns import Brief, Floats
from evenhand.errors import MidiFileError
from evenhand.pulse.bars import Bar, find_bar
from evenhand.pulse.count_in import CountIn, find_count_in
from evenhand.pulse.follow import Followed, Path, follow
from evenhand.pulse.phase import find_phase
from evenhand.pulse.recurrence import Onsets, refine
from evenhand.pulse.steady import Hints, find_tempo, on_a_click
from evenhand.pulse.tellable import no_pulse, why_unfollowed

#: How the tempo is found: what `--steady` and `--follow` choose.
AUTO, STEADY, FOLLOW = FIT_MODES = ("auto", "steady", "follow")

# How far before a click its player sits, ms: what puts most of the tuning part of the takes within
# 25 ms of their click (middle 16 ahead, tenth to ninetieth percentile 29 to 1 ahead). That people
# tap ahead of a metronome by some tens of ms, musicians by less, is known (Repp 2005, Psychonomic
# Bulletin & Review 12(6), 969-992).
_AHEAD_MS = 12.0

# Coherence over the whole take below which a tempo is a guess: one that is kept, and one followed.
_PULSE, _FOLLOWED_PULSE = 0.1, 0.33
# A take keeps time if blocks of this many seconds agree, to this share of the part of the beat,
# on the whereabouts of the beat, nearly all of them; the part must be surely there.
_BLOCK_S, _AGREE, _NEARLY_ALL, _SURE = 8.0, 0.2, 0.97, 0.3
# Otherwise it wanders if its beat strays that far (standard deviation, s) from one tempo and the
# hits are that much evener when followed, or if they are clearly evener.
_WANDERS_S, _GAIN, _CLEAR_GAIN = 0.1, 1.1, 1.9
# Share of a beat that a first bar may lack.
_CUT_OFF = 0.125
# No more beats than this are laid under a take: at 120 a minute six days.
_MOST_BEATS = 1_000_000
_CLEAR_BAR = 0.7


@dataclass(frozen=True, eq=False)
class Fit(Brief):
    """Where the beats of a take lie.

    Attributes
    ----------
    beat : float64 array, shape (n,)
        Seconds; the first begins a bar, and the last lies behind the last hit.
    bpm : float
        Quarter notes per minute, as in a file: the tempo, of a wandering one the middle.
    beats, unit : int
        The meter; its unit is the beat.
    steady : bool
    coherence : float
        How well hits keep to the tempo over the whole take, 0 to 1.
    rivals : tuple of float
        Other tempi that it could be counted at, bpm as above, likeliest first.
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
        """The slowest tempo, bpm."""
        return float(240 / self.unit / np.diff(self.beat).max())

    @property
    def fastest(self) -> float:
        """The fastest tempo, bpm."""
        return float(240 / self.unit / np.diff(self.beat).min())


def fit_beats(onsets: Onsets, hints: Hints, mode: str = AUTO, smooth: float = 1.0) -> Fit:
    """Find tempo, beat and bar.

    Parameters
    ----------
    onsets : Onsets
        See `telling.why_untold` for which can tell anything.
    hints : Hints
    mode : str
        `STEADY` (one tempo), `FOLLOW` (one that wanders or steps) or `AUTO`.
    smooth : float
        Over how many bars a tempo that is followed is smoothed.
    """
    if mode == STEADY:
        return _fit_steady(onsets, hints, "as asked")
    if mode == AUTO:
        keeps = keeps_time(onsets, find_tempo(onsets, hints)[0])
        why = "the hits keep to it all the way" if keeps else why_unfollowed(onsets)
        if why:
            return _fit_steady(onsets, hints, why)
    followed = follow(onsets, hints, smooth * (hints.beats or 4))
    if mode == AUTO:
        wander, gain = _wander(onsets, followed.path)
        if not ((wander > _WANDERS_S and gain > _GAIN) or gain > _CLEAR_GAIN):
            why = f"followed beat by beat it strays by {1000 * wander:.0f} ms only"
            return _fit_steady(onsets, hints, why)
        why = f"against one tempo the beat strays by {1000 * wander:.0f} ms"
        fit = _fit_followed(onsets, hints, followed, why)
        if no_pulse(onsets, fit.coherence, steady=False):
            return _fit_steady(onsets, hints, "no tempo that wanders explains the hits either")
        return fit
    return _fit_followed(onsets, hints, followed, "as asked")


def keeps_time(onsets: Onsets, frequency: float) -> bool:
    """Whether every part of a take keeps to one beat: if in doubt, no.

    The take is cut into blocks of some seconds; in a take that keeps time the blocks agree about
    where the beat, or a half, third or quarter of it, lies.

    Parameters
    ----------
    onsets : Onsets
    frequency : float
        Beats a second.
    """
    block = ((onsets.s - onsets.s[0]) / _BLOCK_S).astype(np.int64)
    for part in (1, 2, 4, 3):
        turn = np.exp(2j * np.pi * part * frequency * onsets.s) * onsets.weight
        sums = np.bincount(block, turn.real) + 1j * np.bincount(block, turn.imag)
        sure = np.abs(sums)
        if sure.sum() < _SURE * onsets.weight.sum():
            continue
        apart = np.angle(sums * np.conj(sums.sum())) / (2 * np.pi)
        agree = np.abs(apart) < _AGREE
        return bool(sure[agree].sum() >= _NEARLY_ALL * sure.sum())
    return False


def _wander(onsets: Onsets, path: Path) -> tuple[float, float]:
    """How far beats stray from a straight line, s, and how much evener hits are without that."""
    beat = np.arange(np.ceil(path.beat[0]), np.floor(path.beat[-1]) + 1)
    if len(beat) < 3:
        return 0.0, 1.0
    time = path.seconds_at(beat)
    slope, start = np.polyfit(beat, time, 1)
    frequency = float(1 / slope)
    _, straight = refine(onsets, frequency)
    _, followed = refine(onsets.at(path.beats_at(onsets.s) * float(slope)), frequency)
    return float((time - start - slope * beat).std()), followed / max(straight, 1e-9)


def _fit_steady(onsets: Onsets, hints: Hints, why: str) -> Fit:
    frequency, strength, rivals = find_tempo(onsets, hints)
    frequency = on_a_click(onsets, frequency)
    phase, beat_margin = find_phase(onsets, frequency)
    beat_margin = beat_margin if hints.first_beat is None else np.inf
    place = onsets.s * frequency - phase
    first = phase / frequency + _AHEAD_MS / 1000
    bar, count_in = lay_bars(onsets, place, frequency, hints, first)
    first = hints.first_beat if hints.first_beat is not None else first + bar.first / frequency
    period = 1 / frequency
    # The first bar line at or behind the start; a bar that the start just cuts off is whole.
    length = bar.beats * period
    first = first - np.floor((first + _CUT_OFF * period) / length) * length
    count = max(int(np.ceil((onsets.s[-1] - first) / period)) + 1, bar.beats)
    _expect_few(count, onsets)
    return Fit(
        beat=np.asarray(first + period * np.arange(count + 1)),
        bpm=240 / bar.unit * frequency,
        beats=bar.beats,
        unit=bar.unit,
        steady=True,
        coherence=strength,
        rivals=_all_rivals(rivals, bar, frequency),
        count_in=count_in,
        doubts=tuple(
            _doubts(
                strength < _PULSE + 1 / np.sqrt(len(onsets)), rivals, beat_margin, bar, frequency
            )
        ),
        why=why,
    )


def _expect_few(beats: float, onsets: Onsets) -> None:
    """Refuse to lay beats under days of silence."""
    if beats > _MOST_BEATS:
        raise MidiFileError(
            f"there are hits {onsets.s[-1] / 3600:.0f} hours into the file, too far to lay beats "
            "from its start; cut off the silence"
        )


def _fit_followed(onsets: Onsets, hints: Hints, followed: Followed, why: str) -> Fit:
    path = followed.path
    place = path.beats_at(onsets.s)
    rate = float(np.median(np.diff(path.beat) / np.diff(path.s)))
    offset, beat_margin = 0.0, followed.margin
    if hints.first_beat is not None:
        there = float(path.beats_at(np.array([hints.first_beat]))[0])
        offset = there - round(there)
        beat_margin = np.inf
        path = replace(path, beat=path.beat - offset)
        place = place - offset
    first = float(path.seconds_at(np.zeros(1))[0])
    bar, count_in = lay_bars(onsets, place, rate, hints, first)
    if hints.first_beat is not None:
        at = round(float(path.beats_at(np.array([hints.first_beat]))[0]))
        bar = replace(bar, first=at % bar.beats)
    begin = float(path.beats_at(np.zeros(1))[0])
    start = bar.first + np.ceil((begin - _CUT_OFF - bar.first) / bar.beats) * bar.beats
    stop = max(np.ceil(place[-1]) + 1, start + bar.beats)
    _expect_few(stop - start, onsets)
    _, strength = refine(onsets.at(path.beats_at(onsets.s) / rate), rate)
    beat = path.seconds_at(np.arange(start, stop + 1))
    return Fit(
        beat=beat,
        bpm=float(240 / bar.unit / np.median(np.diff(beat))),
        beats=bar.beats,
        unit=bar.unit,
        steady=False,
        coherence=strength,
        rivals=_all_rivals(followed.rivals, bar, rate),
        count_in=count_in,
        doubts=tuple(_doubts(strength < _FOLLOWED_PULSE, followed.rivals, beat_margin, bar, rate)),
        why=why,
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
    bar = find_bar(onsets, place, frequency, hints.meter)
    if bar.unit == 8 and hints.near is not None and not hints.meter:
        # A hint without a meter is of quarters.
        bar = find_bar(onsets, place, frequency, (bar.beats // 2, 4))
    count_in = find_count_in(onsets, place, bar.beats)
    if hints.first_beat is not None:
        at = round((hints.first_beat - first) * frequency) % bar.beats
        return replace(bar, first=at, margin=np.inf), count_in
    if count_in:
        first_beat = count_in.next_beat % bar.beats
        return replace(bar, first=first_beat, margin=np.inf), count_in
    return bar, None


def _all_rivals(rivals: tuple[float, ...], bar: Bar, frequency: float) -> tuple[float, ...]:
    """The tempi of other ways to count, with that of the other meter in front, if it has one."""
    if bar.rival and bar.rival[1] != bar.unit:
        return (240 / bar.rival[1] * frequency, *rivals)
    return rivals


def _doubts(
    guess: bool,
    rivals: tuple[float, ...],
    beat_margin: float,
    bar: Bar,
    frequency: float,
) -> list[str]:
    doubts = []
    if guess:
        doubts.append("the hits hardly share a pulse: the tempo is a guess")
    if rivals:
        listed = " or ".join(f"{bpm:.4g}" for bpm in rivals[:2])
        doubts.append(f"it could be counted at {listed} bpm as well (say with --near)")
    if bar.rival:
        beats, unit = bar.rival
        tempo = f" at {240 / unit * frequency:.4g} bpm" if unit != bar.unit else ""
        doubts.append(f"it could be in {beats}/{unit}{tempo} as well (say with --meter)")
    if beat_margin < _CLEAR_BAR:
        doubts.append("the beat could lie on another part of it (say with --first-beat)")
    if bar.margin < _CLEAR_BAR:
        doubts.append("bars could begin on another beat (say with --first-beat)")
    return doubts
