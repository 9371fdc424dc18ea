"""The dials of each stroke: what the recipe says where it stands."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from evenhand.columns import Bools, Floats, Ints
from evenhand.recipe import AUTO, SPANS, STAY


@dataclass(frozen=True, eq=False)
class Dials:
    """Settings in columns, one entry for each of n places.

    Attributes
    ----------
    section : int64 array
        The section that each place lies in.
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


def spread_dials(section: Ints, settings: Sequence[Mapping[str, Any]]) -> Dials:
    """Spread the settings of each section over the places in it.

    Parameters
    ----------
    section : int64 array, shape (n,)
        Index of the section that each place lies in.
    settings : sequence of mapping
        The settings of each section, by name.
    """

    def numbers(name: str) -> Floats:
        column = [np.nan if one[name] == AUTO else one[name] for one in settings]
        return np.array(column, np.float64)[section]

    # Whoever gives the grid says what is on it; a grid that was found may miss a line.
    stay = [
        one["syncopation"] == STAY or one["syncopation"] == one["grid"] == AUTO for one in settings
    ]

    return Dials(
        section=section,
        strength=numbers("strength"),
        reach=numbers("reach"),
        window=numbers("window"),
        lean=numbers("lean"),
        lean_follow=numbers("lean_follow"),
        spans=np.array([one["plan"] == SPANS for one in settings])[section],
        span_cost=numbers("span_cost"),
        syncopation=np.array(stay)[section],
    )
