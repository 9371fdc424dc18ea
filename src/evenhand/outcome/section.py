"""The sections of a take as a pass has left them."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from evenhand.ground import Ground
from evenhand.outcome.kept import Kept, Pair


@dataclass(frozen=True)
class Section:
    """A stretch of a take that was judged on its own.

    Attributes
    ----------
    name : str
        What it is called; `all` in a take that is not divided.
    first_bar, last_bar : int
        From 1, both included.
    grid : str
        `1/8`, `1/16T` …; empty where no grid explains it, and nothing moves.
    swing : float
        Where the second line of a pair stands, percent; 50 is straight.
    strokes : int
        How many strokes begin in it.
    lean : Pair
        Median deviation of its anchors before and after, ms; minus is ahead. NaN without any.
    spread : Pair
        Standard deviation of their deviation before and after, ms. NaN without any.
    """

    name: str
    first_bar: int
    last_bar: int
    grid: str
    swing: float
    strokes: int
    lean: Pair
    spread: Pair


def list_sections(ground: Ground, kept: Iterable[Kept]) -> tuple[Section, ...]:
    """List the sections with what was measured in each.

    Parameters
    ----------
    ground : Ground
    kept : iterable of Kept
        One for each section, in order.

    Returns
    -------
    tuple of Section
        At least one, in order.
    """
    layout, strokes = ground.layout, ground.strokes
    sections = layout.sections
    owner = sections.of(ground.seen(ground.tick[strokes.reference]))
    counts = np.bincount(owner, minlength=len(sections)).tolist()
    told = zip(sections.labels, sections.bars, layout.grids, counts, kept, strict=True)
    return tuple(
        Section(
            name=label,
            first_bar=bars[0],
            last_bar=bars[1],
            grid=grid.name if grid else "",
            swing=grid.swing if grid else 50.0,
            strokes=count,
            lean=feel.lean,
            spread=feel.spread,
        )
        for label, bars, grid, count, feel in told
    )
