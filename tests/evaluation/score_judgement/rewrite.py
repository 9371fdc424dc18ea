"""Takes with other times, without some hits, or under another tempo."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from evenhand import Take
from evenhand.columns import Bools, Floats, Ints
from evenhand.take.hits import Hits
from evenhand.take.regrid import BarsAndBeats, regrid
from evenhand.take.track import Track


@dataclass(frozen=True, eq=False)
class Rewritten:
    """A take with changes.

    Attributes
    ----------
    take : Take
    hit : int64 array
        Which hit of the take as it was each hit of the new one is.
    """

    take: Take
    hit: Ints


def with_hits_at(take: Take, hits: Hits, ms: Floats) -> Rewritten:
    """Put hits at other times, with their releases; the rest stays."""
    wanted = np.maximum(np.rint(take.tempo.to_tick(ms)), 0).astype(np.int64)
    wanted = np.where(np.abs(ms - hits.ms) < 1e-9, hits.tick, wanted)
    ticks = []
    for number, track in enumerate(take.smf.tracks):
        tick = track.tick.copy()
        mine = hits.track == number
        tick[hits.event[mine]] = wanted[mine]
        _carry_releases(track, tick, track.on_channel(int(hits.channel[0])))
        ticks.append(tick)
    return Rewritten(take.retimed(ticks), _order(hits, wanted))


def _carry_releases(track: Track, tick: Ints, drums: Bools) -> None:
    """Shift each release as its hit; it stays behind its hit and before the next one."""
    kind, note = track.notes(drums)
    event = np.flatnonzero(drums)
    for one in np.unique(note[kind >= 0]):
        own = event[(note == one) & (kind >= 0)]
        on = kind[(note == one) & (kind >= 0)] == 1
        last = np.maximum.accumulate(np.where(on, np.arange(len(own)), -1))
        following = np.append(np.where(on, tick[own], np.iinfo(np.int64).max), 2**62)
        following = np.minimum.accumulate(following[::-1])[::-1][1:]
        held = ~on & (last >= 0)
        hit = own[last[held]]
        moved = track.tick[own[held]] + tick[hit] - track.tick[hit]
        tick[own[held]] = np.minimum(np.maximum(moved, tick[hit] + 1), following[held])


def warped(take: Take, hits: Hits, warp: Callable[[Floats], Floats]) -> Rewritten:
    """Move everything on the drum channel by a map of time (ms in, ms out)."""

    def moved(tick: Ints) -> Ints:
        there = take.tempo.to_tick(warp(take.tempo.to_ms(tick)))
        return np.maximum(np.rint(there), 0).astype(np.int64)

    ticks = []
    for track in take.smf.tracks:
        drums = track.on_channel(int(hits.channel[0]))
        ticks.append(np.where(drums, moved(track.tick), track.tick))
    return Rewritten(take.retimed(ticks), _order(hits, moved(hits.tick)))


def _order(hits: Hits, tick: Ints) -> Ints:
    """The hits in the order of the new file."""
    return np.lexsort((hits.event, tick, hits.track))


def without(take: Take, hits: Hits, which: Bools) -> Rewritten:
    """Leave hits out; their releases and all the rest stay in the file."""
    count = iter(range(len(take.smf.tracks)))
    parts: list[Track | bytes] = []
    for part in take.smf.parts:
        if isinstance(part, Track):
            gone = hits.event[which & (hits.track == next(count))]
            keep = np.setdiff1d(np.arange(len(part)), gone)
            parts.append(part.rebuilt(part.tick, keep))
        else:
            parts.append(part)
    left = replace(take, smf=replace(take.smf, parts=tuple(parts)))
    return Rewritten(left, np.flatnonzero(~which))


def under_tempo(take: Take, bpm: float) -> Take:
    """The same sounding times in a file that gives one tempo, in its first meter."""
    unit = int(take.meter.unit[0])
    beat = 60_000 / bpm * 4 / unit
    count = int(take.tempo.to_ms(take.end) / beat) + 2
    beats = np.asarray(beat * np.arange(count + 1))
    return regrid(take, BarsAndBeats(beats, int(take.meter.beats[0]), unit))
