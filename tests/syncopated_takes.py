"""Invented takes with known slips and known syncopations, to try both on.

Sixteen bars of kick, backbeat and hat, human scatter on every hit. Some kicks slip by 35 to 45 ms;
some triplet kicks are put between the sixteenths, meant so.
"""

import random
from dataclasses import dataclass

from tests.build import HAT, KICK, SNARE, Note, drum_take

from evenhand import Take

BARS = 16
_DIVISION = 480
_KICKS, _SNARES = (0, 3, 7, 8, 10, 13), (4, 12)

#: Where a kick is put that is meant so, in quarters from the bar line: nothing is near it.
_PLACES = (1 / 3, 4 / 3, 7 / 3, 11 / 3)
_STRAIGHT_PLACES = (1 / 4, 5 / 4, 9 / 4, 13 / 4)


@dataclass(frozen=True)
class Syncopated:
    """A take with the hits that are told, by their index in the file.

    Attributes
    ----------
    take : Take
    slips : tuple of int
        Kicks that came 35 to 45 ms too late or too early, on any sixteenth that has a kick.
    mistakable : tuple of int
        Those of them that were pushed towards a triplet: late on the second sixteenth of a beat,
        early on the fourth.
    meant : tuple of int
        Triplet kicks; in a groove of triplets, straight ones.
    """

    take: Take
    slips: tuple[int, ...]
    mistakable: tuple[int, ...]
    meant: tuple[int, ...]


def syncopated(
    bpm: float, spread: float, hat: int, seed: int, triplets: bool = False
) -> Syncopated:
    """Make one.

    Parameters
    ----------
    bpm : float
    spread : float
        Standard deviation of the scatter, ms.
    hat : int
        Hat hits in a bar, 8 or 16; in triplets 12.
    seed : int
    triplets : bool
        Whether the groove is one of triplets; then the kicks that are meant are straight.
    """
    dice = random.Random(seed)
    ms_per_beat = 60_000 / bpm
    played: list[tuple[float, int, str]] = []

    def put(beat: float, note: int, kind: str = "", slip: float = 0.0) -> None:
        ms = beat * ms_per_beat + dice.gauss(0, spread) + slip
        played.append((max(0.0, ms) * _DIVISION / ms_per_beat, note, kind))

    step = 3 if triplets else 4
    kicks = (0, 2, 5, 6, 8, 11) if triplets else _KICKS
    for bar in range(BARS):
        start = 4.0 * bar + 4
        slipping = dice.choice(kicks) if bar % 4 == 1 else -1
        for place in kicks:
            if place != slipping:
                put(start + place / step, KICK)
                continue
            slip = dice.choice((-1, 1)) * dice.uniform(35, 45)
            towards = 1 if place % step == 1 else -1 if place % step == step - 1 else 0
            kind = "mistakable" if slip * towards > 0 else "slip"
            put(start + place / step, KICK, kind, slip)
        for beat in (1, 3):
            put(start + beat, SNARE)
        for eighth in range(hat):
            put(start + eighth * 4 / hat, HAT)
        if bar % 4 == 3:
            put(start + dice.choice(_STRAIGHT_PLACES if triplets else _PLACES), KICK, "meant")
    played.sort()
    notes: list[Note] = [(round(tick), note) for tick, note, _ in played]
    kinds = [kind for _, _, kind in played]

    def of(*names: str) -> tuple[int, ...]:
        return tuple(i for i, kind in enumerate(kinds) if kind in names)

    take = drum_take(notes, bpm=bpm)
    return Syncopated(take, of("slip", "mistakable"), of("mistakable"), of("meant"))
