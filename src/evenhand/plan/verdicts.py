"""Verdicts: what is to become of each stroke, and why, said where it is decided."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Phrases, Words, among

#: What may become of a stroke.
MOVED, KEPT, HELD, OFF_GRID, LINE_TAKEN = "moved", "kept", "held", "off grid", "line taken"
IN_FILL = "in a fill"
DOUBTFUL, TOO_FAR, UNEVEN = "doubtful", "too far", "uneven"
FATES = (MOVED, KEPT, HELD, OFF_GRID, LINE_TAKEN, IN_FILL, DOUBTFUL, TOO_FAR, UNEVEN)

#: What becomes of the fixed points and targets of the map of time, and of those that stay.
STAYING = (KEPT, DOUBTFUL, TOO_FAR, UNEVEN)
KNOTS = (MOVED, HELD, *STAYING)

#: Why a stroke moves.
OUTSIDE = "outside the window"
STANDS_OUT, WITH_PUSH = "stands out from its habit", "with the bars that ran"
WITH_RUN = "stands out with the run that leads to it"
STOPPED = "stands out but stops at the next hit"
WITH_SPAN, WITH_FILL, WITH_PART = "with its span", "with its fill", "with the part"
WITH_HABIT = "towards the habit asked for"

#: Why it stays where it is.
INSIDE = "inside the window"
USUAL = "within its habit"
IN_TIME = "the take is one fill that keeps time"
SYNCOPATED = "syncopation on a line of another grid"
NO_STRENGTH = "outside the window but strength is 0"
NO_STRENGTH_LEFT = "stands out but strength is 0"

#: Why it stays though it stands out.
DOUBTFUL_LINE = "two lines explain it about as well"
BEYOND_MOST = "stands out further than the largest move"
LESS_EVEN = "stands out but moving it would be less even"

#: Why it decides nothing and is carried.
OFF_THE_GRID, TAKEN = "off the grid", "line taken by a nearer stroke"
INSIDE_FILL = "inside a fill"


@dataclass(frozen=True, eq=False)
class Verdicts:
    """The verdicts on s strokes; until all is said, a later word takes the place of an earlier.

    Attributes
    ----------
    fate, why : str arrays, shape (s,)
    """

    fate: Words
    why: Phrases

    @classmethod
    def none(cls, count: int) -> "Verdicts":
        """Nothing is decided yet."""
        return cls(np.full(count, "", "<U10"), np.full(count, "", np.object_))

    def say(self, which: Bools, fate: str, why: str) -> None:
        """Decide about some strokes."""
        self.fate[which] = fate
        self.why[which] = why

    def where(self, which: Bools, other: "Verdicts") -> "Verdicts":
        """These on some strokes, others on the rest."""
        return Verdicts(
            np.where(which, self.fate, other.fate), np.where(which, self.why, other.why)
        )

    @property
    def knots(self) -> Bools:
        """Which strokes are fixed points or targets of the map of time."""
        return among(self.fate, KNOTS)
