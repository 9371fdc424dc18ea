"""Flags: what to listen to afterwards, each with its place, and which are on the listening list."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from evenhand.carry import Carry, go_before_start
from evenhand.columns import SLACK_MS, Bools, Floats, Ints, among, indices, pick
from evenhand.ground import OFFSET, TEMPO, Ground, Strokes, told_of_whole
from evenhand.outcome.changes import Changes
from evenhand.outcome.explained import explain
from evenhand.outcome.listed import choose
from evenhand.plan import DOUBTFUL, LINE_TAKEN, OFF_GRID, TOO_FAR, UNEVEN, Plan
from evenhand.take import Position, Timeline

#: The kinds of flag: what the pass has changed; what it has left though it stands out; the rest.
CHANGED = (MOVES, PUSH, CLOSE, SQUEEZED, START) = (
    *("moves", "push", "close pair", "squeezed", "start"),
)
STANDS = (TEMPO, OFFSET, DOUBTFUL, TOO_FAR, UNEVEN)
SYNCOPATED, TAKEN, OFF_RUN, UNKNOWN = "syncopation", "line taken", "off the grid", "unknown note"
LEFT = (*STANDS, SYNCOPATED, TAKEN, OFF_RUN, UNKNOWN)

#: Two hits on one piece nearer than this sound like one that was hit twice. Common practice.
CLOSE_MS = 30.0

#: Strokes off the grid in a row that are worth a flag. Common practice.
RUN = 3

#: A stroke has moved if it sounds elsewhere by more than this, ms.
MOVED_MS = 2.0

#: Strokes of a bar that are told one by one.
_TOLD = 2


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
        How bad, in ms: what the strokes of a bar moved in all, what a pair has come nearer, what
        is missing of a wanted move, how far a stroke stands from its target; 0 where ms mean
        nothing.
    listed : bool
        Whether it is on the listening list.
    """

    kind: str
    place: Position
    tick: int
    hits: tuple[int, ...]
    text: str
    weight: float
    listed: bool = True


class _Note(NamedTuple):
    """What is to become a flag: its kind, hits (by index, the first is where), text and weight.

    `largest` is by how much its furthest stroke moved, ms.
    """

    kind: str
    hits: Ints
    text: str
    weight: float
    largest: float = 0.0


def raise_flags(changes: Changes, ground: Ground, plan: Plan, carry: Carry) -> tuple[Flag, ...]:
    """List all flags: what was changed before what was left alone, each by weight.

    What the three largest moves are in, and what is not to be missed, is on the listening list;
    so is as much of the rest as can be listened to.

    Parameters
    ----------
    changes : Changes
    ground : Ground
    plan : Plan
    carry : Carry
    """
    look = _Checks(changes, ground, plan, carry)
    notes = [
        *look.moves(),
        *look.close_pairs(),
        *look.squeezed(),
        *look.start(),
        *look.whole_take(),
        *look.left_standing(),
        *look.syncopation(),
        *look.lines_taken(),
        *look.off_grid_runs(),
        *look.unknown_notes(),
    ]
    flags = look.placed(notes)
    order = sorted(range(len(flags)), key=lambda index: _badness(flags[index]))
    ranked = [notes[index] for index in order]
    listed = choose(
        [_rank(one.kind) for one in ranked],
        [one.kind in _NEVER_MISSED for one in ranked],
        [one.largest for one in ranked],
        float(np.ptp(changes.hits.ms)) / 60_000 if len(changes) else 0.0,
    )
    return tuple(
        flags[at] if yes else replace(flags[at], listed=False)
        for at, yes in zip(order, listed, strict=True)
    )


def _badness(flag: Flag) -> tuple[int, float, int, tuple[int, ...]]:
    return _rank(flag.kind), -flag.weight, flag.tick, flag.hits


def _rank(kind: str) -> int:
    """0 for what was changed, 1 for what holds for the whole take, 2 for what stands out, then."""
    if kind in CHANGED:
        return 0
    return 1 + (kind not in _WHOLE) + (kind not in STANDS)


#: What holds for the take as a whole, and what else is not to be missed.
_WHOLE = (TEMPO, OFFSET)
_NEVER_MISSED = (*_WHOLE, CLOSE, START)


