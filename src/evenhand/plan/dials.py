"""The dials of each stroke: what the recipe says where it stands."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from evenhand.columns import Bools, Floats, Ints

LOOSE, TIGHT, AS_PLAYED = "loose", "tight", "as-played"
HITS, SPANS = "hits", "spans"

#: What the settings `fills`, `fill_landing` and `plan` may be, the default first.
FILL_MODES = (LOOSE, TIGHT, AS_PLAYED)
LANDINGS = (TIGHT, AS_PLAYED)
PLANS = (HITS, SPANS)


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
    """

    section: Ints
    strength: Floats
    reach: Floats
    window: Floats
    lean: Floats
    lean_follow: Floats
    spans: Bools
    span_cost: Floats


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
        column = [np.nan if one[name] == "auto" else one[name] for one in settings]
        return np.array(column, np.float64)[section]

    return Dials(
        section=section,
        strength=numbers("strength"),
        reach=numbers("reach"),
        window=numbers("window"),
        lean=numbers("lean"),
        lean_follow=numbers("lean_follow"),
        spans=np.array([one["plan"] == SPANS for one in settings])[section],
        span_cost=numbers("span_cost"),
    )
