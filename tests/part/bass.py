"""An invented bass under an invented take: known offsets and scatter."""

import mido
import numpy as np
from tests.build import HAT, KICK, SNARE, drum_take, midi_bytes, track

from evenhand import Take

BPM, DIVISION = 110, 480
TICKS_PER_MS = DIVISION * BPM / 60_000
#: Beats of each bar on which the kick and the bass meet, and where only the bass plays.
TOGETHER, ALONE = (0.0, 1.5, 2.0), (3.5,)


def drums(
    chance: np.random.Generator, bars: int = 32, lean: float = 0.0, spread: float = 8
) -> Take:
    """Kick, snare and hat with a lean and scatter."""
    notes = []
    for bar in range(1, bars + 1):
        notes += [(bar * 4 + eighth / 2, HAT, 70) for eighth in range(8)]
        notes += [(bar * 4 + beat, KICK, 100) for beat in TOGETHER]
        notes += [(bar * 4 + beat, SNARE, 105) for beat in (1.0, 3.0)]
    ms = chance.normal(lean, spread, len(notes))
    played = [
        (round(beat * DIVISION + off * TICKS_PER_MS), note, loud)
        for (beat, note, loud), off in zip(notes, ms, strict=True)
    ]
    return drum_take(played, bpm=BPM)


def bass(
    chance: np.random.Generator, offset: float, bars: int = 32, spread: float = 8, late: float = 0.0
) -> Take:
    """A bass with an offset and scatter in ms; `late` more on the beat that it has for itself."""
    events = [(0, mido.MetaMessage("track_name", name="Bass"))]
    for bar in range(1, bars + 1):
        for beat in (*TOGETHER, *ALONE):
            ms = offset + chance.normal(0, spread) + late * (beat in ALONE)
            tick = round((bar * 4 + beat) * DIVISION + ms * TICKS_PER_MS)
            note = mido.Message("note_on", channel=2, note=40 + bar % 5, velocity=90)
            events += [(tick, note), (tick + 200, note.copy(velocity=0))]
    guide = [(0, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(BPM)))]
    return Take.from_bytes(midi_bytes(track(guide), track(events)), "bass.mid")
