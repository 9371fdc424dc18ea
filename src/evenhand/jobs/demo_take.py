"""An invented take with known faults: Tin Orchard Nine, "Kettle Weather", second take."""

import io
import random
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from evenhand.paper import csv_bytes

if TYPE_CHECKING:
    import mido

NAME = "kettle-weather"
BPM = 108
DIVISION = 480
_TICKS_PER_MS = DIVISION * BPM / 60_000
_BEATS = 4
_NOTE_TICKS = 60
_DRUMS = 9

KICK, STICK, SNARE, RIM, CLOSED, PEDAL, OPEN = 36, 37, 38, 40, 42, 44, 46
TOM_1, TOM_2, TOM_3, CRASH, RIDE, BELL, PAD = 48, 45, 43, 49, 51, 53, 31
_PEDAL_POSITION = 4

#: Human scatter of every hit: a sum of three even spreads with this half-width each, ms.
_SCATTER = 8.0


@dataclass(frozen=True)
class Hit:
    """One hit to be written.

    Attributes
    ----------
    beat : float
        From the start of the take, from 0.
    note, velocity : int
    ms : float
        How far off the beat it is meant to be played, on top of the scatter.
    """

    beat: float
    note: int
    velocity: int
    ms: float = 0.0


@dataclass(frozen=True)
class Fault:
    """One thing that was planted, and where.

    Attributes
    ----------
    at : str
        `bar:beat`, or a stretch.
    piece : str
    ms : float
        From where it usually lies, or for a habit from the line; minus is early.
    what : str
    moves : bool
        Whether it is to be mended; what is meant so, and what this drummer always does, stays.
    """

    at: str
    piece: str
    ms: float
    what: str
    moves: bool = False


#: Name of each section with its first bar and its bar pattern: a letter is a soft, a capital a
#: loud hit on one of 16 steps.
_PATTERNS: dict[str, dict[int, str]] = {
    "count-in": {PEDAL: "P...P...P...P..."},
    "intro": {
        KICK: "K.......K.k.....",
        SNARE: "....S.......S...",
        CLOSED: "H.h.H.h.H.h.H.h.",
    },
    "verse": {
        KICK: "K......kK.k.....",
        SNARE: "....S..g.g..S..g",
        CLOSED: "H.h.H.h.H.h.H.h.",
    },
    "chorus": {
        KICK: "K.....k.K.k...k.",
        RIM: "....S.......S...",
        RIDE: "R.r.R.r.R.r.R.r.",
        PEDAL: "....p.......p...",
    },
    "bridge": {
        KICK: "K.....K...K.....",
        STICK: "....S..s....S...",
        TOM_3: "..T...t...T...t.",
    },
    "ending": {KICK: "K...............", CRASH: "C..............."},
}
_SECTIONS = (
    ("count-in", "count-in", 1),
    ("intro", "intro", 2),
    ("verse 1", "verse", 10),
    ("chorus 1", "chorus", 26),
    ("verse 2", "verse", 34),
    ("bridge", "bridge", 46),
    ("chorus 2", "chorus", 50),
    ("ending", "ending", 58),
)
_LAST_BAR = 58
_FILL = {
    SNARE: "S.s.S.ss........",
    TOM_1: "........T.t.....",
    TOM_2: "............T.t.",
}
_FILL_BARS = (9, 25, 33, 49)
_VELOCITY = {"S": 104, "s": 72, "g": 26, "K": 98, "k": 80}
_LOUD, _SOFT = 88, 62

# What this drummer always does: the backbeat lies back, and the last two beats before each chorus
# push into it.
_BACKBEATS, _BACKBEAT = (2.0, 4.0), 12.0
_INTO_CHORUS, _INTO_FROM, _INTO = (25, 49), 3.0, -14.0
_PUSH = ("verse 1", -15.0)
_RUSHED_BAR, _RUSH = 33, -55.0
_MISPLACED = {
    (12, 2.0, SNARE): -38.0,
    (36, 3.0, KICK): 41.0,
    (39, 1.0, KICK): 47.0,
    (42, 3.0, KICK): 39.0,
    (53, 4.0, RIM): -44.0,
}
_FLAMS = ((30, 4.0, RIM), (38, 4.0, SNARE), (54, 2.0, RIM))
_FLAM_MS = -28.0
_EXTRA = (
    (Hit((20 - 1) * _BEATS + 2, KICK, 34, 48.0), "20:3", "kick", "beater bounces: a second hit"),
    (Hit((46 - 1) * _BEATS, PAD, 70), "46:1", "note 31", "a pad that no kit map knows"),
    (
        Hit((57 - 1) * _BEATS + 3 + 2 / 3, KICK, 100),
        "57:4.667",
        "kick",
        "a triplet kick, meant so: it lies off the sixteenths and should stay",
    ),
)


def faults() -> list[Fault]:
    """List everything that was planted."""
    names = {KICK: "kick", SNARE: "snare", RIM: "snare"}
    section, push = _PUSH
    planted = [
        Fault("2:1-57:4.75", "snare", _BACKBEAT, "habit: the backbeat lies back"),
        *(
            Fault(f"{bar}:{_INTO_FROM:g}-{bar}:4.75", "all", _INTO, "habit: a push into the chorus")
            for bar in _INTO_CHORUS
        ),
        Fault("10:1-25:4.75", "all", push, f"{section} runs ahead as a whole"),
        Fault(
            f"{_RUSHED_BAR}:1-{_RUSHED_BAR}:4.75", "all", _RUSH, "the fill rushes towards its end"
        ),
    ]
    planted += [
        Fault(f"{bar}:{beat:g}", names[note], ms, "late" if ms > 0 else "early", moves=True)
        for (bar, beat, note), ms in _MISPLACED.items()
    ]
    planted += [
        Fault(f"{bar}:{beat:g}", names[note], _FLAM_MS, "a flam, meant so: its grace note")
        for bar, beat, note in _FLAMS
    ]
    planted += [Fault(at, piece, hit.ms, what) for hit, at, piece, what in _EXTRA]
    return planted


