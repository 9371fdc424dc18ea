"""Five invented kinds of take for the gallery of the docs."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from tests.build import HAT, KICK, SNARE, drum_take
from tests.ornament_takes import ornamented

from evenhand import Take
from evenhand.jobs.demo_take import demo_take

_RIDE, _PEDAL = 51, 44
_NOTES = {"kick": KICK, "snare": SNARE, "hat": HAT, "tom 1": 48, "tom 2": 45, "tom 3": 43}
_LOUD = {"K": 98, "k": 78, "S": 104, "g": 26, "H": 86, "h": 60, "R": 88, "r": 64, "P": 60}
_DIVISION = 480


@dataclass(frozen=True)
class Kind:
    """A kind of take.

    Attributes
    ----------
    name : str
        Of its picture.
    title, played : str
        What it is, and how it was played.
    make : function
        Makes the take.
    """

    name: str
    title: str
    played: str
    make: Callable[[], Take]


def _pattern(
    bpm: float,
    steps: dict[int, str],
    leans: dict[int, float],
    scatter: float,
    slips: dict[tuple[int, int, int], float],
) -> Take:
    """Twenty-four bars of a pattern.

    Parameters
    ----------
    bpm : float
    steps : dict of int to str
        A bar for each note, its letters spread evenly over it.
    leans : dict of int to float
        How far each note usually lies off its line, ms.
    scatter : float
        Standard deviation of every hit, ms.
    slips : dict of (bar, step, note) to float
        What was played wrongly, ms.
    """
    dice, notes = np.random.default_rng(15), []
    for bar in range(24):
        for note, letters in steps.items():
            for step, letter in enumerate(letters):
                if letter != ".":
                    off = leans.get(note, 0.0) + scatter * dice.normal()
                    off += slips.get((bar + 1, step, note), 0.0)
                    beat = 4 * (bar + 1 + step / len(letters))  # a bar of rest before the first
                    tick = round(beat * _DIVISION + off * _DIVISION * bpm / 60_000)
                    loud = int(np.clip(_LOUD[letter] + 5 * dice.normal(), 1, 127))
                    notes.append((tick, note, loud))
    return drum_take(sorted(notes), bpm=bpm)


def _song() -> Take:
    return Take.from_bytes(demo_take())


def _shuffle() -> Take:
    steps = {KICK: "K.....K.k...", SNARE: "...S.....S..", _RIDE: "R.rR.rR.rR.r"}
    slips = {(6, 3, SNARE): -46.0, (13, 6, KICK): 48.0, (19, 9, SNARE): 44.0}
    return _pattern(126, steps, {_RIDE: -4.0}, 6.0, slips)


def _laid_back() -> Take:
    steps = {KICK: "K......k..K.....", SNARE: "........S.......", HAT: "H.h.H.h.H.h.H.h."}
    slips = {(5, 10, KICK): -52.0, (12, 0, KICK): 50.0, (17, 8, SNARE): -60.0}
    return _pattern(72, steps, {SNARE: 26.0, KICK: 8.0}, 7.0, slips)


def _loose() -> Take:
    steps = {KICK: "K..k..K.", SNARE: "..S...S.", HAT: "HhHhHhHh"}
    slips = {(4, 3, KICK): 46.0, (9, 2, SNARE): -48.0, (10, 2, SNARE): 43.0, (21, 6, KICK): -50.0}
    return _pattern(176, steps, {HAT: -6.0}, 11.0, slips)


def _ghosted() -> Take:
    played, bpm = ornamented(100, 4), 100
    ticks = np.round(np.array(played.ms) * _DIVISION * bpm / 60_000).astype(int)
    # The invented playing begins a second into the file; here it begins with the second bar.
    ticks += 4 * _DIVISION - round(1000 * _DIVISION * bpm / 60_000)
    pieces = [_NOTES[one] for one in played.piece]
    rows = zip(ticks.tolist(), pieces, played.velocity, strict=True)
    return drum_take(sorted(rows), bpm=bpm)


KINDS = (
    Kind(
        "song",
        "A song with sections",
        "The demo take: verses, choruses, fills. Verse 1 runs ahead as a whole, which stays; "
        "single kicks and snares slipped.",
        _song,
    ),
    Kind(
        "shuffle",
        "A shuffle",
        "Triplets at 126 bpm with the ride a little ahead; two snares and a kick slipped.",
        _shuffle,
    ),
    Kind(
        "laid-back",
        "A backbeat that lies behind",
        "Half-time at 72 bpm, the snare 26 ms late on purpose: the habit of this drummer, and no "
        "error. Two kicks and a snare slipped.",
        _laid_back,
    ),
    Kind(
        "loose",
        "Fast and loose",
        "Eighths at 176 bpm, every hit scattered by 11 ms: what stands out must stand out further.",
        _loose,
    ),
    Kind(
        "ghosted",
        "Ghosts, flams and rolls",
        "Ghosted sixteenths at 100 bpm with a flam, drag, ruff, buzz or roll in every bar. Nothing "
        "was played wrongly on purpose.",
        _ghosted,
    ),
)
