"""What must hold for every take and every recipe, checked on the bytes that come out.

mido reads both sides; the package's own reader is used only for the raw bytes of single events.
"""

import io
from collections.abc import Iterator
from functools import lru_cache

import mido
import numpy as np

from evenhand import Result, Take
from evenhand.carry import go_before_start
from evenhand.habit import TIME_HAND
from evenhand.take.track import Track

DRUMS = 9

#: The controller that says where the hat's pedal is.
PEDAL = 4

#: Tick, and the message without its time.
Event = tuple[int, mido.Message | mido.MetaMessage]


@lru_cache(maxsize=2)
def decode(data: bytes) -> list[list[Event]]:
    """The events of each track, with their ticks."""
    tracks = []
    for track in mido.MidiFile(file=io.BytesIO(data)).tracks:
        now, events = 0, []
        for message in track:
            now += message.time
            message.time = 0
            events.append((now, message))
        tracks.append(events)
    return tracks


def _drums(events: list[Event]) -> Iterator[Event]:
    return (event for event in events if getattr(event[1], "channel", None) == DRUMS)


def _others(events: list[Event]) -> list[Event]:
    others = [event for event in events if getattr(event[1], "channel", None) != DRUMS]
    return [event for event in others if event[1].type != "end_of_track"]


def only_time_moves(old: list[list[Event]], new: list[list[Event]], result: Result) -> None:
    """No event is lost, added or changed; only drum events move, and keep their order in a limb."""
    assert len(old) == len(new)
    played = [(_limbs(was, result), _limbs(now, result)) for was, now in zip(old, new, strict=True)]
    for was, now, (before, after) in zip(old, new, played, strict=True):
        for one, other in zip(before, after, strict=True):
            assert [message for _, message in one] == [message for _, message in other]
        assert _others(was) == _others(now)
        ends = [(events[-1], max(tick for tick, _ in events)) for events in (was, now)]
        assert ends[0][0][1] == ends[1][0][1]
        # The end of a track gives way to an event that has moved behind it, and never otherwise.
        assert ends[1][0][0] == max(ends[0][0][0], ends[1][1])
    for limb in range(len(result.carry.maps)):
        hits = sorted(
            (pair for was, now in played for pair in _together(was[limb], now[limb])),
            key=lambda pair: pair[0],
        )
        places = [after for _, after in hits]
        # Between tracks, too: what sounded later does not sound earlier now. (A release may give
        # way to its own hit by a tick, see carry/releases.py; within its track it overtakes
        # nothing.)
        assert places == sorted(places)
        assert not places or places[0] >= 0


def _limbs(events: list[Event], result: Result) -> list[list[Event]]:
    """The drum events of a track by the limb that plays them; all in one with one map."""
    limbs: list[list[Event]] = [[] for _ in result.carry.maps]
    limb_of_note = np.asarray(result.carry.limb_of_note).tolist()
    for tick, message in _drums(events):
        limb = 0
        if len(limbs) > 1:
            if hasattr(message, "note"):
                limb = limb_of_note[message.note]
            elif message.type == "control_change" and message.control == PEDAL:
                limb = TIME_HAND
        limbs[limb].append((tick, message))
    return limbs


def limbs_stay_apart(result: Result) -> None:
    """Hits further apart than what is one stroke keep their order, whoever plays them."""
    together = min(one.together for one in result.ground.recipes)
    order = np.argsort(result.tick, kind="stable")
    ms = result.ground.time.ms(result.tick[order])
    after = result.changes.tick_after[order]
    before = np.searchsorted(ms, ms - together - 1e-6, "left")
    furthest = np.concatenate([[-1], np.maximum.accumulate(after)])
    assert (furthest[before] <= after).all()


def _together(was: list[Event], now: list[Event]) -> Iterator[tuple[int, int]]:
    for (one, message), (other, _) in zip(was, now, strict=True):
        if message.type != "note_off" and getattr(message, "velocity", 1):
            yield one, other


def bytes_are_kept(result: Result) -> None:
    """Every event keeps its bytes; other chunks are untouched."""
    before = result.before.smf
    after = Take.from_bytes(result.take.to_bytes()).smf
    assert (before.head, before.tail) == (after.head, after.tail)
    channel = int(result.changes.hits.channel[0])
    for was, now in zip(before.parts, after.parts, strict=True):
        if not isinstance(was, Track) or not isinstance(now, Track):
            assert was == now
            continue
        for drums in (True, False):
            one, other = (_bodies(track, channel, drums) for track in (was, now))
            # Those of several limbs may come in another order (see `only_time_moves`).
            mixed = drums and len(result.carry.maps) > 1
            assert (sorted(one) if mixed else one) == (sorted(other) if mixed else other)


def _bodies(track: Track, channel: int, drums: bool) -> list[bytes]:
    """Bytes of each event behind its delta time, status always spelled out."""
    chosen = np.flatnonzero(track.on_channel(channel) == drums)
    columns = (track.has_status[chosen], track.status[chosen])
    ends = (track.body[chosen], track.start[chosen + 1])
    return [
        (b"" if spelled else bytes([status])) + track.data[begin:end]
        for spelled, status, begin, end in zip(
            *(one.tolist() for one in columns + ends), strict=True
        )
    ]


