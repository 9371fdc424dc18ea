"""Several takes of one song on one ruler: by the song, or by their own bars."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenhand.columns import Floats
from evenhand.errors import MidiFileError, SettingError
from evenhand.kit import KitMap, label
from evenhand.recipe import Recipe
from evenhand.take import Hits, Song, Take

# Takes of one song are alike: the share of what is struck where (cosine) below which they are
# another song's, and how much better another bar must fit before the count-in is thought longer.
_ALIKE, _BETTER = 0.3, 1.25
_FURTHEST_BARS = 8
#: Tempi of takes without a song differ by no more than this share. Common practice.
_TEMPO_SHARE = 0.05
_SLOTS_PER_QUARTER = 4


@dataclass(frozen=True, eq=False)
class Laid:
    """One take on the common ruler.

    Attributes
    ----------
    take : Take
        As recorded, or on the song's map.
    hits : Hits
        Named, in file order; their `ms` are the take's own.
    quarter : float64 array, shape (hits,)
        Where each hit lies on the common ruler, quarter notes.
    shift : float
        What is added to the take's own quarters to come to the ruler's.
    """

    take: Take
    hits: Hits
    quarter: Floats
    shift: float = 0.0

    @property
    def channel(self) -> int:
        """The channel of the drums, 0 to 15."""
        return int(self.hits.channel[0])


def bring_together(
    takes: Sequence[Take], recipe: Recipe, song: Song | None = None
) -> tuple[Laid, ...]:
    """Bring takes of one song together.

    Parameters
    ----------
    takes : sequence of Take
        Two or more. Without a song the first gives the ruler.
    recipe : Recipe
        Its kit, channel, anchors and ghost limit are used.
    song : Song, optional

    Raises
    ------
    SettingError
        If there are fewer than two.
    MidiFileError
        If they can't be takes of one song.
    """
    if len(takes) < 2:
        raise SettingError("it takes two takes or more to pick from")
    kit = recipe.load_kit()
    if song:
        laid = tuple(_named(song.lay(take), kit, recipe) for take in takes)
    else:
        laid = tuple(_named(take, kit, recipe) for take in takes)
        for one in laid[1:]:
            _check_tempo(laid[0].take, one.take)
        laid = (laid[0], *(_shifted(laid[0], one) for one in laid[1:]))
    for one in laid[1:]:
        _check_alike(laid[0], one)
    return laid


def _named(take: Take, kit: KitMap, recipe: Recipe) -> Laid:
    hits, _ = label(take.struck(recipe.channel), kit, recipe.anchor, recipe.ghost_limit)
    return Laid(take, hits, hits.tick / take.division)


def _check_tempo(first: Take, other: Take) -> None:
    """Refuse takes of another tempo or meter."""
    bpm = [float(np.median(one.tempo.bpm)) for one in (first, other)]
    if abs(bpm[1] / bpm[0] - 1) > _TEMPO_SHARE:
        raise MidiFileError(
            f"{other.name} has {bpm[1]:.4g} bpm and {first.name} {bpm[0]:.4g}: these are no takes "
            "of one song (if they are, lay them on it with --song)"
        )
    meters = [
        list(
            zip(
                (one.meter.tick / one.division).tolist(),
                one.meter.beats.tolist(),
                one.meter.unit.tolist(),
                strict=True,
            )
        )
        for one in (first, other)
    ]
    if meters[0] != meters[1]:
        raise MidiFileError(
            f"{other.name} has other meters than {first.name}: these are no takes of one song "
            "(if they are, lay them on it with --song)"
        )


def _shifted(first: Laid, other: Laid) -> Laid:
    """The other take, its bars moved if its count-in is plainly longer or shorter."""
    if len(first.take.meter.tick) > 1:
        return other
    bar = float(first.take.meter.beats[0] * 4 / first.take.meter.unit[0])
    by_bars = np.arange(-_FURTHEST_BARS, _FURTHEST_BARS + 1)
    fits = [likeness(first, other, bars * bar) for bars in by_bars]
    best = int(np.argmax(fits))
    if fits[best] < _BETTER * fits[_FURTHEST_BARS]:
        return other
    shift = float(by_bars[best] * bar)
    return replace(other, quarter=other.quarter + shift, shift=shift)


def likeness(first: Laid, other: Laid, shift: float = 0.0) -> float:
    """How alike two takes are in what is struck where, 0 to 1, with one of them moved."""
    cells = []
    for one, by in ((first, 0.0), (other, shift)):
        slot = np.rint((one.quarter + by) * _SLOTS_PER_QUARTER).astype(np.int64)
        cells.append({*zip(slot.tolist(), one.hits.piece.tolist(), strict=True)})
    return len(cells[0] & cells[1]) / float(np.sqrt(len(cells[0]) * len(cells[1])))


def _check_alike(first: Laid, other: Laid) -> None:
    alike = likeness(first, other)
    if alike < _ALIKE:
        raise MidiFileError(
            f"{other.take.name} and {first.take.name} have only {100 * alike:.0f} % of their hits "
            "in common: these are no takes of one song, or they don't start together"
        )
