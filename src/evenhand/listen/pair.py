"""What is compared on the page: a take as played, and after a pass or in a second file."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.errors import MidiFileError
from evenhand.outcome import CARRIED, Changes, Flag
from evenhand.plan import KEPT, MOVED
from evenhand.take import Hits, Take
from evenhand.tightener import Result

#: Times nearer than this are the same: half a tick of a coarse file is more (96 ticks at 250 bpm).
_SAME_MS = 1.0


@dataclass(frozen=True, eq=False)
class BeforeAfter:
    """A take before and after.

    Attributes
    ----------
    result : Result
        The pass over the take as played.
    changes : Changes
        What is shown: of the pass, or read from the second file.
    flags : tuple of Flag
        Of the pass; none where the second file is not what the pass gives.
    line_ms : float64 array, shape (hits,)
        The grid line nearest to each hit, ms; that of its stroke where it has one.
    deviation_before, deviation_after : float64 arrays, shape (hits,)
        From that line, ms.
    note : str
        What to know about the second file; empty if all is well.
    """

    result: Result
    changes: Changes
    flags: tuple[Flag, ...]
    line_ms: Floats
    deviation_before: Floats
    deviation_after: Floats
    note: str = ""

    @cached_property
    def places(self) -> list[str]:
        """The position that names each hit in a recipe: its line's, or its own."""
        lined = ~np.isnan(self.changes.line)
        tick = np.where(lined, self.changes.line, self.result.tick)
        bar, beat = self.result.before.meter.place(np.maximum(tick, 0.0))
        beat, which = np.unique(beat, return_inverse=True)
        names = [f"{one:.3f}".rstrip("0").rstrip(".") for one in beat.tolist()]
        columns = zip(bar.tolist(), which.tolist(), strict=True)
        return [f"{one}:{names[other]}" for one, other in columns]


def compare(result: Result, second: Take | None = None) -> BeforeAfter:
    """Put a take beside what came of it.

    Parameters
    ----------
    result : Result
        A pass over the take.
    second : Take, optional
        A tightened version of the same take, to be shown instead of what the pass gives.

    Raises
    ------
    MidiFileError
        If `second` does not hold the same hits in the same order.
    """
    changes, flags, note = result.changes, result.flags, ""
    if second is not None:
        hits = _same_hits(result, second)
        if np.abs(hits.ms - changes.ms_after).max() > _SAME_MS:
            changes, flags = _as_found(result, hits.ms), ()
            note = (
                "The second file is not what these settings make of the first, so there are no "
                "reasons and no flags: give the settings or the recipe that it was made with."
            )
    tempo = result.before.tempo
    nearest = result.ground.lines_at(result.tick).tick
    lined = ~np.isnan(changes.line)
    line_ms = tempo.to_ms(np.where(lined, changes.line, nearest))
    before = tempo.to_ms(result.tick) - line_ms
    return BeforeAfter(
        result=result,
        changes=changes,
        flags=flags,
        line_ms=line_ms,
        deviation_before=before,
        deviation_after=changes.ms_after - line_ms,
        note=note,
    )


def _same_hits(result: Result, second: Take) -> Hits:
    first = result.changes.hits
    hits = second.struck(int(first.channel[0]) + 1)
    if len(hits) != len(first):
        raise MidiFileError(
            f"{second.name} holds {len(hits)} hits, {result.before.name} {len(first)}: "
            "they are not the same take"
        )
    differs = (hits.note != first.note) | (hits.velocity != first.velocity)
    if differs.any():
        raise MidiFileError(
            f"{second.name}: hit {int(np.argmax(differs)) + 1} is another than in "
            f"{result.before.name}: they are not the same take"
        )
    return hits


def _as_found(result: Result, ms_after: Floats) -> Changes:
    """The changes as the second file shows them."""
    changes = result.changes
    shift = ms_after - changes.hits.ms
    anchored = ~np.isnan(changes.line)
    stays = np.abs(shift) <= _SAME_MS
    action = np.where(anchored, np.where(stays, KEPT, MOVED), CARRIED)
    return replace(
        changes,
        tick_after=_ticks(result, ms_after),
        ms_after=ms_after,
        shift_ms=shift,
        deviation_after=ms_after - result.before.tempo.to_ms(changes.line),
        action=action,
        reason=np.full(len(shift), "as in the second file"),
    )


def _ticks(result: Result, ms: Floats) -> Ints:
    return np.rint(result.before.tempo.to_tick(ms)).astype(np.int64)
