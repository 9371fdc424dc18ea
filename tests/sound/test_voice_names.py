"""Voices: every note has one, and it is of the right piece."""

import numpy as np
import pytest

from evenhand.kit.maps import KIT_MAPS, Sound
from evenhand.sound.voice_names import VOICES, voice_of, voices_of


def test_each_voice_stands_for_its_piece_in_general_midi() -> None:
    # The map `gm` is checked against the standard in tests/kit.
    for voice, note in VOICES.items():
        if voice != "other":
            assert voice.startswith(KIT_MAPS["gm"].sounds[note].piece)


@pytest.mark.parametrize("kit", KIT_MAPS.values(), ids=lambda kit: kit.name)
def test_every_known_note_has_a_voice_of_its_piece(kit) -> None:
    for sound in kit.sounds.values():
        assert voice_of(sound).startswith(sound.piece)


@pytest.mark.parametrize(
    ("sound", "voice"),
    [
        (KIT_MAPS["ekit"].sounds[26], "hat open"),
        (KIT_MAPS["ekit"].sounds[22], "hat"),
        (KIT_MAPS["ekit"].sounds[44], "hat pedal"),
        (KIT_MAPS["ekit"].sounds[40], "snare rim"),
        (KIT_MAPS["gm"].sounds[40], "snare"),
        (KIT_MAPS["ekit"].sounds[53], "ride bell"),
        (Sound("hat", "open", "my hat"), "hat open"),
        (Sound("snare", "<b>", "x"), "snare"),
        (None, "other"),
    ],
)
def test_zones(sound: Sound | None, voice: str) -> None:
    assert voice_of(sound) == voice


def test_voices_of_notes() -> None:
    names, index = voices_of(np.array([38, 36, 38, 3]), KIT_MAPS["ekit"])
    assert [names[one] for one in index] == ["snare", "kick", "snare", "other"]
    assert names == sorted(names)