@dataclass(frozen=True, eq=False)
class _Checks:
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
        named = pick(~among(self.plan.fate, (OFF_GRID, DOUBTFUL)), stroke, False)
        line = pick(self.plan.line, stroke, np.nan)
        bar, beat = self.time.place(np.where(named, line, self.changes.hits.tick[first]))
        places = map(Position, bar.tolist(), beat.tolist())
        ticks = self.changes.tick_after[first].tolist()
        return [
            Flag(kind, place, tick, tuple((hits + 1).tolist()), text, round(weight, 3))
            for (kind, hits, text, weight, _), place, tick in zip(notes, places, ticks, strict=True)
        ]

    def _pieces(self, hits: Ints) -> str:
        return " and ".join(dict.fromkeys(self.changes.hits.piece[hits].tolist()))

    def _members(self, which: Bools) -> Iterator[tuple[int, Ints]]:
        """Each of the chosen strokes with its hits, the reference first."""
        chosen = indices(which)
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
        for index in indices(near):
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
        hits = indices(go_before_start(self.ground, tick, self.carry.at(tick)))
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

    def moves(self) -> Iterator[_Note]:
        """What moved, one entry for each push and each bar; not what goes to another habit."""
        reference = self.strokes.reference
        shift = self.changes.shift_ms[reference] + self.ground.latency
        after = self.ground.tick[reference] + self.carry.at(self.ground.tick)[reference]
        shift -= self.time.between(after - self.carry.leaned[reference], after)
        bar = self.time.bars_at(self.plan.line).number
        pushed = self.plan.habit.pushed if self.plan.habit else None
        push = pushed.of_hit[reference] if pushed else np.full(len(bar), -1)
        moved = np.abs(shift) > MOVED_MS
        # Bars count from 1, pushes downwards from -1.
        key = np.where(push >= 0, -1 - push, bar)
        some = indices(moved)
        some = some[np.lexsort((-np.round(np.abs(shift[some]), 3), key[some]))]
        parts = np.split(some, indices(np.diff(key[some]) != 0) + 1) if len(some) else []
        for mine in parts:
            one = int(key[mine[0]])
            weight, largest = float(np.abs(shift[mine]).sum()), float(abs(shift[mine[0]]))
            if pushed and one < 0:
                text = self._ran(-1 - one)
                yield _Note(PUSH, reference[mine], text, weight, largest)
                continue
            told = [explain(self.changes, self.plan, self.strokes, at) for at in mine[:_TOLD]]
            more = len(mine) - len(told)
            text = "; ".join(told) + (f"; {more} more moved" if more else "")
            yield _Note(MOVES, reference[mine], text, weight, largest)

    def _ran(self, number: int) -> str:
        """Say what became of a push."""
        assert self.plan.habit is not None
        pushed = self.plan.habit.pushed
        first, last = int(pushed.first[number]), int(pushed.last[number])
        ms, back = float(pushed.ms[number]), float(pushed.shift[number])
        bars = f"bar {first}" if first == last else f"bars {first}-{last}"
        side = "behind" if ms > 0 else "ahead"
        return f"{bars} ran {abs(ms):.0f} ms {side}: moved {back:+.0f} ms"

    def left_standing(self) -> Iterator[_Note]:
        """Strokes that stand out and were left."""
        for stroke in indices(among(self.plan.fate, (DOUBTFUL, TOO_FAR, UNEVEN))).tolist():
            kind = str(self.plan.fate[stroke])
            text = (
                f"{explain(self.changes, self.plan, self.strokes, stroke)}: {self.plan.why[stroke]}"
            )
            excess = float(abs(self.plan.deviation[stroke] - self.plan.lean[stroke]))
            yield _Note(kind, self.strokes.reference[[stroke]], text, excess)

    def syncopation(self) -> Iterator[_Note]:
        """Strokes that stay off the grid, because they seem to be meant so."""
        off = self.plan.syncopation
        yield from self._grouped(
            SYNCOPATED, off, "was left there: it stands on a line of another grid"
        )

    def lines_taken(self) -> Iterator[_Note]:
        """Strokes that stand on a line with a nearer one."""
        off = np.where(self.plan.fate == LINE_TAKEN, self.plan.deviation, 0.0)
        yield from self._grouped(TAKEN, off, "was carried: a nearer stroke has this line")

    def _grouped(self, kind: str, off: Floats, what: str) -> Iterator[_Note]:
        """Strokes of a kind, how far off each is (0 for all others), told of the furthest."""
        which = indices(off)
        if not len(which):
            return
        which = which[np.argsort(-np.abs(off[which]), kind="stable")]
        hits = self.strokes.reference[which]
        furthest = float(off[which[0]])
        text = f"{self._pieces(hits[:1])} at {furthest:+.1f} ms {what}"
        if len(which) > 1:
            text += f"; {len(which)} such in the take"
        yield _Note(kind, hits, text, abs(furthest))

    def off_grid_runs(self) -> Iterator[_Note]:
        """Neighbouring strokes that all are off the grid."""
        off = np.concatenate([[False], self.plan.fate == OFF_GRID, [False]])
        begins = indices(~off[:-1] & off[1:])
        ends = indices(off[:-1] & ~off[1:])
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
            hits = indices(self.changes.hits.note == note)
            times = "once" if len(hits) == 1 else f"{len(hits)} times"
            text = (
                f"note {note} is not in the kit map (played {times}); it was carried. "
                "Name its piece in a kit file, see --kit"
            )
            yield _Note(UNKNOWN, hits, text, 0.0)
