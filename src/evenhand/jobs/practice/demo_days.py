"""Invented practice: a drummer of Tin Orchard Nine at the groove of "Kettle Weather", over days."""

import io
import math
import random
from collections.abc import Iterator
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import mido

DIVISION = 480
_DRUMS = 9
_BEATS = 4
KICK, SNARE, CLOSED, PEDAL = 36, 38, 42, 44

#: The groove, a bar of 16 steps: a capital is loud, a small letter soft, `g` a ghost.
_GROOVE = {
    KICK: "K......kK.k.....",
    SNARE: "....S..g.g..S..g",
    CLOSED: "H.h.H.h.H.h.H.h.",
}
_VELOCITY = {"K": 98, "k": 80, "S": 104, "g": 26, "H": 84, "h": 58}
_BARS = 24

#: Each take: file name without its ending, tempo, how far hits scatter (ms, standard deviation),
#: how far the kick leans, and whether there was a click.
_TAKES = (
    ("2026-09-01 kettle-weather 96", 96, 17.0, -14.0, True),
    ("2026-09-01 kettle-weather 112", 112, 19.0, -15.0, True),
    ("2026-09-04 kettle-weather 96", 96, 16.0, -13.0, True),
    ("2026-09-04 kettle-weather 112", 112, 19.0, -14.0, True),
    ("2026-09-08 kettle-weather 96", 96, 14.5, -13.0, True),
    ("2026-09-11 kettle-weather 96", 96, 14.0, -11.0, True),
    ("2026-09-11 kettle-weather 112", 112, 18.0, -13.0, True),
    ("2026-09-15 kettle-weather 96", 96, 12.5, -10.0, True),
    ("2026-09-18 kettle-weather 96", 96, 11.5, -10.0, True),
    ("2026-09-18 kettle-weather 112", 112, 17.0, -12.0, True),
    ("2026-09-22 kettle-weather 96", 96, 10.5, -9.0, True),
    ("2026-09-22 kettle-weather 112", 112, 17.0, -12.0, True),
    ("without the click", 104, 9.0, -9.0, False),
)
_TOML = b"""\
# What the names of the files don't say.
[dates]
"without the click.mid" = 2026-09-23

[names]
"without the click.mid" = "without the click, from memory"
"""

#: Hits of one limb scatter by this share of the take's scatter.
_SHARE = {KICK: 1.2, SNARE: 0.8, CLOSED: 0.7}
_EASE_PERCENT = 3.0


def demo_series() -> dict[str, bytes]:
    """The files of the series by name: the same bytes every time."""
    files = {
        f"{name}.mid": _take(number, bpm, scatter, lean, click)
        for number, (name, bpm, scatter, lean, click) in enumerate(_TAKES)
    }
    return {**files, "practice.toml": _TOML}


@cache
def _take(number: int, bpm: float, scatter: float, lean: float, click: bool) -> bytes:
    import mido

    midi = mido.MidiFile(type=1, ticks_per_beat=DIVISION)
    guide = [
        mido.MetaMessage("track_name", name="Kettle Weather, practice"),
        # Without a click the file says its usual 120 bpm, whatever is played.
        mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm if click else 120)),
        mido.MetaMessage("time_signature", numerator=_BEATS, denominator=4),
    ]
    midi.tracks.append(mido.MidiTrack(guide))
    ticks_per_ms = DIVISION * (bpm if click else 120) / 60_000
    events = sorted(_events(number, bpm, scatter, lean, click), key=lambda event: event[0])
    track, now = mido.MidiTrack(), 0
    for ms, message in events:
        tick = max(0, round(ms * ticks_per_ms))
        track.append(message.copy(time=tick - now))
        now = tick
    midi.tracks.append(track)
    buffer = io.BytesIO()
    midi.save(file=buffer)
    return buffer.getvalue()


def _events(
    number: int, bpm: float, scatter: float, lean: float, click: bool
) -> "Iterator[tuple[float, mido.Message]]":
    """Hits and releases with their times in ms."""
    import mido

    # Only random() is used: its sequence is the same in every version of Python.
    dice = random.Random(100 + number).random
    for bar in range(_BARS):
        for note, letters in _GROOVE.items():
            for step, letter in enumerate(letters):
                off = _SHARE[note] * scatter * 2 * (dice() + dice() + dice() - 1.5)
                louder = 14 * (dice() + dice() - 1)
                if letter == ".":
                    continue
                beat = bar * _BEATS + step / 4
                ms = _time(beat, bpm, click) + off + (lean if note == KICK else 0.0)
                velocity = min(127, max(1, round(_VELOCITY[letter] + louder)))
                on = mido.Message("note_on", channel=_DRUMS, note=note, velocity=velocity)
                yield max(0.0, ms), on
                yield max(0.0, ms) + 60, mido.Message("note_off", channel=_DRUMS, note=note)


def _time(beat: float, bpm: float, click: bool) -> float:
    """When a beat is played: with the click, or easing a little towards the end without."""
    beat += _BEATS
    if click:
        # The pulse leans back and forth around the click, once in eleven bars.
        return beat * 60_000 / bpm + 5.0 * math.sin(beat * math.tau / 44)
    whole = (_BARS + 1) * _BEATS
    return beat * 60_000 / bpm * (1 + _EASE_PERCENT / 200 * beat / whole)
