"""Attacks lost or doubled, by librosa's onset strength: conformed files against the truth.

What is an attack, and what is none, is set on the truth alone (`python -m
tests.evaluation.choose_onsets`): the numbers below find the most of attacks that were taken out of
the truth, or put into it 30 ms behind another, among those that find nothing at all in the truth
against itself (one ms later, with other noise).

A detector flips where a strength is near its edge, so there are two of them: an attack stands out
of its surroundings by `HIGH` on one side, and is lacking if within `NEAR_S` of it the other side
does not even stand out by `LOW`. All strengths are shares of the strongest in the truth.
"""

import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.ndimage import uniform_filter1d

HIGH, LOW = 0.1, 0.05
#: Moved attacks are where the truth has them to a sample; a frame of the detector is 11 ms wide.
NEAR_S = 0.005
_HOP, _FRAME = 64, 512
#: Surroundings, and the next attack, seconds: a flam is two attacks.
_AROUND_S, _APART_S = 0.1, 0.01


@dataclass(frozen=True)
class Lacking:
    """Attacks in one sound, and those that another one lacks, in samples."""

    attacks: np.ndarray
    lacking: np.ndarray


def strength_of(sound: np.ndarray, rate: int) -> np.ndarray:
    """Onset strength of a sound of 24 bits, a value each 64 samples."""
    import librosa

    with warnings.catch_warnings():
        # Bands of low pitch are narrower than a frame of 512 can tell apart.
        warnings.simplefilter("ignore", UserWarning)
        found: Any = librosa.onset.onset_strength(
            y=(sound / 2**23).astype(np.float32), sr=rate, hop_length=_HOP, n_fft=_FRAME
        )
    return np.asarray(found, np.float64)


def lacking(
    one: np.ndarray,
    other: np.ndarray,
    rate: int,
    scale: float,
    edges: tuple[float, float] = (HIGH, LOW),
) -> Lacking:
    """Attacks of one sound that another one lacks, from the strengths of both."""
    import librosa

    frames = rate / _HOP
    around, apart = round(_AROUND_S * frames), round(_APART_S * frames)
    found = librosa.onset.onset_detect(
        onset_envelope=one / scale,
        sr=rate,
        hop_length=_HOP,
        normalize=False,
        units="frames",
        delta=edges[0],
        wait=apart,
        pre_max=apart,
        post_max=apart,
        pre_avg=around,
        post_avg=around,
    )
    near = round(NEAR_S * frames)
    place = np.clip(found[:, None] + np.arange(-near, near + 1), 0, len(other) - 1)
    ground = uniform_filter1d(other, 2 * around + 1)
    there = other[place].max(axis=1) - ground[np.minimum(found, len(other) - 1)]
    return Lacking(found * _HOP, found[there < edges[1] * scale] * _HOP)


def lost_and_doubled(
    truth: np.ndarray, new: np.ndarray, rate: int, edges: tuple[float, float] = (HIGH, LOW)
) -> tuple[Lacking, Lacking]:
    """What the truth has and a new file lacks, and the other way round."""
    one, other = strength_of(truth, rate), strength_of(new, rate)
    scale = float(one.max())
    return lacking(one, other, rate, scale, edges), lacking(other, one, rate, scale, edges)


def once_more(truth: np.ndarray, rate: int, number: int) -> np.ndarray:
    """The truth one ms later with more noise, 78 dB below full scale."""
    late = rate // 1000
    noise = np.random.default_rng(number).normal(size=len(truth)) * 10 ** (-78 / 20) * 2**23
    return np.append(np.zeros(late), truth[:-late]) + noise
