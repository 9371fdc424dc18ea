"""Habit: where a drummer usually places a piece at a place in the bar, and how widely.

What the field calls a microtiming profile (Bilmes 1993, ICMC; Kilchenmann & Senn 2011, Int. Symp.
Performance Science), made of medians, so that slips do not turn it. Each level is what is left of
the level above: the take, its sections (those with one label together), the piece in the section,
the piece at the place. A level that rests on few hits is drawn towards the level above.

Patterns of two bars have one habit for both bars, as their places are the same; which of them a
piece strikes is told by the bars nearby (see `cells`). A meter change begins a new habit (see
`near`). A take of eight bars is judged by its pieces where it is loose, by its places where it is
tight: with a usual spread of 14 ms two hits in one place count for half of its habit, eight for
four fifths. Swing is in the lines; what is played around them is habit.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Brief, Floats, Ints, median, numbered
from evenhand.habit.cells import Cells
from evenhand.habit.groups import Groups, drawn, middles

# How many hits the wider group counts for, at each level. A median of n hits errs by
# pi/2 x spread^2 / n, so where places differ as widely as hits scatter, the wider group counts for
# about two; where they differ less, for more. Tried on the tuning half of the takes.
_OF_SECTION, _OF_PIECE, _OF_PLACE = 4.0, 3.0, 0.5
# How widely the places of a piece differ in the takes, ms.
_PLACES_MS = 12.0
# The spread where nothing is known, ms, and how many hits it counts for: the middle of the takes
# by professionals of the Groove MIDI Dataset. Then the same of a piece for its places.
_SPREAD_MS, _SPREAD_HITS, _SPREAD_OF_PIECE = 14.0, 10.0, 6.0
# Places of a bar that are told apart, and hits that tell one, in the plainest reading.
_PLACES, _ENOUGH = 192, 4
#: Of a median distance, the spread of a bell (Rousseeuw & Croux 1993, J. Am. Stat. Assoc. 88).
_BELL = 1.4826


@dataclass(frozen=True, eq=False)
class Habit(Brief):
    """What is usual in each of c cells.

    Attributes
    ----------
    ms : float64 array, shape (c,)
        Where the piece usually lies there, from the line; minus is early. The lean of the section
        is in it.
    lean : float64 array, shape (c,)
        The part of it that the whole section has in common.
    spread : float64 array, shape (c,)
        How widely it scatters there, ms.
    piece_spread : float64 array, shape (c,)
        How widely the piece scatters in such sections, ms.
    count : float64 array, shape (c,)
        How many hits it rests on.
    """

    ms: Floats
    lean: Floats
    spread: Floats
    piece_spread: Floats
    count: Floats


def find_habit(cells: Cells, cell: Ints, off: Floats) -> Habit:
    """Find the habit from hits whose lines are known.

    Parameters
    ----------
    cells : Cells
    cell : int64 array, shape (n,)
        The cell of each hit.
    off : float64 array, shape (n,)
        How far each hit is from its line, the drift taken out, ms.
    """
    kind, pair = cells.kind[cell], cells.pair[cell]
    of_cell, of_pair = Groups(cell, len(cells)), Groups(pair, cells.pairs)
    kinds = int(cells.kind.max(initial=0)) + 1
    lean = np.full(kinds, median(off) if len(off) else 0.0)
    # Where all is of one kind, its own lean is that of the take.
    if kinds > 1:
        lean += drawn(off - lean[0], kind, kinds, _OF_SECTION)
    left = off - lean[kind]
    of_piece = of_pair.drawn(left, _OF_PIECE)
    left -= of_piece[pair]
    own, many = of_cell.middles(left), of_cell.many
    middle = of_pair.middles(np.abs(left - own[cell]))
    piece = _drawn_spread(middle, of_pair.many, _SPREAD_MS, _SPREAD_HITS)[cells.pair]
    # The tighter the piece is played, the sooner a few hits tell a place.
    wider = np.pi / 2 * np.square(piece / _PLACES_MS)
    of_place = own * many / (many + np.maximum(wider, _OF_PLACE))
    middle = of_cell.middles(np.abs(left - of_place[cell]))
    spread = _drawn_spread(middle, many, piece, _SPREAD_OF_PIECE)
    lean = lean[cells.kind]
    return Habit(
        ms=lean + of_piece[cells.pair] + of_place,
        lean=lean,
        spread=spread,
        piece_spread=piece,
        count=many,
    )


def plainly_usual(piece: Ints, within: Floats, off: Floats) -> Floats:
    """Where each hit usually lies by the plainest reading, ms from its line.

    The median of its piece at its place in the bar over the whole take, of its piece where there
    are fewer than four, of everything where the piece is rare as well: no section, no drift.

    Parameters
    ----------
    piece : int64 array, shape (n,)
        From 0.
    within : float64 array, shape (n,)
        Where in its bar the line of each hit lies, from 0 to 1.
    off : float64 array, shape (n,)
        How far each hit is from its line, ms.
    """
    place = np.rint(within * _PLACES).astype(np.int64)
    keys, cell = numbered(piece * (_PLACES + 1) + place)
    of_cell, many = middles(off, cell, len(keys))
    of_piece, some = middles(off, piece, int(piece.max(initial=0)) + 1)
    take = median(off) if len(off) else 0.0
    of_piece = np.where(some >= _ENOUGH, of_piece, take)
    return np.where(many >= _ENOUGH, of_cell, of_piece[keys // (_PLACES + 1)])[cell]


def _drawn_spread(middle: Floats, many: Floats, towards: float | Floats, hits: float) -> Floats:
    """A spread from the median distance of some hits, drawn towards a wider one."""
    squares = many * (_BELL * middle) ** 2 + hits * np.square(towards)
    return np.asarray(np.sqrt(squares / (many + hits)))
