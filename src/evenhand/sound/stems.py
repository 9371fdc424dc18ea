"""A take as sound files: the mix, or one file per piece, with or without a click."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from evenhand.errors import SettingError
from evenhand.kit import KitMap
from evenhand.sound.bank import bank_samples
from evenhand.sound.mixing import PEAK_DB, Mix, decibels, factor_of, peak_of
from evenhand.sound.samples import OneShot, folder_samples
from evenhand.sound.score import CLICK, beats_of, click_samples, click_score, score_of
from evenhand.take import Hits, Take

#: What goes into one file: some mixes, each times its factor.
Parts = list[tuple[Mix, float]]


@dataclass(frozen=True, eq=False)
class Rendering:
    """A take, ready to be written as sound.

    Attributes
    ----------
    files : dict of str to Parts
        By name: `mix`, or each piece and `click`. Together the stems are the mix.
    gain_db : float
        What was added to all of them alike, so that the mix peaks at `PEAK_DB`.
    seconds : float
        Length of the mix.
    borrowed : list of str
        Voices that the user's folder lacks: they come from the sound bank.
    """

    files: dict[str, Parts]
    gain_db: float
    seconds: float
    borrowed: list[str]


def load_samples(voices: list[str], folder: Path | None) -> tuple[dict[str, OneShot], list[str]]:
    """Get a sample for each voice: from the user's folder first, then from the sound bank.

    Returns
    -------
    samples : dict of str to OneShot
    borrowed : list of str
        The voices that `folder` lacks; empty without a folder.
    """
    own = folder_samples(folder, voices) if folder else {}
    lacking = [voice for voice in voices if voice not in own]
    bank = bank_samples(lacking) if lacking else {}
    return {**own, **bank}, lacking if folder else []


def render_take(
    take: Take,
    hits: Hits,
    kit: KitMap,
    *,
    rate: int,
    click_db: float | None = None,
    stems: bool = False,
    folder: Path | None = None,
) -> Rendering:
    """Prepare a take as sound.

    Parameters
    ----------
    take : Take
    hits : Hits
        Its hits, with pieces named.
    kit : KitMap
    rate : int
        Samples per second.
    click_db : float, optional
        Peak of the click, dB over the peak of the drums (-24 is quiet); no click if not given.
    stems : bool
        One file per piece instead of the mix.
    folder : Path, optional
        The user's own one-shots.

    Raises
    ------
    MidiFileError, DiskError, SettingError
        If the take is too long, a sample can't be read, or all of it is silent.
    """
    ends = take.tempo.to_ms(take.end)
    beats, _, first = beats_of(take, float(ends))
    score = score_of(hits, hits.ms, kit)
    samples, borrowed = load_samples(score.voices, folder)
    drums = Mix(score, samples, rate)
    files: dict[str, Parts] = {"mix": [(drums, 1.0)]}
    if stems:
        piece = hits.piece[score.hit]
        files = {
            name: [(Mix(score.of(piece == name), samples, rate), 1.0)]
            for name in np.unique(piece).tolist()
        }
    whole: Parts = [(drums, 1.0)]
    peak = _audible(peak_of(whole), take.name)
    if click_db is not None:
        click = (Mix(click_score(beats, first), click_samples(), rate), peak * factor_of(click_db))
        whole.append(click)
        files.setdefault(CLICK if stems else "mix", []).append(click)
        peak = peak_of(whole)
    gain = factor_of(PEAK_DB) / peak
    longest = max(mix.length for mix, _ in whole)
    return Rendering(_louder(files, gain), decibels(gain), longest / rate, borrowed)


def _audible(peak: float, name: str) -> float:
    if not peak > 0:
        raise SettingError(f"{name}: all of its samples are silent")
    return peak


def _louder(files: Mapping[str, Parts], gain: float) -> dict[str, Parts]:
    return {name: [(mix, factor * gain) for mix, factor in parts] for name, parts in files.items()}
