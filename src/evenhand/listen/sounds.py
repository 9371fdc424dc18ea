"""The sounds of the page: samples as numbers, and what velocity does to them."""

import base64
import math
from pathlib import Path
from typing import Any

import numpy as np

from evenhand.sound import (
    CHOKED,
    OneShot,
    brightness_step,
    click_samples,
    cutoff_hz,
    load_samples,
    loudness,
)


def sounds_data(voices: list[str], folder: Path | None) -> dict[str, Any]:
    """What the page plays.

    Parameters
    ----------
    voices : list of str
    folder : Path, optional
        The user's own one-shots.

    Raises
    ------
    DiskError, SettingError
        If a sample can't be read.
    """
    samples, borrowed = load_samples(voices, folder)
    return {
        "voices": [_embedded(name, samples[name]) for name in voices],
        "choked": [index for index, name in enumerate(voices) if name in CHOKED],
        "borrowed": borrowed,
        "click": [_embedded(name, shot) for name, shot in click_samples().items()],
        "touch": _touch(),
    }


def _embedded(name: str, shot: OneShot) -> dict[str, Any]:
    """A sample as 16-bit numbers, little end first, in base64; times `peak` it is itself again.

    Plain numbers and no audio file: they need no decoder, so each browser plays the same samples,
    and starts them where they start.
    """
    peak = float(np.abs(shot.signal).max()) or 1.0
    numbers = np.rint(shot.signal / peak * 32767).astype("<i2")
    coded = base64.b64encode(numbers.tobytes()).decode("ascii")
    return {"name": name, "rate": shot.rate, "peak": round(peak, 6), "pcm": coded}


def _touch() -> dict[str, Any]:
    """What velocity does: amplitude and cut-off (null: open) for each velocity from 0."""
    cutoffs = [cutoff_hz(int(step)) for step in brightness_step(np.arange(128))]
    return {
        "gain": np.round(loudness(np.arange(128)), 6).tolist(),
        "cutoff": [None if math.isinf(hertz) else round(hertz, 2) for hertz in cutoffs],
    }
