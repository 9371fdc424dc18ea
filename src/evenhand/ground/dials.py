"""The dials: what the recipe says for each section, in columns."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from evenhand.columns import Bools, Brief, Floats, Ints
from evenhand.recipe import AUTO, LIMBS, OFF, SPANS, STAY, Recipe


@dataclass(frozen=True, eq=False)
class SectionDials(Brief):
    """Settings in columns, one entry for each section (or, see `at`, for each of some places).

    Attributes
    ----------
    section : int64 array
        The section that each entry speaks of.
    strength, reach : float64 arrays
        Percent.
    window : float64 array
        In ms; NaN for the just-noticeable difference at the beat.
    lean : float64 array
        How much of the section's lean is kept, percent.
    lean_follow : float64 array
        In bars; 0 for a constant lean.
    spans : bool array
        Whether strokes that err alike move together there.
    span_cost : float64 array
        In ms.
    syncopation : bool array
        Whether strokes that stand on a line of another grid on purpose stay there.
    by_habit : bool array
        Whether what stands out for this drummer is moved there.
    habit : float64 array
        How much of the habit is kept, percent.
    most : float64 array
        The largest move, ms.
    notice : float64 array
        What stands out: from 0, just noticed, to 100, plainly heard.
    limbs : bool array
        Whether a limb that slipped alone moves alone.
    together : float64 array
        What is no further apart is one stroke, ms.
    """

    section: Ints
    strength: Floats
    reach: Floats
    window: Floats
    lean: Floats
    lean_follow: Floats
    spans: Bools
    span_cost: Floats
    syncopation: Bools
    by_habit: Bools
    habit: Floats
    most: Floats
    notice: Floats
    limbs: Bools
    together: Floats

    def at(self, section: Ints) -> "SectionDials":
        """The dials at some places, by the section that each lies in.

        Parameters
        ----------
        section : int64 array, shape (n,)
            Index of the section, from 0.
        """
        return SectionDials(*(getattr(self, field.name)[section] for field in fields(self)))


def read_dials(recipes: Sequence[Recipe]) -> SectionDials:
    """Read the dials of each section from its recipe."""

    def numbers(name: str) -> Floats:
        values = [getattr(one, name) for one in recipes]
        return np.array([np.nan if one == AUTO else one for one in values], np.float64)

    # Whoever gives the grid says what is on it; a grid that was found may miss a line.
    stay = [one.syncopation == STAY or one.syncopation == one.grid == AUTO for one in recipes]
    return SectionDials(
        section=np.arange(len(recipes)),
        strength=numbers("strength"),
        reach=np.array([one.reach_percent for one in recipes]),
        window=numbers("window"),
        lean=numbers("lean"),
        lean_follow=numbers("lean_follow"),
        spans=np.array([one.plan == SPANS for one in recipes]),
        span_cost=numbers("span_cost"),
        syncopation=np.array(stay),
        by_habit=np.array([one.by_habit for one in recipes]),
        habit=numbers("habit"),
        most=np.array([one.most_ms for one in recipes]),
        notice=numbers("notice"),
        limbs=np.array([one.carry == LIMBS and one.for_audio == OFF for one in recipes]),
        together=numbers("together"),
    )
