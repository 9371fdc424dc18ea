"""The habit of a drummer in takes: for each piece and place in the bar how often, ms and spread.

What the field calls a microtiming profile (Kilchenmann & Senn 2011, Int. Symp. Performance
Science). All middles are medians, drawn towards the piece, and that towards the whole, by as much
as they rest on few hits, so that a slip does not become a habit.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints, Words
from evenhand.errors import MidiFileError
from evenhand.ground import Ground
from evenhand.habit import drawn, middles
from evenhand.kit import GHOST, GRACE, ROLL
from evenhand.measure import measure

# How many hits the wider group counts for.
_OF_PIECE, _OF_PLACE = 3.0, 3.0
# The spread where little is known, ms, and how many hits it counts for.
_SPREAD_MS, _SPREAD_HITS = 14.0, 4.0
#: The median absolute deviation of a bell times this is its standard deviation: 1 / Φ⁻¹(3/4).
_BELL = 1.4826
#: Places in the bar are told apart by this much of a beat.
PLACES = 48
#: Fewest hits that tell a habit at all.
_FEWEST = 16


@dataclass(frozen=True, eq=False)
class Profile:
    """The habit of a drummer, c cells.

    Attributes
    ----------
    takes : tuple of str
        What it was found in.
    meter : str
        Such as `4/4`; places are beats of such a bar.
    bpm : (float, float)
        The slowest and the fastest tempo.
    swing : float
        Percent of a pair; 50 is straight.
    whole : float
        The lean of everything, ms.
    piece : str array, shape (c,)
        Ghosts apart: `snare ghost`.
    beat : float64 array, shape (c,)
        From 1.
    count : int64 array, shape (c,)
    ms, spread : float64 arrays, shape (c,)
        From the line, minus is early; how widely the hits scatter around that.
    """

    takes: tuple[str, ...]
    meter: str
    bpm: tuple[float, float]
    swing: float
    whole: float
    piece: Words
    beat: Floats
    count: Ints
    ms: Floats
    spread: Floats

    def __len__(self) -> int:
        return len(self.piece)

    def of_piece(self, name: str) -> float:
        """Where a piece usually lies, all places together, ms; the whole where it is not played.

        Parameters
        ----------
        name : str
            Of a piece, such as `snare`.
        """
        mine = self.piece == name
        if not mine.any():
            return self.whole
        return float(np.average(self.ms[mine], weights=self.count[mine]))

    def at(self, piece: Words, beat: Floats) -> Floats:
        """Where pieces usually lie at places, ms; that of the piece where it has no such place.

        Parameters
        ----------
        piece : str array, shape (n,)
        beat : float64 array, shape (n,)
            From 1.
        """
        mine = {
            (str(name), round(float(one) * PLACES)): float(ms)
            for name, one, ms in zip(self.piece, self.beat, self.ms, strict=True)
        }
        general = {str(name): self.of_piece(str(name)) for name in np.unique(piece)}
        return np.array(
            [
                mine.get((name, round(one * PLACES)), general[name])
                for name, one in zip(piece.tolist(), beat.tolist(), strict=True)
            ]
        )


def voices(ground: Ground) -> Words:
    """What a habit is had of: the piece, ghosts apart.

    Parameters
    ----------
    ground : Ground
    """
    hits = ground.hits
    ghost = np.where(hits.role == GHOST, " ghost", "")
    return np.char.add(hits.piece.astype(np.str_), ghost)


@dataclass(frozen=True, eq=False)
class PlacedHits:
    """The hits that tell a habit.

    Attributes
    ----------
    hit : int64 array
    piece : str array
    beat, off : float64 arrays
        Beat of the bar; ms from the line.
    """

    hit: Ints
    piece: Words
    beat: Floats
    off: Floats


def meter_of(ground: Ground) -> tuple[int, int]:
    """The meter that most of the hits are in.

    Parameters
    ----------
    ground : Ground
    """
    meter = ground.time.meter
    here = np.searchsorted(meter.tick, ground.tick, side="right") - 1
    most = int(np.bincount(np.maximum(here, 0)).argmax())
    return int(meter.beats[most]), int(meter.unit[most])


def placed_hits(ground: Ground) -> PlacedHits:
    """The hits on lines, in bars of the take's meter; ornaments left out."""
    measured, time = measure(ground), ground.time
    bars = time.bars_at(measured.line)
    beats, unit = meter_of(ground)
    whole = np.isclose(bars.stop - bars.start, beats * 4 * time.division / unit)
    told = measured.lined & whole & ~np.isin(ground.hits.role, (GRACE, ROLL))
    hit = np.flatnonzero(told)
    beat = 1 + (measured.line - bars.start) / bars.beat_ticks
    return PlacedHits(
        hit=hit,
        piece=voices(ground)[hit],
        beat=np.round(beat[hit] * PLACES) / PLACES,
        off=measured.off[hit],
    )


