"""What differs between two files of one performance, hit by hit.

The files may have been made by anything, may differ in resolution and tempo, and need not hold
the same hits. What counts is when a hit sounds (ms), what was struck, and how hard.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import SLACK_MS, Bools, Floats, Ints, Words
from evenhand.compare.align import align
from evenhand.kit import KitMap
from evenhand.take import Take

#: How far a hit may have been moved and still be the same hit, ms, unless said otherwise: more
#: than a sixteenth at 120 bpm, and far more than anyone moves a hit by ear. Common practice.
WITHIN_MS = 150.0

_MARKER = 0x06
_BARS = 8


@dataclass(frozen=True, eq=False)
class Comparison:
    """Two files side by side: one row per pair and per hit that has none, in order of time.

    Attributes
    ----------
    first, second : int64 arrays, shape (rows,)
        Index of the hit in each file, -1 where it has none.
    piece : str array
    section : int64 array
        Index into `sections`.
    sections : tuple of str
    bar, beat : int64 and float64 arrays
        Place in the bars of the first file.
    note, velocity, ms : arrays, shape (2, rows)
        Of both hits; NaN where there is none.
    moved : bool array
        Pairs further apart than half a tick (of the file with the longer ticks).
    """

    first: Ints
    second: Ints
    piece: Words
    section: Ints
    sections: tuple[str, ...]
    bar: Ints
    beat: Floats
    note: Floats
    velocity: Floats
    ms: Floats
    moved: Bools

    def __len__(self) -> int:
        return len(self.first)

    @property
    def added(self) -> Bools:
        """Hits that only the second file has."""
        return np.asarray(self.first < 0)

    @property
    def dropped(self) -> Bools:
        """Hits that only the first file has."""
        return np.asarray(self.second < 0)

    @property
    def shift(self) -> Floats:
        """How much later each hit is in the second file, ms; NaN where it is missing in one."""
        return np.asarray(self.ms[1] - self.ms[0])

    @property
    def louder(self) -> Floats:
        """By how many steps of velocity it is louder in the second file; NaN as `shift`."""
        return np.asarray(self.velocity[1] - self.velocity[0])

    @property
    def paired(self) -> Bools:
        """Hits that both files have."""
        return np.asarray(~self.added & ~self.dropped)

    @property
    def other_velocity(self) -> Bools:
        """Pairs whose velocities differ."""
        return np.asarray(self.paired & (self.louder != 0))

    @property
    def other_note(self) -> Bools:
        """Pairs whose note numbers differ (another zone of the piece)."""
        return np.asarray(self.paired & (self.note[1] != self.note[0]))

    @property
    def differs(self) -> Bools:
        """Rows in which the files differ at all."""
        return self.added | self.dropped | self.moved | self.other_velocity | self.other_note


def compare(
    first: Take,
    second: Take,
    kit: KitMap,
    channel: int | None = None,
    within: float = WITHIN_MS,
) -> Comparison:
    """Hold two files of one performance against each other.

    Parameters
    ----------
    first, second : Take
    kit : KitMap
        For both files.
    channel : int, optional
        MIDI channel of the drums in both, 1 to 16; found in each if not given.
    within : float
        How far apart two hits may lie and still be one that was moved, ms.

    Raises
    ------
    MidiFileError
        If one of the files has no drums.
    """
    hits = [take.struck(channel) for take in (first, second)]
    pieces = [kit.pieces(one.note) for one in hits]
    pairs = align(
        (hits[0].ms, hits[1].ms),
        (hits[0].velocity, hits[1].velocity),
        (pieces[0], pieces[1]),
        within,
    )
    alone = [
        np.setdiff1d(np.arange(len(one)), paired) for one, paired in zip(hits, pairs, strict=True)
    ]
    none = [np.full(len(one), -1, np.int64) for one in alone]
    index = np.array(
        [
            np.concatenate([pairs[0], alone[0], none[1]]),
            np.concatenate([pairs[1], none[0], alone[1]]),
        ]
    )

    def both(name: str) -> Floats:
        return np.array(
            [
                np.append(getattr(one, name).astype(np.float64), np.nan)[rows]
                for one, rows in zip(hits, index, strict=True)
            ]
        )

    ms = both("ms")
    # A hit that the first file lacks stands where it would sound there.
    at_ms = np.where(np.isnan(ms[0]), ms[1], ms[0])
    order = np.lexsort((index[1], index[0], at_ms))
    index, ms, at_ms = index[:, order], ms[:, order], at_ms[order]
    at = np.maximum(first.tempo.to_tick(at_ms), 0.0)
    section, sections = _sections(first, at)
    bar, beat = first.meter.place(at)
    tick_ms = np.maximum(
        first.tempo.ms_per_tick_at(at),
        second.tempo.ms_per_tick_at(second.tempo.to_tick(np.where(np.isnan(ms[1]), at_ms, ms[1]))),
    )
    names = [np.append(one, "")[rows] for one, rows in zip(pieces, index, strict=True)]
    return Comparison(
        first=index[0],
        second=index[1],
        piece=np.where(index[0] < 0, names[1], names[0]),
        section=section,
        sections=sections,
        bar=bar,
        beat=beat,
        note=both("note"),
        velocity=both("velocity"),
        ms=ms,
        moved=np.abs(ms[1] - ms[0]) > tick_ms / 2 + SLACK_MS,
    )


def _sections(take: Take, tick: Floats) -> tuple[Ints, tuple[str, ...]]:
    """The section of each place: from marker to marker, or eight bars where a file has none.

    What is at most a thirty-second early belongs to what it leads into.
    """
    tick = tick + take.division / 8
    markers = sorted(
        {tick: text for track in take.smf.tracks for tick, text in track.metas(_MARKER)}.items()
    )
    if markers:
        index = np.searchsorted([at for at, _ in markers], tick, side="right")
        names = ["before the first marker"] + [
            f"{_text(text)} ({take.meter.position(at)})" for at, text in markers
        ]
        return np.asarray(index, np.int64), tuple(names)
    blocks, index = np.unique((take.meter.bars_at(tick).number - 1) // _BARS, return_inverse=True)
    return index.astype(np.int64), tuple(
        f"bars {_BARS * block + 1}-{_BARS * (block + 1)}" for block in blocks.tolist()
    )


def _text(payload: bytes) -> str:
    try:
        return payload.decode("utf-8").strip() or "marker"
    except UnicodeDecodeError:
        return payload.decode("latin-1").strip()
