"""Strokes that share a line with another player: they go where that one is.

Two things are told apart. How this drummer usually sits against the part (a kick that is always
12 ms ahead of the bass) is no fault of single strokes: all of them move by that amount, each piece
in each section by its own. What is left is judged like anything else: what is within the window
stays where that leaves it, what is outside moves by its strength.
"""

from dataclasses import dataclass, replace

import numpy as np

from evenhand.columns import Bools, Floats
from evenhand.ground import Ground
from evenhand.part import place_part, read_part
from evenhand.plan.targets import Targets

#: As if so many strokes more of each piece sat exactly on the part: few strokes say little.
_PRIOR = 3.0


@dataclass(frozen=True, eq=False)
class Seat:
    """What the part asks of each of s strokes.

    Attributes
    ----------
    shift : float64 array, shape (s,)
        How far it moves with all of its kind, ms; 0 for those that share no line with the part.
    on : bool array, shape (s,)
        Which strokes share a line with it.
    """

    shift: Floats
    on: Bools

    @classmethod
    def none(cls, count: int) -> "Seat":
        """There is no part."""
        return cls(np.zeros(count), np.zeros(count, np.bool_))


def sit_with_part(ground: Ground, goal: Targets) -> tuple[Targets, Seat]:
    """The targets with the part in them, and how far strokes move with their kind.

    Parameters
    ----------
    ground : Ground
    goal : Targets

    Raises
    ------
    DiskError, MidiFileError, SettingError
        If the part can't be read, or has no onset on a line of the take.
    """
    named = ground.recipe.load_against()
    if named is None:
        return goal, Seat.none(len(goal.line))
    placed = place_part(read_part(*named, ground.kit), ground)
    part = placed.at(goal.line)
    on = goal.claims & ~np.isnan(part) & (goal.dials.strength > 0)
    part = np.where(on, part, 0.0)
    usual = np.zeros(len(part))
    piece = ground.hits.piece[ground.strokes.reference]
    for section in np.unique(goal.dials.section[on]).tolist():
        for name in np.unique(piece[on]).tolist():
            mine = on & (goal.dials.section == section) & (piece == name)
            if mine.any():
                many = int(mine.sum())
                middle = float(np.median((goal.deviation - part)[mine]))
                usual[mine] = middle * many / (many + _PRIOR)
    share = ground.recipe.share / 100
    lean = np.where(on, share * (part + usual) + (1 - share) * goal.lean, goal.lean)
    return replace(goal, lean=lean), Seat(np.where(on, -share * usual, 0.0), on)
