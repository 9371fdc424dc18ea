"""Sections: the stretches of a take that are judged, and may be treated, on their own."""

import re
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Brief, Floats, Ints

#: Where the sections come from: what `--sections` takes.
AUTO, MARKERS, NONE = SECTION_SOURCES = ("auto", "markers", "none")

#: Name of the one section of a take that is not divided.
WHOLE = "all"

#: Sections take in this part of a quarter note before their bar line: an early downbeat belongs
#: to what it opens.
EARLY = 8

#: A count behind a name, as in `verse 2`.
_COUNT = re.compile(r"(?<=\S) +[0-9]+$")


@dataclass(frozen=True, eq=False)
class Sections(Brief):
    """Stretches that follow each other without a gap, s of them.

    All that asks where a section begins and stops, what its bars are and what it is called asks
    here.

    Attributes
    ----------
    begin : float64 array, shape (s,)
        The bar line that each begins at, ticks.
    bar : int64 array, shape (s,)
        The bar that each begins with; that of the first may be below 1.
    last : int
        The last bar of the take.
    early : float
        How long before its bar line each begins to count, ticks (a 32nd note); the first takes in
        all that lies before.
    name : tuple of str
        What each is called; the same name twice means alike. From the file, so hostile until
        proved otherwise.
    source : str
        How they were found, in words.
    """

    begin: Floats
    bar: Ints
    last: int
    early: float
    name: tuple[str, ...]
    source: str

    def __len__(self) -> int:
        return len(self.name)

    @property
    def tick(self) -> Floats:
        """Where each begins to count, ticks."""
        return self.begin - self.early

    @property
    def stop(self) -> Floats:
        """Where each ceases to count, ticks; the last never does."""
        return np.append(self.tick[1:], np.inf)

    @property
    def bars(self) -> tuple[tuple[int, int], ...]:
        """First and last bar of each, as they are written: from 1, the last of the take at most."""
        first = np.maximum(self.bar, 1)
        last = np.append(self.bar[1:] - 1, self.last)
        return tuple(zip(first.tolist(), np.maximum(first, last).tolist(), strict=True))

    @property
    def undivided(self) -> bool:
        """Whether the take is one section that nobody has named."""
        return self.name == (WHOLE,)

    def of(self, tick: Floats) -> Ints:
        """Index of the section that each place lies in.

        Parameters
        ----------
        tick : float64 array, shape (n,)
        """
        if len(self) == 1:
            return np.zeros(np.shape(tick), np.int64)
        return np.maximum(np.searchsorted(self.tick, tick, side="right") - 1, 0)

    @property
    def labels(self) -> tuple[str, ...]:
        """The names with a count behind those that come again: A, B, A 2."""
        seen: dict[str, int] = {}
        labels = []
        for name in self.name:
            seen[name] = seen.get(name, 0) + 1
            labels.append(name if seen[name] == 1 else f"{name} {seen[name]}")
        return tuple(labels)

    @property
    def kinds(self) -> tuple[str, ...]:
        """The names without a count behind them: what is called alike is alike."""
        return tuple(_COUNT.sub("", name) for name in self.name)
