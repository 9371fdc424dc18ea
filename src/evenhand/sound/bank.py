"""The sound bank that pretty_midi carries: its drum kit as one-shots.

Of each sound are taken: the sample, its tuning, its loop, its attenuation and its volume envelope
(SoundFont 2.01 specification, section 8.1; generator numbers from memory). The bank's filters and
effects are left out. The bank is read where pretty_midi is installed; evenhand carries no part of
it.
"""

import importlib.util
import logging
import struct
import warnings
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np

from evenhand.columns import Floats
from evenhand.errors import DiskError
from evenhand.sound.samples import OneShot, Signal, stretch
from evenhand.sound.voice_names import VOICES

_BANK = "TimGM6mb.sf2"
#: In a sound bank, drum kits are in bank 128; the first is the standard kit.
_DRUMS, _STANDARD = 128, 0

# Generators: initial attenuation (0.1 dB), hold, decay (1200 per octave of seconds) and sustain
# (0.1 dB down) of the volume envelope, loop mode, coarse and fine tuning, pitch change per key
# (cents).
_ATTENUATION, _HOLD, _DECAY, _SUSTAIN = 48, 35, 36, 37
_LOOP, _COARSE, _FINE, _SCALE = 54, 51, 52, 56
#: The engine that this bank was made for applies four tenths of an attenuation (from memory).
_ENGINE = 0.4

_FULL, _HALF = 44_100, 22_050
_LONGEST_S = 1.8
_SILENCE = 10 ** (-60 / 20)
#: A hit begins where its sample first comes within 20 dB of its peak; a few samples before are
#: faded in.
_ONSET, _LEAD = 0.1, 12

#: What sf2utils raises on a bank that is cut short.
_DAMAGE = (OSError, LookupError, ValueError, TypeError, AttributeError, EOFError, struct.error)


def bank_path() -> Path:
    """Where the sound bank lies.

    Raises
    ------
    DiskError
        If pretty_midi is not there, or came without it.
    """
    spec = importlib.util.find_spec("pretty_midi")
    if spec and spec.origin:
        path = Path(spec.origin).with_name(_BANK)
        if path.is_file():
            return path
    raise DiskError(f"the sound bank {_BANK} of pretty_midi is missing; install pretty_midi again")


def bank_samples(voices: Iterable[str]) -> dict[str, OneShot]:
    """Read the samples of some voices.

    Parameters
    ----------
    voices : iterable of str
        Names from `evenhand.sound.voice_names.VOICES`.

    Raises
    ------
    DiskError
        If the bank can't be read.
    """
    with warnings.catch_warnings():
        # sf2utils imports a module that Python has deprecated, and logs what it finds odd.
        warnings.simplefilter("ignore", DeprecationWarning)
        from sf2utils.sf2parse import Sf2File
    path = bank_path()
    logging.getLogger().addFilter(_mute)
    try:
        with path.open("rb") as file:
            bank = Sf2File(file)
            zones = _drum_zones(bank)
            return {voice: _one_shot(zones[VOICES[voice]], VOICES[voice]) for voice in voices}
    except _DAMAGE as error:
        raise DiskError(f"the sound bank {path} can't be read: {error}") from error
    finally:
        logging.getLogger().removeFilter(_mute)


def _mute(record: logging.LogRecord) -> bool:
    return "sf2utils" not in record.pathname


def _drum_zones(bank: Any) -> dict[int, Any]:
    """The zone of the standard kit for each key."""
    zones: dict[int, Any] = {}
    for preset in bank.presets:
        if (getattr(preset, "bank", None), getattr(preset, "preset", None)) != (_DRUMS, _STANDARD):
            continue
        for layer in preset.bags:
            for zone in layer.instrument.bags if layer.instrument else ():
                low, high = zone.key_range or (0, 127)
                for key in range(low, high + 1) if zone.sample else ():
                    zones.setdefault(key, zone)
    return zones


def _one_shot(zone: Any, key: int) -> OneShot:
    """Play a zone at a key, as a sampler would, until it has died away."""

    def number(generator: int, default: float) -> float:
        return float(zone[generator].short) if generator in zone.gens else default

    sample = zone.sample
    root = zone.base_note if zone.base_note is not None else sample.original_pitch
    cents = (key - root) * number(_SCALE, 100) + 100 * number(_COARSE, 0) + number(_FINE, 0)
    pitch = 2.0 ** ((cents + sample.pitch_correction) / 1200)
    # A sample that is slowed down holds nothing above half its new rate: half the data will do.
    rate = _HALF if sample.sample_rate * pitch <= _HALF * 1.05 else _FULL
    step = sample.sample_rate * pitch / rate

    data = np.frombuffer(sample.raw_sample_data, np.int16) / 32768.0
    needed = int(_LONGEST_S * rate * step) + 1
    if number(_LOOP, 0) in (1, 3):
        start, end = zone.cooked_loop_start, zone.cooked_loop_end
        if 0 <= start < end <= len(data):
            rounds = max(0, -((end - needed) // (end - start)))
            data = np.concatenate([data[:end], np.tile(data[start:end], rounds)])
    played = stretch(data[:needed], step)
    hold, decay = (2.0 ** (number(time, -12000) / 1200) for time in (_HOLD, _DECAY))
    seconds = np.arange(len(played)) / rate
    # Decay is the time of a fall by 100 dB; it stops at the sustain level.
    fallen_db = np.minimum(100 * np.maximum(seconds - hold, 0) / decay, number(_SUSTAIN, 0) / 10)
    level = 10 ** (-(_ENGINE * number(_ATTENUATION, 0) / 10 + fallen_db) / 20)
    return OneShot(rate, _trimmed(played * level, rate))


def _trimmed(signal: Floats, rate: int) -> Signal:
    """Cut what comes before the hit and after it has died away."""
    size = np.abs(signal)
    peak = float(size.max())
    first = max(0, int(np.argmax(size >= _ONSET * peak)) - _LEAD)
    last = int(np.flatnonzero(size >= _SILENCE * peak)[-1]) + 1
    cut = signal[first:last].copy()
    lead = min(_LEAD, len(cut))
    cut[:lead] *= np.linspace(1 / lead, 1, lead)
    fade = min(len(cut), int(0.25 * len(cut)) + 64, rate // 2)
    cut[-fade:] *= np.linspace(1, 0, fade)
    return cut.astype(np.float32)
