"""The second edition's judgement, hit by hit in plain Python: lines, habit, drift, target, shift.

Written from rules 14 to 17 of the design and the tables of weights, for takes on straight
sixteenths in 4/4 at one tempo, without sections, ornaments or fills, before any push is looked for.
How far off a stroke may be (the bounds of rule 17) is taken from the code under test; what follows
from it is worked out here.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass
from functools import cache
from math import exp, log, pi, sqrt
from statistics import median

GAP, BAR, DIVISION = 120, 1920, 480

#: Weights of what speaks for a line, as `evenhand.habit.evidence` lists them.
NEARBY, THERE, DISTANCE, TAKEN, PLACE = 0.58, 0.81, 0.67, -2.5, 0.52


@dataclass(frozen=True)
class Line:
    """One line near a hit: its tick, bar and place in the bar, and how far the hit is from it."""

    tick: int
    bar: int
    place: int
    off: float


@dataclass(frozen=True)
class Judged:
    """A hit with its line, its distance, and what is usual there, all in ms."""

    line: int
    deviation: float
    lean: float
    habit: float
    drift: float


class Usual:
    """What is usual in each cell, a voice at a place, given the line of each hit."""

    def __init__(self, voices: list[str], lines: list[Line], off: list[float]) -> None:
        take = median(off)
        self.lean = take + median(one - take for one in off) * len(off) / (len(off) + 4)
        of_voice = defaultdict(list)
        for voice, one in zip(voices, off, strict=True):
            of_voice[voice].append(one - self.lean)
        self.of_voice = {v: median(x) * len(x) / (len(x) + 3) for v, x in of_voice.items()}
        self.left = defaultdict(list)
        for voice, line, one in zip(voices, lines, off, strict=True):
            self.left[voice, line.place].append(one - self.lean - self.of_voice[voice])
        away = defaultdict(list)
        for (voice, _), some in self.left.items():
            away[voice] += [abs(one - median(some)) for one in some]
        self.voice_spread = {v: drawn_spread(x, 14.0, 10) for v, x in away.items()}
        self.ms, self.spread = cache(self._ms), cache(self._spread)

    def of_place(self, voice: str, place: int) -> float:
        """How far a place differs from what the voice does everywhere."""
        some = self.left.get((voice, place), [])
        if not some:
            return 0.0
        wider = pi / 2 * (self.voice_spread[voice] / 12) ** 2
        return median(some) * len(some) / (len(some) + max(wider, 0.5))

    def _ms(self, voice: str, place: int) -> float:
        """Where it usually lies, the lean included."""
        return self.lean + self.of_voice[voice] + self.of_place(voice, place)

    def _spread(self, voice: str, place: int) -> float:
        """How widely it scatters there."""
        middle = self.of_place(voice, place)
        away = [abs(one - middle) for one in self.left.get((voice, place), [])]
        return drawn_spread(away, self.voice_spread[voice], 6)


def drawn_spread(away: list[float], towards: float, hits: int) -> float:
    """The spread of some distances, drawn towards a wider one as if it were so many hits."""
    middle = median(away) if away else 0.0
    squares = len(away) * (1.4826 * middle) ** 2 + hits * towards**2
    return sqrt(squares / (len(away) + hits))


def lines_near(tick: int, ms_per_tick: float) -> list[Line]:
    """Two lines before a hit (or one that it stands on and one before) and two behind."""
    below = tick // GAP
    found = []
    for number in range(below - 1, below + 3):
        at = number * GAP
        off = (tick - at) * ms_per_tick
        found.append(Line(at, at // BAR, at % BAR // GAP, off))
    return found


def chance(away: float, spread: float) -> float:
    """Log of the chance of a distance: a bell, or a slip that may be anything up to 60 ms."""
    bell = exp(-0.5 * (away / spread) ** 2) / (spread * sqrt(2 * pi))
    slip = exp(-max(abs(away) - 60, 0) / 18) / (2 * 78)
    return log(0.9 * bell + 0.1 * slip)


def drifts(lines: list[Line], off: list[float], spread: list[float]) -> list[float]:
    """The drift at each hit: what is struck up to four half beats away, weighted."""
    there: dict[int, list[tuple[float, float]]] = defaultdict(list)
    for line, one, wide in zip(lines, off, spread, strict=True):
        weight = 1 / max(wide, 6) ** 2
        there[round(line.tick / (DIVISION / 2))].append((weight, max(-25, min(25, one))))
    found = []
    for line in lines:
        half, total, count = round(line.tick / (DIVISION / 2)), 0.0, 0.0
        for step in (-4, -3, -2, -1, 1, 2, 3, 4):
            for weight, one in there.get(half + step, ()):
                total += (1 - abs(step) / 5) * weight * one
                count += (1 - abs(step) / 5) * weight
        found.append(total / (count + 2 / 14**2))
    return found


def scores(
    voices: list[str], near: list[list[Line]], picked: list[Line], usual: Usual, drift: list[float]
) -> list[list[float]]:
    """What speaks for each line near each hit."""
    struck = {(v, line.place, line.bar) for v, line in zip(voices, picked, strict=True)}
    counts = Counter(one[:2] for one in struck)
    anyone = Counter(place for place, _ in {one[1:] for one in struck})
    played = {line.bar for line in picked}
    bars = len({lines[1].bar for lines in near})
    table, best = [], defaultdict(lambda: float("-inf"))
    for voice, lines, pick, along in zip(voices, near, picked, drift, strict=True):
        row = []
        for line in lines:
            others = counts[voice, line.place] - ((voice, line.place, line.bar) in struck)
            there = min((others + 0.05) / (bars + 0.5), 1.0)
            told = nearby = 0.0
            for step in (-4, -3, -2, -1, 1, 2, 3, 4):
                weight = 2.0 if step % 2 == 0 else 1.0
                told += weight * (line.bar + step in played)
                nearby += weight * ((voice, line.place, line.bar + step) in struck)
            often = (nearby + 4 * there) / (told + 4)
            place = anyone[line.place]
            score = NEARBY * log(often) + THERE * log(there)
            score += PLACE * log(min((place + 0.05) / (bars + 0.5), 1.0))
            away = line.off - usual.ms(voice, line.place) - along
            score += DISTANCE * chance(away, usual.spread(voice, line.place))
            row.append(score)
            if line == pick:
                key = (voice, line.place, line.bar)
                best[key] = max(best[key], score)
        table.append(row)
    return [
        [
            one + TAKEN * (best[voice, line.place, line.bar] > one + 1e-12)
            for one, line in zip(row, lines, strict=True)
        ]
        for voice, lines, row in zip(voices, near, table, strict=True)
    ]


class TieError(Exception):
    """A hit half-way between two lines: which is nearer is a matter of the last digit."""


def nearest(lines: list[Line], middle: float) -> Line:
    """The line that a hit is nearest to, once the middle of all distances is taken out."""
    first, second = sorted(lines, key=lambda one: abs(one.off - middle))[:2]
    if abs(second.off - middle) - abs(first.off - middle) < 1e-6:
        raise TieError
    return first


def judge(voices: list[str], ticks: list[int], ms_per_tick: float) -> list[Judged]:
    """Say of each hit where it belongs and what is usual there (rules 14 and 15).

    Raises `TieError` where that can't be told for sure.
    """
    near = [lines_near(tick, ms_per_tick) for tick in ticks]
    middle = 0.0
    for _ in range(2):
        middle = median(nearest(lines, middle).off for lines in near)
    picked = [nearest(lines, middle) for lines in near]
    drift = [0.0] * len(ticks)

    def settle() -> tuple[Usual, list[float]]:
        off = [line.off for line in picked]
        usual = Usual(voices, picked, [a - b for a, b in zip(off, drift, strict=True)])
        cells = [(voice, line.place) for voice, line in zip(voices, picked, strict=True)]
        away = [one - usual.ms(*cell) for one, cell in zip(off, cells, strict=True)]
        return usual, drifts(picked, away, [usual.spread(*cell) for cell in cells])

    for _ in range(2):
        usual, drift = settle()
        table = scores(voices, near, picked, usual, drift)
        picked = [
            lines[max(range(len(lines)), key=row.__getitem__)]
            for lines, row in zip(near, table, strict=True)
        ]
    usual, drift = settle()
    return [
        Judged(line.tick, line.off, usual.lean, usual.ms(voice, line.place) - usual.lean, along)
        for voice, line, along in zip(voices, picked, drift, strict=True)
    ]