def log_tells_the_truth(result: Result, tracks: list[list[Event]]) -> None:
    """The changes are those of the events that come out, hit by hit in the order of a limb."""
    several = len(result.carry.maps) > 1
    played = [_limbs(events, result) for events in tracks]
    for limb in range(len(result.carry.maps)):
        hits = [
            (number, tick, message.note, message.velocity)
            for number, events in enumerate(played)
            for tick, message in events[limb]
            if message.type == "note_on" and message.velocity
        ]
        changes = result.changes
        mine = result.carry.limb == limb if several else np.ones(len(changes), bool)
        columns = (
            *(changes.hits.track, changes.tick_after),
            *(changes.hits.note, changes.hits.velocity),
        )
        assert list(zip(*(one[mine].tolist() for one in columns), strict=True)) == hits


def carried_in_proportion(result: Result) -> None:
    """Between the anchors, each hit keeps its share of the way to half a tick."""
    several = len(result.carry.maps) > 1
    for number, knots in enumerate(result.carry.maps):
        mine = result.carry.limb == number if several else np.ones(len(result.tick), bool)
        # A take that lies beside its lines is judged as if it did not.
        after = result.ground.judged(result.changes.tick_after[mine].astype(np.float64))
        start = result.ground.judged(np.zeros(1))[0]
        tick = result.tick[mine]
        if not len(knots.tick):
            assert not len(tick) or np.abs(after - tick).max() <= 0.5 or result.recipe.latency
            continue
        goes = knots.tick + knots.shift
        assert (np.diff(goes) >= -1e-6).all()
        inside = (tick >= knots.tick[0]) & (tick <= knots.tick[-1])
        share = np.interp(tick[inside], knots.tick, goes)
        off = np.abs(after[inside] - np.maximum(share, start))
        assert not len(off) or off.max() <= 0.5 + 1e-5
        for outside, at in ((tick < knots.tick[0], 0), (tick > knots.tick[-1], -1)):
            whole = np.maximum(tick[outside] + knots.shift[at], start)
            off = np.abs(after[outside] - whole)
            assert not len(off) or off.max() <= 0.5 + 1e-5
    # The hits of each stroke that was not left alone for its line move by what it moves.
    strokes, plan = result.strokes, result.plan
    anchored = np.append(plan.knots, False)[strokes.of_hit] & ~result.carry.nudged
    moved = result.carry.at(result.tick)[anchored]
    assert np.allclose(moved, result.carry.shift[strokes.of_hit[anchored]], rtol=0, atol=1e-5)


def gaps_are_guarded(result: Result) -> None:
    """Between neighbouring knots of a limb, gaps stay between half and twice what they were."""
    strokes, knots = result.strokes, result.plan.knots
    if len(result.carry.maps) == 1:
        gap = strokes.first[knots][1:] - strokes.last[knots][:-1]
        after = gap + np.diff(result.carry.shift[knots])
        assert (after >= gap / 2 - 1e-6).all()
        assert (after <= gap * 2 + 1e-6).all()
    for one in result.carry.maps:
        gap = np.diff(one.tick)
        after = gap + np.diff(one.shift)
        assert (after >= gap / 2 - 1e-6).all()
        assert (after <= gap * 2 + 1e-6).all()
    # No move is made larger than wanted, nor turned around.
    wanted, got = result.plan.shift, result.carry.shift
    assert (np.abs(got) <= np.abs(wanted) + 1e-6).all()
    assert (got * wanted >= 0).all()
    # Who was not in the way of anybody goes where it wanted.
    free = ~result.carry.squeezed & knots
    assert np.allclose(wanted[free], got[free], rtol=0, atol=1e-6)


def anchors_reach_their_lines(result: Result) -> None:
    """Strength 100 and window 0: each claimed reference is on its line to half a tick."""
    assert (result.recipe.strength, result.recipe.window) == (100, 0)
    plan, reference = result.plan, result.strokes.reference
    free = plan.claims & ~result.carry.squeezed & (plan.fate != "held")
    free &= ~go_before_start(result.ground, result.tick, result.carry.at(result.tick))[reference]
    off = np.abs(
        result.changes.tick_after[reference[free]] - result.ground.written(plan.line[free])
    )
    assert not len(off) or off.max() <= 0.5 + 1e-5


def is_the_same(result: Result, data: bytes) -> None:
    """Nothing moved, not a byte."""
    assert result.take.to_bytes() == data
    assert set(result.changes.action.tolist()) <= {"kept", "carried", "held"}


def places(result: Result) -> list[tuple[int, int, int, int]]:
    """Where each hit was and is, in an order that does not depend on tracks."""
    changes = result.changes
    columns = (changes.hits.tick, changes.hits.note, changes.hits.velocity, changes.tick_after)
    return sorted(zip(*(column.tolist() for column in columns), strict=True))
