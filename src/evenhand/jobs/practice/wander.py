"""Wander: how the fluctuation of a series grows with the stretch that is looked at.

The task: tell a player whose beats are late by chance, each by itself, from one whose pulse strays
and takes its time to come back. Detrended fluctuation analysis sums a series up to its profile,
cuts that into windows, takes a straight line out of each and asks how much is left, F. As windows
grow, F grows like a power of their length: the exponent is 0.5 for a series without memory, 1 for
1/f noise and 1.5 for a random walk; below 0.5 what goes up comes down.

References
----------
Peng, Buldyrev, Havlin, Simons, Stanley and Goldberger 1994, Physical Review E 49, 1685-1689, for
the method. Kantelhardt, Koscielny-Bunde, Rego, Havlin and Bunde 2001, Physica A 295, 441-454, for
windows from both ends, so that nothing at the end is lost. Both from memory; the tests compare
with two libraries.
"""

import numpy as np
import numpy.typing as npt

from evenhand.columns import Floats, Ints

#: Shortest series that an exponent is told for. Over white noise of that length the estimate
#: scatters by about 0.12 (docs/practice.md): enough to tell 0.5 from 1, not 0.7 from 0.8.
FEWEST = 64

#: The shortest window: a straight line through fewer than four points leaves hardly anything.
SHORTEST = 4

#: Sizes per doubling.
_PER_OCTAVE = 4


def window_sizes(count: int) -> Ints:
    """The windows for a series: from `SHORTEST` to a quarter of it, evenly in their logarithm.

    Parameters
    ----------
    count : int
        Length of the series.

    Returns
    -------
    int64 array
        Rising, each once; empty for a series shorter than four of the shortest windows.
    """
    longest = count // 4
    if longest < SHORTEST:
        return np.zeros(0, np.int64)
    steps = np.log2(longest / SHORTEST) * _PER_OCTAVE
    exact = SHORTEST * 2.0 ** (np.arange(int(steps) + 1) / _PER_OCTAVE)
    return np.unique(np.append(np.rint(exact), longest).astype(np.int64))


def fluctuations(series: npt.ArrayLike, sizes: npt.ArrayLike) -> Floats:
    """What is left of the profile in windows of each size, in the unit of the series.

    Parameters
    ----------
    series : array_like, shape (n,)
    sizes : array_like of int, shape (k,)
        From 3 to n.

    Returns
    -------
    float64 array, shape (k,)
        Root of the mean square around the straight line of each window.
    """
    values = np.asarray(series, np.float64)
    profile = np.cumsum(values - values.mean())
    return np.array([_left_over(profile, int(size)) for size in np.asarray(sizes).tolist()])


def _left_over(profile: Floats, size: int) -> float:
    whole = len(profile) // size * size
    windows = profile[:whole].reshape(-1, size)
    if whole < len(profile):
        windows = np.concatenate([windows, profile[len(profile) - whole :].reshape(-1, size)])
    place = np.arange(size) - (size - 1) / 2
    level = windows - windows.mean(axis=1, keepdims=True)
    slope = level @ place / (place @ place)
    rest = level - slope[:, None] * place
    return float(np.sqrt((rest**2).mean()))


def exponent(series: npt.ArrayLike) -> float:
    """The exponent with which the fluctuation grows.

    Parameters
    ----------
    series : array_like, shape (n,)

    Returns
    -------
    float
        The slope of log F over log size; NaN for fewer than `FEWEST` values, or where nothing
        fluctuates.
    """
    values = np.asarray(series, np.float64)
    if len(values) < FEWEST:
        return float("nan")
    sizes = window_sizes(len(values))
    left = fluctuations(values, sizes)
    # What is left of a straight line by the noise of floating point is nothing.
    if left.min() <= 1e-9 * max(1.0, float(np.abs(values).max())):
        return float("nan")
    return float(np.polyfit(np.log(sizes), np.log(left), 1)[0])
