"""What came of the maps of time, one for each limb or one for all."""

from dataclasses import dataclass

import numpy as np

from evenhand.carry.shift_map import SIDES, ShiftMap
from evenhand.columns import Bools, Brief, Floats, Ints, Phrases, indices
from evenhand.habit import TIME_HAND

#: Status and number of a control change that says where the hat's pedal is (General MIDI: foot
#: controller; electronic kits send it for the hat).
_CONTROL, _PEDAL = 0xB0, 4
#: Status of events that speak of a note: release, hit, pressure (how a cymbal is choked).
_OF_NOTES = (0x80, 0x90, 0xA0)


@dataclass(frozen=True, eq=False)
class Carry(Brief):
    """Maps of time, and what the squeeze guard did to the plan.

    Attributes
    ----------
    maps : tuple of ShiftMap
        One for all, or one for each limb; the first is of what belongs to no limb.
    limb : int64 array, shape (hits,)
        The limb that plays each hit (see `habit.NAMES`).
    limb_of_note : int64 array, shape (128,)
    shift : float64 array, shape (strokes,)
        Shift of each stroke that is a knot, in ticks; 0 for the others.
    squeezed : bool array, shape (strokes,)
        Which strokes could not move as far as wanted.
    why : str array, shape (strokes,)
        The reason of each stroke: the plan's, or that the guard has limited it.
    alone : bool array, shape (strokes,)
        Which strokes moved with their own limb only.
    beside : str array, shape (hits,)
        Why a hit in no stroke is a knot; empty for all others.
    leaned : float64 array, shape (hits,)
        How far each has gone towards another habit, ticks; `shift` is without it.
    nudged : bool array, shape (hits,)
        Which hits the hand has put elsewhere.
    cut : bool array, shape (hits,)
        Which hits go elsewhere than alone, because audio can't be cut beside them.
    """

    maps: tuple[ShiftMap, ...]
    limb: Ints
    limb_of_note: Ints
    shift: Floats
    squeezed: Bools
    why: Phrases
    alone: Bools
    beside: Phrases
    leaned: Floats
    nudged: Bools
    cut: Bools

    @property
    def map(self) -> ShiftMap:
        """The map of what belongs to no limb: of strokes that were kept or moved together."""
        return self.maps[0]

    def at(self, tick: Floats, limb: Ints | None = None) -> Floats:
        """The shift at each place for its limb, in ticks; without limbs, that of each hit."""
        limb = self.limb if limb is None else limb
        if len(self.maps) == 1:
            return self.map.at(tick)
        shift = np.zeros(len(tick))
        for number, one in enumerate(self.maps):
            mine = indices(limb == number)
            shift[mine] = one.at(tick[mine])
        return shift

    def where(self, tick: Floats) -> Phrases:
        """How each hit lies to the knots of its limb, as a reason for being carried."""
        side = self.map.side(tick)
        for number, one in enumerate(self.maps[1:], 1):
            mine = indices(self.limb == number)
            side[mine] = one.side(tick[mine])
        return np.array(SIDES, np.object_)[side]

    def limb_of(self, status: Ints, first: Ints) -> Ints:
        """The limb that events of the drum channel belong to.

        Parameters
        ----------
        status, first : int64 arrays
            The status byte of each, and its first data byte.
        """
        upper = status & 0xF0
        of_note = self.limb_of_note[np.minimum(first, 127)]
        limb = np.where((upper >= _OF_NOTES[0]) & (upper <= _OF_NOTES[-1]), of_note, 0)
        return np.where((upper == _CONTROL) & (first == _PEDAL), TIME_HAND, limb)
