"""Sections: the stretches of a take that are judged, and may be treated, on their own."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints

#: Where the sections come from: what `--sections` takes.
AUTO, MARKERS, NONE = SECTION_SOURCES = ("auto", "markers", "none")

#: Name of the one section of a take that is not divided.
WHOLE = "all"


@dataclass(frozen=True, eq=False)
class Sections:
    """Stretches that follow each other without a gap, s of them.

    Attributes
    ----------
    tick : float64 array, shape (s,)
        Where each begins, a 32nd note before its bar line, so that an early downbeat belongs to
        it; the first takes in all that lies before.
    bar : int64 array, shape (s,)
        The bar that each begins with.
    name : tuple of str
        What each is called; the same name twice means alike.
    source : str
        How they were found, in words.
    """

    tick: Floats
    bar: Ints
    name: tuple[str, ...]
    source: str

    def __len__(self) -> int:
        return len(self.name)

    def of(self, tick: Floats) -> Ints:
        """Index of the section that each place lies in."""
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


def one_section(why: str = "the take as a whole") -> Sections:
    """The whole take as one section."""
    return Sections(np.zeros(1), np.ones(1, np.int64), (WHOLE,), why)
