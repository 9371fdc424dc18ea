"""The ground that a pass and an assessment stand on, as plain data."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Brief, Floats, Ints, median
from evenhand.grid import Layout, Lines, belongs
from evenhand.ground.dials import SectionDials
from evenhand.ground.fills import Fills
from evenhand.ground.ornaments import Ornaments
from evenhand.ground.strokes import Strokes
from evenhand.ground.whole import Whole
from evenhand.kit import ANCHOR, GHOST, OTHER, TIMEKEEPER, GhostLimit, KitMap, Use
from evenhand.recipe import LOOSE, Recipe
from evenhand.sections import Sections
from evenhand.take import Hits, Take, Timeline

#: Reach for measuring a lean, percent of the gap: all that is nearer to this line than to others.
_CERTAIN_REACH = 50.0

#: A take that is one fill has at least so many hits, and at the most so many bars.
_FEWEST_HITS, _LONGEST_FILL = 6, 4


@dataclass(frozen=True, eq=False)
class Divided(Brief):
    """A take with its hits named, in sections.

    Attributes
    ----------
    source : Take
        As it was given.
    take : Take
        On the map of its song, if the recipe names one, and at the resolution of the recipe.
    recipe : Recipe
    kit : KitMap
    named : Hits
        With pieces and roles, before ornaments were looked for.
    ghosts : GhostLimit
    latency : float
        What is taken out of every hit, ms.
    whole : Whole
        Where the take lies as a whole, and whether its tempo is that of the file.
    tick : float64 array, shape (hits,)
        When each hit sounds against the lines, in ticks: the latency is taken out, and so is what
        the whole take lies beside them.
    sections : Sections
    recipes : tuple of Recipe
        The settings of each section.
    owner : int64 array, shape (sections,)
        The section of the recipe that each is; -1 for none.
    """

    source: Take
    take: Take
    recipe: Recipe
    kit: KitMap
    named: Hits
    ghosts: GhostLimit
    latency: float
    whole: Whole
    tick: Floats
    sections: Sections
    recipes: tuple[Recipe, ...]
    owner: Ints

    @property
    def time(self) -> Timeline:
        """Tempo and meter."""
        return self.take.time

    @property
    def offset(self) -> float:
        """How far the whole take lies behind the lines of the file, ms."""
        return self.whole.offset

    def judged(self, tick: Floats) -> Floats:
        """Against the lines, what is to sound at some ticks of the file."""
        return self.time.tick(self.time.ms(tick) - self.offset) if self.offset else tick

    def seen(self, tick: Floats) -> Floats:
        """Where places lie once the lean of the whole take is set aside: what line is meant.

        So a player who leans by 20 ms, early hits and all, is still taken to mean the same lines.
        """
        lean = self.whole.lean
        return self.time.tick(self.time.ms(tick) - lean) if lean else tick

    def written(self, tick: Floats) -> Floats:
        """In the file, what is judged to sound at some ticks."""
        return self.time.tick(self.time.ms(tick) + self.offset) if self.offset else tick


@dataclass(frozen=True, eq=False)
class Ground(Divided):
    """A take as it is judged.

    Attributes
    ----------
    hits : Hits
        With pieces and roles named.
    uses : tuple of Use
        What was taken for something else than its piece says, and why.
    ornaments : Ornaments
    fills : Fills
        Those that are not treated like anything else.
    strokes : Strokes
    layout : Layout
        The grid of each section.
    dials : SectionDials
        The settings of each section that the plan goes by.
    """

    hits: Hits
    uses: tuple[Use, ...]
    ornaments: Ornaments
    fills: Fills
    strokes: Strokes
    layout: Layout
    dials: SectionDials

    def lines_at(self, tick: Floats) -> Lines:
        """The lines that places belong to, under the grid of their section (see `seen`).

        Parameters
        ----------
        tick : float64 array, shape (n,)
            When each sounds, ticks.
        """
        return self.layout.lines_at(self.seen(tick), self.time.meter)

    @property
    def lone_fill(self) -> bool:
        """Whether the take is one fill: a few bars that no grid explains, to be judged by habit."""
        bars = self.time.bars_at(self.tick).number
        short = len(bars) >= _FEWEST_HITS and bars.max() - bars.min() < _LONGEST_FILL
        wanted = all(one.by_habit and one.fills == LOOSE for one in self.recipes)
        explained = any(grid is not None for grid in self.layout.grids)
        return bool(short and wanted and not explained and self.whole.other is None)

    @property
    def telling(self) -> Floats:
        """Places that tell the grid, in ticks: one per stroke, one per hit of a timekeeper."""
        return telling_places(self.tick, self.hits, self.strokes, self.named)

    @property
    def lean(self) -> float:
        """Middle deviation of those places that belong to a line, ms; 0 without any."""
        tick = self.telling
        lines = self.lines_at(tick)
        near = belongs(self.seen(tick), lines, self.time.tempo, _CERTAIN_REACH)
        near &= self.layout.explained(tick)
        if not near.any():
            return 0.0
        return median(self.time.between(lines.tick[near], tick[near]))


def telling_places(tick: Floats, hits: Hits, strokes: Strokes, named: Hits) -> Floats:
    """Where the references of strokes and the timekeepers sound, in ticks.

    What is an anchor or a timekeeper by its piece tells the grid, whatever it does there.

    Parameters
    ----------
    tick : float64 array, shape (hits,)
    hits, named : Hits
        With roles, and with those by piece alone.
    strokes : Strokes
    """
    keeps = (hits.role == TIMEKEEPER) | (hits.role == OTHER) | (hits.role == GHOST)
    mine = (named.role == TIMEKEEPER) | (named.role == ANCHOR)
    return np.concatenate([tick[strokes.reference], tick[keeps & mine]])
