"""Flags: what to listen to afterwards, worst first, each with its place."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from evenhand.carry import Carry, go_before_start
from evenhand.columns import SLACK_MS, Bools, Ints, pick
from evenhand.ground import Ground, Strokes
from evenhand.outcome.changes import Changes
from evenhand.outcome.told import OFFSET, TEMPO, told_of_whole
from evenhand.plan import KEPT, LINE_TAKEN, MOVED, OFF_GRID, Plan
from evenhand.take import Position, Timeline

#: The kinds of flag: first what the pass has changed, then what it has left alone.
CHANGED = (CLOSE, SQUEEZED, START, LARGE) = ("close pair", "squeezed", "start", "large move")
SYNCOPATED, TAKEN, OFF_RUN, UNKNOWN = "syncopation", "line taken", "off the grid", "unknown note"
LEFT = (TEMPO, OFFSET, SYNCOPATED, TAKEN, OFF_RUN, UNKNOWN)

#: Two hits on one piece nearer than this sound like one that was hit twice. Common practice.
CLOSE_MS = 30.0

#: Strokes off the grid in a row that are worth a flag. Common practice.
RUN = 3

# A move is unusually large above the upper fence of what happens to strokes in this take, those
# that stayed included (third quartile plus
# 1.5 times the distance of the quartiles: Tukey 1977, "Exploratory Data Analysis"; from memory),
# and only if it can be heard as a change of feel at all (common practice). With few moves there is
# nothing to compare with.
_FENCE = 1.5
_LARGE_MS = 25.0
_FEWEST_STROKES = 8


@dataclass(frozen=True)
class Flag:
    """One thing to listen to.

    Attributes
    ----------
    kind : str
        One of `CHANGED` or `LEFT`.
    place : Position
        Where; a stroke is named by its line.
    tick : int
        Where to listen, in ticks of the output.
    hits : tuple of int
        Numbers of the hits, from 1, as in the change log.
    text : str
        What is the matter, in a plain sentence.
    weight : float
        How bad, in ms: what a pair has come nearer, what is missing of a wanted move, how far a
        stroke moved or stands from its line; 0 where ms mean nothing.
    """

    kind: str
    place: Position
    tick: int
    hits: tuple[int, ...]
    text: str
    weight: float


class _Note(NamedTuple):
    """What is to become a flag: its kind, hits (by index, the first is where), text and weight."""

    kind: str
    hits: Ints
    text: str
    weight: float


def raise_flags(changes: Changes, ground: Ground, plan: Plan, carry: Carry) -> tuple[Flag, ...]:
    """List all flags, worst first: what was changed before what was left alone, then by weight."""
    look = _Look(changes, ground, plan, carry)
    notes = [
        *look.close_pairs(),
        *look.squeezed(),
        *look.start(),
        *look.large_moves(),
        *look.whole_take(),
        *look.syncopation(),
        *look.lines_taken(),
        *look.off_grid_runs(),
        *look.unknown_notes(),
    ]
    return tuple(sorted(look.placed(notes), key=_badness))


def _badness(flag: Flag) -> tuple[int, float, int, tuple[int, ...]]:
    rank = 0 if flag.kind in CHANGED else 1 + LEFT.index(flag.kind)
    return rank, -flag.weight, flag.tick, flag.hits


@dataclass(frozen=True, eq=False)
class _Look:
    """Everything that the single checks look at."""

    changes: Changes
    ground: Ground
    plan: Plan
    carry: Carry

    @property
    def strokes(self) -> Strokes:
        return self.ground.strokes

    @property
    def time(self) -> Timeline:
        return self.ground.time

    def placed(self, notes: Sequence[_Note]) -> list[Flag]:
        """The flags, each at the line of its stroke or where its first hit was."""
        first = np.array([note.hits[0] for note in notes], np.int64)
        stroke = self.strokes.of_hit[first]
        named = pick(self.plan.fate != OFF_GRID, stroke, False)
        line = pick(self.plan.line, stroke, np.nan)
        bar, beat = self.time.place(np.where(named, line, self.changes.hits.tick[first]))
        places = map(Position, bar.tolist(), beat.tolist())
        ticks = self.changes.tick_after[first].tolist()
        return [
            Flag(kind, place, tick, tuple((hits + 1).tolist()), text, round(weight, 3))
            for (kind, hits, text, weight), place, tick in zip(notes, places, ticks, strict=True)
        ]

    def _pieces(self, hits: Ints) -> str:
        return " and ".join(dict.fromkeys(self.changes.hits.piece[hits].tolist()))

    def _members(self, which: Bools) -> Iterator[tuple[int, Ints]]:
        """Each of the chosen strokes with its hits, the reference first."""
        chosen = np.flatnonzero(which)
        if not len(chosen):
            return
        order = np.argsort(self.strokes.of_hit, kind="stable")
        sorted_strokes = self.strokes.of_hit[order]
        begin = np.searchsorted(sorted_strokes, chosen, side="left")
        end = np.searchsorted(sorted_strokes, chosen, side="right")
        for stroke, one, other in zip(chosen.tolist(), begin, end, strict=True):
            hits, reference = order[one:other], self.strokes.reference[stroke]
            yield stroke, np.append(reference, hits[hits != reference])

    def close_pairs(self) -> Iterator[_Note]:
        """Hits on one piece that have come too near to each other."""
        changes = self.changes
        order = np.lexsort((changes.hits.event, changes.hits.tick, changes.hits.piece))
        same = changes.hits.piece[order][1:] == changes.hits.piece[order][:-1]
        before, gap = np.diff(changes.hits.ms[order]), np.diff(changes.ms_after[order])
        near = same & (gap < CLOSE_MS - SLACK_MS) & (before >= CLOSE_MS - SLACK_MS)
        for index in np.flatnonzero(near):
            pair = order[index : index + 2]
            text = (
                f"two hits on the {self._pieces(pair[:1])} are now {gap[index]:.1f} ms apart "
                f"(before: {before[index]:.1f} ms)"
            )
            yield _Note(CLOSE, pair, text, float(before[index] - gap[index]))

    def squeezed(self) -> Iterator[_Note]:
        """Strokes that could not move as far as wanted."""
        for stroke, hits in self._members(self.carry.squeezed):
            at = float(self.ground.tick[hits[0]])
            wanted = float(self.time.between(at, at + self.plan.shift[stroke]))
            got = float(self.time.between(at, at + self.carry.shift[stroke]))
            text = (
                f"{self._pieces(hits)} moved {got:+.1f} ms instead of {wanted:+.1f} ms: "
                "a neighbouring stroke is too near"
            )
            yield _Note(SQUEEZED, hits, text, abs(wanted - got))

    def start(self) -> Iterator[_Note]:
        """Hits that would have gone before the start of the file."""
        tick = self.ground.tick
        hits = np.flatnonzero(go_before_start(self.ground, tick, self.carry.at(tick)))
        if len(hits):
            many = f"{len(hits)} hits" if len(hits) > 1 else "a hit"
            text = f"{many} would have moved before the start of the file and stopped there"
            wanted = self.ground.written(tick[hits] + self.carry.at(tick)[hits])
            yield _Note(START, hits, text, float(-self.time.ms(wanted).min()))

    def whole_take(self) -> Iterator[_Note]:
        """What holds for the take as a whole, told at its first hit."""
        first = np.argsort(self.ground.tick, kind="stable")[:1]
        for kind, text, weight in told_of_whole(self.ground.whole):
            yield _Note(kind, first, text, weight)

    def large_moves(self) -> Iterator[_Note]:
        """Strokes that moved much further than the others."""
        moved = self.plan.fate == MOVED
        shift = self.changes.shift_ms[self.strokes.reference]
        if not moved.any():
            return
        fence, judged = _LARGE_MS, moved | (self.plan.fate == KEPT)
        if judged.sum() >= _FEWEST_STROKES:
            # Strokes that stayed count as well: where most stay, every large move stands out.
            lower, upper = np.percentile(np.abs(shift[judged]), [25, 75])
            fence = max(fence, upper + _FENCE * (upper - lower))
        for stroke, hits in self._members(moved & (np.abs(shift) > fence)):
            text = f"{self._pieces(hits)} moved {shift[stroke]:+.1f} ms, unusually far here"
            yield _Note(LARGE, hits, text, float(abs(shift[stroke])))

    def syncopation(self) -> Iterator[_Note]:
        """Strokes that stay off the grid, because they seem to be meant so."""
        for stroke, hits in self._members(self.plan.syncopation != 0):
            off = float(self.plan.syncopation[stroke])
            text = (
                f"{self._pieces(hits)} at {off:+.1f} ms was left there: "
                "it stands on a line of another grid"
            )
            yield _Note(SYNCOPATED, hits, text, abs(off))

    def lines_taken(self) -> Iterator[_Note]:
        """Strokes that stand on a line with a nearer one."""
        for stroke, hits in self._members(self.plan.fate == LINE_TAKEN):
            deviation = float(self.plan.deviation[stroke])
            text = (
                f"{self._pieces(hits)} at {deviation:+.1f} ms was carried: "
                "a nearer stroke has this line"
            )
            yield _Note(TAKEN, hits, text, abs(deviation))

    def off_grid_runs(self) -> Iterator[_Note]:
        """Neighbouring strokes that all are off the grid."""
        off = np.concatenate([[False], self.plan.fate == OFF_GRID, [False]])
        begins = np.flatnonzero(~off[:-1] & off[1:])
        ends = np.flatnonzero(off[:-1] & ~off[1:])
        for begin, end in zip(begins.tolist(), ends.tolist(), strict=True):
            if end - begin < RUN:
                continue
            hits = self.strokes.reference[begin:end]
            last = self.time.position(float(self.changes.hits.tick[hits[-1]]))
            text = f"{end - begin} strokes in a row, up to {last}, are off the grid: carried"
            furthest = np.abs(self.plan.deviation[begin:end]).max()
            yield _Note(OFF_RUN, hits, text, float(furthest))

    def unknown_notes(self) -> Iterator[_Note]:
        """Notes that the kit map lacks."""
        for note in self.ground.kit.unknown(self.changes.hits.note):
            hits = np.flatnonzero(self.changes.hits.note == note)
            times = "once" if len(hits) == 1 else f"{len(hits)} times"
            text = (
                f"note {note} is not in the kit map (played {times}); it was carried. "
                "Name its piece in a kit file, see --kit"
            )
            yield _Note(UNKNOWN, hits, text, 0.0)
