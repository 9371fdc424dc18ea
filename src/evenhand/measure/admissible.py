"""What may stay: how far off its target a stroke may be and still be left alone."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import SLACK_MS, Bools, Brief, Floats, Ints
from evenhand.take import Timeline

# Just-noticeable displacement in an even sequence: about 6 ms below 240 ms between onsets, 2.5 %
# of the interval above (Friberg & Sundberg 1995, J. Acoust. Soc. Am. 98(5), 2524-2531).
_NOTICED_MS = 6.0
_NOTICED_SHARE = 0.025


@dataclass(frozen=True, eq=False)
class Admissible(Brief):
    """The interval around the target of each of n strokes (or hits) in which it is left alone.

    All that compares with a window asks here. The two sides need not be alike, and no stroke
    need be like the next.

    Attributes
    ----------
    low, high : float64 arrays, shape (n,)
        How far it may be ahead of its target and behind it, ms: low <= 0 <= high.
    """

    low: Floats
    high: Floats

    @classmethod
    def around(cls, window: Floats) -> "Admissible":
        """As far on both sides: n windows in ms.

        Parameters
        ----------
        window : float64 array, shape (n,)
            ms.
        """
        return cls(-window, window)

    @property
    def half(self) -> Floats:
        """Half the width of each interval, ms: the window, where both sides are alike."""
        return (self.high - self.low) / 2

    def at(self, index: Ints | Bools) -> "Admissible":
        """Some of the intervals, by index.

        Parameters
        ----------
        index : int64 or bool array
        """
        return Admissible(self.low[index], self.high[index])

    def side(self, excess: Floats) -> Ints:
        """Where each is that lies so many ms from its target: -1 too early, 1 too late, else 0.

        Parameters
        ----------
        excess : float64 array, shape (n,)
            ms.
        """
        early = excess < self.low - SLACK_MS
        late = excess > self.high + SLACK_MS
        return np.asarray(late.astype(np.int64) - early)

    def contains(self, excess: Floats) -> Bools:
        """Which are left alone, each so many ms from its target; NaN never is.

        Parameters
        ----------
        excess : float64 array, shape (n,)
            ms.
        """
        return np.asarray((self.side(excess) == 0) & ~np.isnan(excess))

    def beyond(self, excess: Floats) -> Floats:
        """How far each is outside, ms: minus too early, plus too late, 0 where it is left alone.

        Parameters
        ----------
        excess : float64 array, shape (n,)
            ms.
        """
        return np.asarray(np.minimum(excess - self.low, 0.0) + np.maximum(excess - self.high, 0.0))

    def shifts(self, excess: Floats, spare: Floats) -> tuple[Floats, Floats]:
        """Least and largest shift that brings each inside, by `spare` ms if there is room, ms.

        Parameters
        ----------
        excess : float64 array, shape (n,)
            ms.
        spare : float64 array, shape (n,)
            ms.
        """
        low, high = np.minimum(self.low + spare, 0.0), np.maximum(self.high - spare, 0.0)
        return low - excess, high - excess


def noticed(line: Floats, time: Timeline) -> Floats:
    """The just-noticeable difference at the beat there, ms.

    Parameters
    ----------
    line : float64 array, shape (n,)
        Ticks.
    time : Timeline
    """
    return np.maximum(_NOTICED_MS, _NOTICED_SHARE * time.beat_ms(line))
