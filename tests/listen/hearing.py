"""An onset detector for hits that stand apart."""

import numpy as np

#: The part of a hit that is looked at for its peak, ms.
_ATTACK_MS = 30.0


def onsets(sound: np.ndarray, rate: int, quiet_ms: float) -> np.ndarray:
    """Where sound begins after silence, ms.

    Energy based: something begins where the sound rises above a hundredth of the loudest after
    `quiet_ms` below it, and its onset is where it first reaches a tenth of its own peak (a lossy
    file is not quite silent just before a hit).
    """
    size = np.abs(sound)
    loud = np.flatnonzero(size > 0.01 * size.max())
    begins = loud[np.diff(loud, prepend=-rate * 10) / rate * 1000 > quiet_ms]
    found = []
    for begin in begins:
        attack = size[begin : begin + int(_ATTACK_MS / 1000 * rate)]
        found.append(begin + np.argmax(attack >= 0.1 * attack.max()))
    return np.array(found) / rate * 1000