def find_profile(grounds: Sequence[Ground]) -> Profile:
    """Find the habit that takes have in common.

    Parameters
    ----------
    grounds : sequence of Ground
        One or more, of one meter.

    Raises
    ------
    MidiFileError
        If they differ in meter, or too few hits lie on lines.
    """
    names = tuple(one.take.name for one in grounds)
    meters = [meter_of(one) for one in grounds]
    for name, meter in zip(names, meters, strict=True):
        if meter != meters[0]:
            raise MidiFileError(
                f"{name} is in {meter[0]}/{meter[1]} and {names[0]} in {meters[0][0]}/"
                f"{meters[0][1]}: places in the bar can't be compared"
            )
    rows = [placed_hits(one) for one in grounds]
    piece = np.concatenate([one.piece for one in rows])
    beat = np.concatenate([one.beat for one in rows])
    off = np.concatenate([one.off for one in rows])
    if len(off) < _FEWEST:
        raise MidiFileError(
            f"{names[0]}: only {len(off)} hits lie on lines, too few to tell a habit "
            f"(it takes {_FEWEST})"
        )
    bpm = np.concatenate([60_000 / one.time.tempo.ms_per_tick_at(one.tick) for one in grounds])
    bpm = bpm / np.repeat(
        [one.time.division for one in grounds], [len(one.tick) for one in grounds]
    )
    swings = [grid.swing for one in grounds for grid in one.layout.grids if grid]
    cells = find_cells(piece, beat, off)
    return Profile(
        takes=names,
        meter=f"{meters[0][0]}/{meters[0][1]}",
        bpm=(float(bpm.min()), float(bpm.max())),
        swing=float(np.median(swings)) if swings else 50.0,
        whole=float(np.median(off)),
        piece=cells.piece,
        beat=cells.beat,
        count=cells.count,
        ms=cells.ms,
        spread=cells.spread,
    )


@dataclass(frozen=True, eq=False)
class ProfileCells:
    """The columns of a profile."""

    piece: Words
    beat: Floats
    count: Ints
    ms: Floats
    spread: Floats


def find_cells(piece: Words, beat: Floats, off: Floats) -> ProfileCells:
    """The habit of hits: what each was, its beat of the bar, and its distance from the line, ms."""
    names, of_piece = np.unique(piece, return_inverse=True)
    place = np.rint(beat * PLACES).astype(np.int64)
    keys, cell = np.unique(np.stack([of_piece, place]), axis=1, return_inverse=True)
    cell = cell.ravel()
    whole = float(np.median(off))
    piece_ms = drawn(off - whole, of_piece, len(names), _OF_PIECE)
    left = off - whole - piece_ms[of_piece]
    place_ms = drawn(left, cell, keys.shape[1], _OF_PLACE)
    ms = whole + piece_ms[keys[0]] + place_ms
    far, count = middles(np.abs(off - ms[cell]), cell, len(ms))
    squares = count * (_BELL * far) ** 2 + _SPREAD_HITS * _SPREAD_MS**2
    return ProfileCells(
        piece=names[keys[0]],
        beat=keys[1] / PLACES,
        count=count.astype(np.int64),
        ms=ms,
        spread=np.sqrt(squares / (count + _SPREAD_HITS)),
    )
