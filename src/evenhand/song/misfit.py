"""Whether a take plainly doesn't lie on the map of its song, and what would help."""

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from evenhand.columns import Floats, median
from evenhand.errors import EvenhandError
from evenhand.fitter import fit
from evenhand.pulse import Fit
from evenhand.recipe import Recipe
from evenhand.take import Song, Take

# Beats of the fit for each quarter of the song that mean the same tempo, counted another way.
_WAYS = np.array([1, 2, 1 / 2, 3, 1 / 3, 3 / 2, 2 / 3, 4 / 3, 3 / 4, 4, 1 / 4])
# The tempo differs plainly if the beats run away from the song's by this share and, over the whole
# take, by this much of a beat. Common practice.
_TEMPO_SHARE, _RUN_AWAY = 0.006, 0.35
# The place differs plainly if the beats lie this far beside the song's, ms and share of a beat:
# more than a lean, less than a part of the beat. Set on real takes (docs/songs.md).
_BESIDE_MS, _BESIDE_SHARE = 50.0, 0.12
_FEWEST_BEATS = 8
# The finest part of a quarter that a way to count makes: twelve of them.
_FINEST = 12


@dataclass(frozen=True)
class Misfit:
    """How a take disagrees with its song.

    Attributes
    ----------
    bpm, song_bpm : float, optional
        The tempo of the hits and that of the song there, quarters a minute, if these differ.
    offset_ms : float, optional
        How far behind the song's beats those of the take lie, if only the place differs; minus is
        ahead.
    at_s : float, optional
        The `--song-at`, in seconds, that would put it right.
    """

    bpm: float | None = None
    song_bpm: float | None = None
    offset_ms: float | None = None
    at_s: float | None = None

    @property
    def text(self) -> str:
        """What to tell."""
        if self.bpm is not None:
            return (
                f"the take doesn't lie on the song's map: its hits run at {self.bpm:.1f} bpm, the "
                f"song has {self.song_bpm:.1f} there; --song-at says where it starts, and without "
                "--song, --fit finds its own bars"
            )
        return (
            f"the take doesn't lie on the song's map: its beats are {abs(self.offset_ms or 0):.0f} "
            f"ms {'behind' if (self.offset_ms or 0) > 0 else 'ahead of'} the song's; "
            f"--song-at={self.at_s:.3f} would put them on it (or a whole number of beats beside)"
        )


def find_misfit(take: Take, song: Song, recipe: Recipe | None = None) -> Misfit | None:
    """Compare the pulse of the hits with the beats of the song.

    Parameters
    ----------
    take : Take
        As recorded.
    song : Song
    recipe : Recipe, optional
        Its kit, channel and anchors are used.

    Returns
    -------
    Misfit or None
        None also where the hits can't tell a tempo.
    """
    try:
        found = fit(take, recipe).fit
    except EvenhandError:
        return None
    hits_s = take.struck(recipe.channel if recipe else None).ms / 1000
    return compare_beats(found, song, float(hits_s.min()), float(hits_s.max()))


def compare_beats(found: Fit, song: Song, first_s: float, last_s: float) -> Misfit | None:
    """Compare beats that were found between two times, s, with those of the song."""
    beat = found.beat[(found.beat > first_s - 0.5) & (found.beat < last_s + 0.5)]
    if len(beat) < _FEWEST_BEATS:
        return None
    ms = 1000 * beat + song.at_ms
    tempo = song.take.tempo
    place = tempo.to_tick(ms) / song.take.division
    half = len(place) // 2
    step = median((place[half:] - place[: len(place) - half]) / half)
    quarter = 4.0 / found.unit
    ways = _WAYS * quarter
    way = float(ways[np.argmin(np.abs(np.log(ways / step)))])
    share = step / way - 1
    # A tempo that is off runs away from the song over the take.
    if abs(share) > _TEMPO_SHARE and abs(share) * len(beat) * way > _RUN_AWAY:
        middle = 60_000 / median(tempo.ms_per_tick_at(place * tempo.division) * tempo.division)
        return Misfit(bpm=middle / (1 + share), song_bpm=middle)
    length = median(tempo.ms_per_tick_at(place * tempo.division)) * tempo.division
    # Beats that are counted in another way still fall on the song's quarters, or on parts of them.
    turn = 1 / Fraction(way).limit_denominator(_FINEST).denominator
    part = turn * length
    offset_ms = _middle_turn(place / turn) * part
    beside = max(_BESIDE_MS, _BESIDE_SHARE * part)
    on_half = abs(abs(offset_ms) - part / 2) <= beside
    if abs(offset_ms) <= beside or on_half:
        return None
    return Misfit(offset_ms=offset_ms, at_s=(song.at_ms - offset_ms) / 1000)


def _middle_turn(turns: Floats) -> float:
    """The middle of values that are the same a whole number apart, -0.5 to 0.5."""
    centre = float(np.angle(np.exp(2j * np.pi * turns).mean())) / (2 * np.pi)
    apart = (turns - centre + 0.5) % 1 - 0.5
    middle = centre + median(apart)
    return (middle + 0.5) % 1 - 0.5
