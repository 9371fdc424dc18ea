"""Ornaments: flams, drags, ruffs, buzzes and rolls, found from spacing, velocity and piece.

The task: tell the hits that dress up another hit from those that stand for themselves.

- A **grace** hit leads to a louder hit on the same drum, its main hit, so closely that no grid has
  a line for it: one is a flam, two a drag, three or four a ruff. A **buzz** is a dense bunch of
  bounces that leads to, or falls from, its loudest hit.
- A **roll** is a run of evenly spaced hits on one drum, faster than the sixteenths of the beat.

Graces and buzzes move rigidly with their main hit. Between the ends of a roll everything is
carried.

Limits: only hands on one drum (snare with rim, side stick, each tom) are looked at, so a flam
across two drums stays two hits; a ghost note that is played within the grace distance of a
backbeat on the same drum is taken for its grace; open drags, whose graces are real 32nds at a slow
tempo, are notes of their own; a run of sixteenths is no roll, however fast it is.

All bounds are common practice (no source), tried on invented takes from 60 to 220 bpm; see
tests/evaluate_judgement.py.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Brief, Floats, Ints, Words, differences, indices, median, runs

#: Pieces that hands play ornaments on.
DRUMS = ("snare", "side stick", *(f"tom {number}" for number in range(1, 7)))

# A grace is at most this far from the next hit, ms, and this much of a sixteenth; its velocity is
# at most this share of the main hit's, and there are no more than this many of them.
_GRACE_MS, _GRACE_SHARE = 60.0, 0.62
_SOFTER = 0.8
_MOST_GRACES = 4

# Hits in a run are at most this far apart, ms, and this much of a sixteenth; its gaps differ from
# their middle by no more than this share, and it has at least this many hits.
_ROLL_MS, _ROLL_SHARE = 150.0, 0.85
_EVEN = 0.4
_FEWEST_IN_ROLL = 6

# Bounces of a buzz are at most this far apart, ms; longer than this, ms, it is a roll.
_BUZZ_MS = 45.0
_FEWEST_IN_BUZZ = 4
_LONGEST_BUZZ_MS = 250.0


@dataclass(frozen=True, eq=False)
class Ornaments(Brief):
    """The ornaments among n hits.

    Attributes
    ----------
    main : int64 array, shape (n,)
        The hit that a grace, or a bounce of a buzz, moves with; -1 for all other hits.
    kind : str array, shape (n,)
        `flam`, `drag`, `ruff`, `buzz` or `roll` for the hits that belong to one and are not its
        main, first or last hit; empty for all others.
    """

    main: Ints
    kind: Words

    @property
    def grace(self) -> Bools:
        """Which hits move with a main hit."""
        return np.asarray(self.main >= 0)

    @property
    def roll(self) -> Bools:
        """Which hits lie inside a roll."""
        return np.asarray(self.kind == "roll")


def no_ornaments(count: int) -> Ornaments:
    """Take every hit for what it is."""
    return Ornaments(np.full(count, -1, np.int64), np.full(count, "", "<U4"))


def find_ornaments(
    ms: Floats, velocity: Ints, piece: tuple[Words, Ints], sixteenth: Floats
) -> Ornaments:
    """Find the ornaments of a take.

    Parameters
    ----------
    ms : float64 array, shape (n,)
        When each hit sounds.
    velocity : int64 array, shape (n,)
        1 to 127.
    piece : (str array, int64 array)
        The pieces there are, and which of them each hit is of, shape (n,); -1 where none is sought.
    sixteenth : float64 array, shape (n,)
        Length of a sixteenth there, ms.
    """
    found = no_ornaments(len(ms))
    names, number = piece
    for drum in [one for one, name in enumerate(names.tolist()) if name in DRUMS]:
        hits = indices(number == drum)
        if len(hits) > 1:
            hits = hits[np.lexsort((velocity[hits], ms[hits]))]
            _on_one_drum(found, hits, ms[hits], velocity[hits], sixteenth[hits])
    return found


def _on_one_drum(
    found: Ornaments, hits: Ints, ms: Floats, velocity: Ints, sixteenth: Floats
) -> None:
    gap = differences(ms)
    fast = gap <= np.minimum(_ROLL_MS, _ROLL_SHARE * sixteenth[1:])
    taken = np.zeros(len(hits), np.bool_)
    # A run of joined gaps goes from its first hit to its last.
    for begin, end in runs(fast).tolist():
        for first, last in _even_parts(gap, begin, end):
            _tell_run(found, hits[first : last + 1], gap[first:last], velocity[first : last + 1])
            taken[first : last + 1] = True
    near = gap <= np.minimum(_GRACE_MS, _GRACE_SHARE * sixteenth[1:])
    # Only what follows a softer hit closely can have graces.
    led = indices(near & (velocity[:-1] <= _SOFTER * velocity[1:])) + 1
    for main in led[::-1].tolist():
        if taken[main] and found.kind[hits[main]]:
            continue
        graces = 0
        while (
            graces < _MOST_GRACES
            and graces < main
            and near[main - graces - 1]
            and not taken[main - graces - 1]
            and velocity[main - graces - 1] <= _SOFTER * velocity[main]
        ):
            graces += 1
        # Softer hits that go on further back are a run of ghosts, not a bunch of graces.
        if graces and not (graces == _MOST_GRACES and graces < main and near[main - graces - 1]):
            bunch = hits[main - graces : main]
            taken[main - graces : main] = True
            found.main[bunch] = hits[main]
            found.kind[bunch] = ("flam", "drag", "ruff", "ruff")[graces - 1]


def _even_parts(gap: Floats, begin: int, end: int) -> list[tuple[int, int]]:
    """The parts of a run that are long and even enough: first and last hit of each.

    The run is cut where the gap leaves the middle of the run's gaps by too much, so that a roll
    that runs into a flam, or slows down at its end, is still found.
    """
    if end - begin < _FEWEST_IN_BUZZ:
        return []
    middle = median(gap[begin:end])
    even = np.abs(gap[begin:end] - middle) <= _EVEN * middle
    parts = [(begin + one, begin + other) for one, other in runs(even).tolist()]
    dense = middle <= _BUZZ_MS
    fewest = _FEWEST_IN_BUZZ + 1 if dense else _FEWEST_IN_ROLL
    return [part for part in parts if part[1] - part[0] + 1 >= fewest]


def _tell_run(found: Ornaments, hits: Ints, gap: Floats, velocity: Ints) -> None:
    """Tell a buzz from a roll, and mark its hits."""
    buzz = median(gap) <= _BUZZ_MS and float(gap.sum()) <= _LONGEST_BUZZ_MS
    if not buzz:
        found.kind[hits[1:-1]] = "roll"
        return
    main = int(np.argmax(velocity))
    others = np.delete(hits, main)
    found.main[others] = hits[main]
    found.kind[others] = "buzz"