def faults_csv() -> bytes:
    """The same list as CSV."""
    rows = [
        (one.at, one.piece, f"{one.ms:g}", one.what, "moves" if one.moves else "stays")
        for one in faults()
    ]
    return csv_bytes(("at", "piece", "ms", "what", "should"), rows)


def recipe() -> bytes:
    """A recipe to go with the take."""
    return b"""\
# Kettle Weather, second take: a first try.
[defaults]
grid = "1/16"
strength = 80        # percent of the deviation that a moved stroke loses
window = "auto"      # what a listener just notices

[[hold]]
at = "57:4.5-57:4.75"  # the triplet kick before the ending is meant so
"""


@cache
def demo_take() -> bytes:
    """Make the take: about two minutes, the same bytes every time."""
    import mido

    midi = mido.MidiFile(type=1, ticks_per_beat=DIVISION)
    midi.tracks.append(mido.MidiTrack(_in_order(_guide())))
    midi.tracks.append(mido.MidiTrack(_in_order(_drums())))
    buffer = io.BytesIO()
    midi.save(file=buffer)
    return buffer.getvalue()


_Timed = tuple[int, "mido.Message | mido.MetaMessage"]


def _in_order(events: Iterator[_Timed]) -> "list[mido.Message | mido.MetaMessage]":
    messages, now = [], 0
    for tick, message in sorted(events, key=lambda event: event[0]):
        messages.append(message.copy(time=tick - now))
        now = tick
    return messages


def _guide() -> Iterator[_Timed]:
    """Tempo, meter and section names."""
    import mido

    yield 0, mido.MetaMessage("track_name", name="Kettle Weather, take 2")
    yield 0, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(BPM))
    yield 0, mido.MetaMessage("time_signature", numerator=_BEATS, denominator=4)
    for name, _, bar in _SECTIONS:
        yield (bar - 1) * _BEATS * DIVISION, mido.MetaMessage("marker", text=name)


def _drums() -> Iterator[_Timed]:
    """Hits with their scatter, releases, pedal position, and the choke at the end."""
    import mido

    # Only random() is used: its sequence is the same in every version of Python.
    dice = random.Random(9).random
    yield 0, mido.MetaMessage("track_name", name="drums")
    for hit in sorted(_hits(), key=lambda hit: (hit.beat, hit.note)):
        scatter = _SCATTER * (dice() + dice() + dice() - 1.5)
        exact = hit.beat * DIVISION + (hit.ms + scatter) * _TICKS_PER_MS
        tick = max(0, round(exact))
        velocity = min(127, max(1, round(hit.velocity + 12 * (dice() - 0.5))))
        if hit.note in (CLOSED, OPEN, PEDAL):
            position = {CLOSED: 84, OPEN: 22, PEDAL: 90}[hit.note] + round(6 * dice())
            pedal = mido.Message(
                "control_change", channel=_DRUMS, control=_PEDAL_POSITION, value=position
            )
            yield max(0, tick - 9), pedal
        yield tick, mido.Message("note_on", channel=_DRUMS, note=hit.note, velocity=velocity)
        yield (
            tick + _NOTE_TICKS,
            mido.Message("note_off", channel=_DRUMS, note=hit.note, velocity=64),
        )
    choke = ((_LAST_BAR - 1) * _BEATS + 3) * DIVISION
    for value in (127, 0):
        pressure = mido.Message("polytouch", channel=_DRUMS, note=CRASH, value=value)
        yield choke + (0 if value else _NOTE_TICKS), pressure


def _hits() -> Iterator[Hit]:
    for (name, pattern, first), after in zip(_SECTIONS, [*_SECTIONS[1:], None], strict=True):
        last = after[2] if after else _LAST_BAR + 1
        for bar in range(first, last):
            steps = _FILL if bar in _FILL_BARS else _PATTERNS[pattern]
            yield from _bar(bar, steps, _PUSH[1] if name == _PUSH[0] else 0.0)
            if bar == first and pattern in ("chorus", "verse", "bridge"):
                yield Hit((bar - 1) * _BEATS, CRASH, 96)
    for bar, beat, note in _FLAMS:
        yield Hit((bar - 1) * _BEATS + beat - 1, note, 30, _FLAM_MS)
    for hit, *_ in _EXTRA:
        yield hit


def _bar(bar: int, steps: dict[int, str], lean: float) -> Iterator[Hit]:
    for note, letters in steps.items():
        for step, letter in enumerate(letters):
            if letter == ".":
                continue
            beat = 1 + step / 4
            ms = lean + _MISPLACED.get((bar, beat, note), 0.0)
            if bar == _RUSHED_BAR:
                ms += _RUSH * step / len(letters)
            if bar in _INTO_CHORUS and beat >= _INTO_FROM:
                ms += _INTO
            if letter == "S" and beat in _BACKBEATS:
                ms += _BACKBEAT
            velocity = _VELOCITY.get(letter, _LOUD if letter.isupper() else _SOFT)
            yield Hit((bar - 1) * _BEATS + beat - 1, note, velocity, ms)
