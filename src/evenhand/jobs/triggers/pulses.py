"""Pulses: a WAV per piece with a one-sample click at each hit, for tools that listen to audio."""

from pathlib import Path

import numpy as np

from evenhand.columns import Ints
from evenhand.errors import DiskError, SettingError
from evenhand.take import name_for_library

#: Height of a click at velocity 127, as a 24-bit sample: half of full scale, because these files
#: are for machines and might yet be played to ears.
PEAK = 1 << 22

_LOUDEST = 127
_BYTES = 3
#: A WAV file counts its bytes with 32 bits.
_LARGEST = (1 << 32) - 1024


def check_length(frames: int, rate: int) -> None:
    """Refuse a take that is too long for a WAV file.

    Raises
    ------
    SettingError
        If it is.
    """
    if frames * _BYTES > _LARGEST:
        hours = _LARGEST / _BYTES / rate / 3600
        raise SettingError(
            f"pulses: the take is too long for a WAV file ({hours:.1f} hours at {rate} Hz); "
            "take a lower --rate, or leave --pulses out"
        )


def heights(velocity: Ints) -> Ints:
    """The height of each click, in proportion to velocity, as a 24-bit sample.

    Parameters
    ----------
    velocity : int64 array
        1 to 127.
    """
    return np.asarray(np.rint(velocity * (PEAK / _LOUDEST)), np.int64)


def write_pulses(path: Path, sample: Ints, velocity: Ints, frames: int, rate: int) -> None:
    """Write a WAV file, 24-bit, one channel.

    Only the clicks are written; between them the file is left empty, which reads as silence
    (POSIX lseek: a gap behind the end of a file is read as zeros) and takes neither time, memory
    nor, on most disks, space.

    Parameters
    ----------
    path : Path
    sample : int64 array, shape (n,)
        Where the clicks stand; of several at one sample the highest counts.
    velocity : int64 array, shape (n,)
    frames : int
        Length of the file, more than the largest sample.
    rate : int
        Samples per second.

    Raises
    ------
    DiskError
        If the file can't be written.
    """
    import soundfile

    places, index = np.unique(sample, return_inverse=True)
    height = np.zeros(len(places), np.int64)
    np.maximum.at(height, index, heights(velocity))
    if not len(places) or places[-1] < frames - 1:
        places, height = np.append(places, frames - 1), np.append(height, 0)
    # 24 bits stand at the upper end of soundfile's 32.
    clicks = (height << 8).astype(np.int32)
    try:
        with soundfile.SoundFile(
            name_for_library(path), "w", rate, 1, "PCM_24", format="WAV"
        ) as file:
            for place, click in zip(places.tolist(), clicks, strict=True):
                file.seek(place)
                file.write(click.reshape(1))
    except (soundfile.SoundFileError, RuntimeError, AssertionError) as error:
        # A full disk shows as a short write, which soundfile asserts not to happen.
        raise DiskError(f"{path.name} can't be written; is the disk full?") from error
