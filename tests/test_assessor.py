"""What an assessment says besides its figures: the tempo it doubts, the part it sits with."""

import mido
import numpy as np
from tests.build import HAT, KICK, SNARE, Note, drum_take, midi_bytes, track

from evenhand import Recipe, assess
from evenhand.assessor import tempo_text


def _strewn(seconds: float, hits: int) -> list[Note]:
    """Hits at random: 120 bpm in the file, no beat in the hits."""
    dice = np.random.default_rng(3)
    ticks = np.sort(dice.uniform(0, 960 * seconds, hits)).astype(int)
    return [(int(tick), int(dice.choice([KICK, SNARE, HAT]))) for tick in ticks]


def test_a_tempo_that_gathers_nothing_is_doubted() -> None:
    take = drum_take(_strewn(60, 300))
    doubt = assess(take).tempo_doubt
    assert doubt.startswith("the hits gather on no part of the beat at 120 bpm: ")
    assert assess(take, Recipe(tempo_as_filed="on")).tempo_doubt == ""
    # A handful of hits says nothing.
    assert assess(drum_take(_strewn(60, 6))).tempo_doubt == ""


def test_the_part_that_it_sits_with(tmp_path) -> None:
    notes = [(480 * beat + 480, KICK if beat % 2 == 0 else SNARE) for beat in range(64)]
    bass = [(0, mido.MetaMessage("set_tempo", tempo=500_000))]
    for beat in range(0, 64, 2):
        at = 480 * beat + 480 + 12  # 12.5 ms behind the kick
        bass.append((at, mido.Message("note_on", channel=0, note=40, velocity=90)))
        bass.append((at + 200, mido.Message("note_off", channel=0, note=40)))
    path = tmp_path / "bass.mid"
    path.write_bytes(midi_bytes(track(bass)))
    found = assess(drum_take(notes), Recipe(against=str(path), grid="1/16"))
    assert found.together is not None
    assert assess(drum_take(notes)).together is None
    assert found.views == (found.whole,)
    assert len(found.hits) == 64


def test_tempi_are_written_with_their_range() -> None:
    assert tempo_text(np.array([120.0])) == "120"
    assert tempo_text(np.array([120.0, 93.456])) == "93.46 to 120"
