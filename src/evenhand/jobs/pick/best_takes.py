"""The best of several takes of one song, section by section: the table of contents."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.jobs.pick.by_hand import ByHand, divide
from evenhand.jobs.pick.choose import PickedBar, choose, costs
from evenhand.jobs.pick.join import Joined, join
from evenhand.jobs.pick.matched import EARLY, Matched, match
from evenhand.jobs.pick.one_ruler import Laid, bring_together
from evenhand.jobs.pick.standing import DividedTake, Standing, stand
from evenhand.recipe import Recipe
from evenhand.sections import find_sections
from evenhand.take import Song, Take


@dataclass(frozen=True)
class Seam:
    """Where one take gives way to another.

    Attributes
    ----------
    bar : int
        The first bar of the later one.
    before, after : int
        The takes, from 0.
    velocity : float
        How much harder the later one plays what both play in the bars on both sides; NaN if they
        share nothing there.
    ms : float
        How much later it plays it.
    """

    bar: int
    before: int
    after: int
    velocity: float
    ms: float


@dataclass(frozen=True, eq=False)
class Picked:
    """What came of it.

    Attributes
    ----------
    laid : tuple of Laid
        The takes on the common ruler.
    divided : DividedTake
    standing : Standing
    choices : tuple of PickedBar
        One for each section.
    joined : Joined
    seams : tuple of Seam
    weights : mapping of str to float
    source : str
        Where the sections came from, in words.
    """

    laid: tuple[Laid, ...]
    divided: DividedTake
    standing: Standing
    choices: tuple[PickedBar, ...]
    joined: Joined
    seams: tuple[Seam, ...]
    weights: Mapping[str, float]
    source: str

    @property
    def cost(self) -> Floats:
        """What speaks against each take in each section, ms; shape (takes, sections)."""
        return costs(self.standing, self.weights)


@dataclass(frozen=True)
class PickWishes:
    """What is asked for.

    Attributes
    ----------
    recipe : Recipe
        Its kit, channel, anchors, ghost limit and source of sections are used.
    song : Song, optional
    by_hand : ByHand
    """

    recipe: Recipe = field(default_factory=Recipe)
    song: Song | None = None
    by_hand: ByHand = field(default_factory=ByHand)


def pick(takes: Sequence[Take], wishes: PickWishes | None = None, name: str = "best") -> Picked:
    """Choose for each section the take that serves best, and join them at bar lines.

    Parameters
    ----------
    takes : sequence of Take
        Two or more of one song. Not changed.
    wishes : PickWishes, optional
    name : str
        What to call the joined take.

    Raises
    ------
    MidiFileError
        If they can't be takes of one song.
    SettingError
        If what was chosen by hand does not fit them.
    """
    wishes = wishes or PickWishes()
    laid = bring_together(takes, wishes.recipe, wishes.song)
    matched = match(laid)
    first = laid[0]
    found = find_sections(
        first.take, first.hits.tick.astype(np.float64), first.hits, wishes.recipe.sections
    )
    names = [one.take.name for one in laid]
    sections, by_hand = divide(found, wishes.by_hand, names)
    divided = _divide(laid, matched, sections)
    standing = stand(len(laid), matched, divided)
    choices = choose(standing, names, wishes.by_hand.weights, by_hand)
    joined = _join(laid, matched, divided, choices, name)
    seams = _seams(matched, divided, choices)
    return Picked(
        laid, divided, standing, choices, joined, seams, wishes.by_hand.weights, found.source
    )


def _divide(laid: Sequence[Laid], matched: Matched, sections: dict[int, str]) -> DividedTake:
    """Which bar and section each hit belongs to; `sections` are names by first bar."""
    take = laid[0].take
    division, meter = take.division, take.meter
    bars = meter.bars_at((matched.side + EARLY) * division)
    first = np.array(sorted(sections), np.int64)
    section = np.maximum(np.searchsorted(first, bars.number, side="right") - 1, 0)
    played = np.unique(np.stack([section, bars.number]), axis=1)[0]
    # Where each hit would lie in ms on the ruler, and where its line does.
    to_ms = take.tempo.to_ms
    return DividedTake(
        first=first,
        bars=np.bincount(played, minlength=len(first)),
        name=tuple(sections[bar] for bar in sorted(sections)),
        bar=bars.number,
        section=section,
        in_bar=matched.place - bars.start / division,
        ms=to_ms(matched.quarter * division) - to_ms(matched.place * division),
    )


def _join(
    laid: Sequence[Laid],
    matched: Matched,
    divided: DividedTake,
    choices: Sequence[PickedBar],
    name: str,
) -> Joined:
    owner = np.array([one.take for one in choices])
    wanted = owner[divided.section] == matched.take
    chosen = []
    for number, one in enumerate(laid):
        mine = np.zeros(len(one.hits), np.bool_)
        mine[matched.hit[(matched.take == number) & wanted]] = True
        chosen.append(mine)
    seams = [(-np.inf, int(owner[0]))]
    seams += [
        (_bar_line(laid[0].take, divided.first[index]) - EARLY, int(owner[index]))
        for index in np.flatnonzero(np.diff(owner)) + 1
    ]
    return join(laid, chosen, seams, name)


def _bar_line(take: Take, bar: Ints) -> float:
    """Where a bar begins, quarters."""
    meter = take.meter
    here = int(np.maximum(np.searchsorted(meter.bar, bar, side="right") - 1, 0))
    length = 4.0 / meter.unit[here] * meter.beats[here]
    return float(meter.tick[here] / meter.division + (bar - meter.bar[here]) * length)


def _seams(
    matched: Matched, divided: DividedTake, choices: Sequence[PickedBar]
) -> tuple[Seam, ...]:
    """How the takes differ in the bars on both sides of each seam."""
    seams = []
    for index in range(1, len(choices)):
        before, after = choices[index - 1].take, choices[index].take
        if before == after:
            continue
        bar = int(divided.first[index])
        near = (divided.bar >= bar - 1) & (divided.bar <= bar)
        rows = [np.flatnonzero(near & (matched.take == take)) for take in (before, after)]
        _, one, other = np.intersect1d(
            matched.stroke[rows[0]], matched.stroke[rows[1]], return_indices=True
        )
        one, other = rows[0][one], rows[1][other]
        velocity = ms = float("nan")
        if len(one):
            velocity = float(np.median(matched.velocity[other] - matched.velocity[one]))
            ms = float(np.median(divided.ms[other] - divided.ms[one]))
        seams.append(Seam(bar, before, after, velocity, ms))
    return tuple(seams)
