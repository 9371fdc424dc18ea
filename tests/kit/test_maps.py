"""Kit maps: numbers from the standard, user maps, bad maps."""

from pathlib import Path

import numpy as np
import pytest

from evenhand.errors import DiskError, SettingError
from evenhand.kit.maps import KIT_MAPS, load_kit
from evenhand.kit.pieces import ROLE_OF_PIECE, parse_piece

# General MIDI Level 1, percussion key map (channel 10), as the specification lists it.
GENERAL_MIDI = {
    35: "kick", 36: "kick", 37: "side stick", 38: "snare", 39: "clap", 40: "snare", 41: "tom 6",
    42: "hat", 43: "tom 5", 44: "hat", 45: "tom 4", 46: "hat", 47: "tom 3", 48: "tom 2",
    49: "crash", 50: "tom 1", 51: "ride", 52: "china", 53: "ride", 54: "tambourine", 55: "splash",
    56: "cowbell", 57: "crash", 58: "vibraslap", 59: "ride", 60: "bongo", 61: "bongo", 62: "conga",
    63: "conga", 64: "conga", 65: "timbale", 66: "timbale", 67: "agogo", 68: "agogo", 69: "cabasa",
    70: "maracas", 71: "whistle", 72: "whistle", 73: "guiro", 74: "guiro", 75: "claves",
    76: "wood block", 77: "wood block", 78: "cuica", 79: "cuica", 80: "triangle", 81: "triangle",
}  # fmt: skip

# Mapping table published with the Groove MIDI Dataset (ICML 2019; from memory): note, piece, zone.
E_KIT = [
    (36, "kick", ""), (38, "snare", "head"), (40, "snare", "rim"), (37, "side stick", ""),
    (48, "tom 1", "head"), (50, "tom 1", "rim"), (45, "tom 2", "head"), (47, "tom 2", "rim"),
    (43, "tom 3", "head"), (58, "tom 3", "rim"), (46, "hat", "bow"), (26, "hat", "edge"),
    (42, "hat", "bow"), (22, "hat", "edge"), (44, "hat", "pedal"), (49, "crash", "bow"),
    (55, "crash", "edge"), (57, "crash", "bow"), (52, "crash", "edge"), (51, "ride", "bow"),
    (59, "ride", "edge"), (53, "ride", "bell"),
]  # fmt: skip


def test_general_midi_numbers() -> None:
    found = {note: sound.piece for note, sound in KIT_MAPS["gm"].sounds.items()}
    assert found == GENERAL_MIDI


@pytest.mark.parametrize(("note", "piece", "zone"), E_KIT)
def test_ekit_numbers(note: int, piece: str, zone: str) -> None:
    sound = KIT_MAPS["ekit"].sounds[note]
    assert (sound.piece, sound.zone) == (piece, zone)


def test_ekit_contains_gm() -> None:
    assert set(KIT_MAPS["gm"].sounds) < set(KIT_MAPS["ekit"].sounds)


def test_every_piece_in_a_map_is_a_piece() -> None:
    for kit in KIT_MAPS.values():
        assert {sound.piece for sound in kit.sounds.values()} <= set(ROLE_OF_PIECE)


def test_unknown_notes_are_other_and_listed_once() -> None:
    kit = KIT_MAPS["ekit"]
    notes = np.array([36, 3, 3, 127])
    assert kit.pieces(notes).tolist() == ["kick", "other", "other", "other"]
    assert kit.unknown(notes) == [3, 127]


def test_user_map_builds_on_another(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(
        'base = "gm"\n[notes]\n31 = "snare"\n38 = {piece = "Side-Stick", zone = "rim"}\n'
    )
    kit = load_kit(str(path))
    assert kit.name == "mine.toml"
    assert kit.sounds[31].piece == "snare"
    assert kit.sounds[38][:2] == ("side stick", "rim")
    assert kit.sounds[36].piece == "kick"
    assert 22 not in kit.sounds


def test_user_map_from_nothing(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text('base = "none"\n[notes]\n0 = "kick"\n')
    assert list(load_kit(str(path)).sounds) == [0]


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("[notes]\n128 = 'kick'", "128"),
        ("[notes]\nkick = 36", "kick"),
        ("[notes]\n36 = 'bucket'", "bucket"),
        ("[notes]\n36 = 1", "note 36"),
        ("[notes]\n36 = {zone = 'rim'}", "note 36"),
        ("[notes]\n36 = {piece = 'kick', pad = 1}", "note 36"),
        ("[notes]\n36 = {piece = 3}", "note 36"),
        ("base = 'house'", "house"),
        ("base = 3", "base"),
        ("notes = 3", "notes"),
        ("colour = 'red'", "colour"),
        ("[notes", "not TOML"),
    ],
)
def test_bad_maps_are_refused_by_name(tmp_path: Path, text: str, names: str) -> None:
    path = tmp_path / "bad.toml"
    path.write_text(text)
    with pytest.raises(SettingError, match="bad") as caught:
        load_kit(str(path))
    assert names in str(caught.value)
    assert "\n" not in str(caught.value)


def test_map_that_is_not_text(tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SettingError, match="not TOML"):
        load_kit(str(path))


def test_map_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(DiskError, match="none"):
        load_kit(str(tmp_path / "none.toml"))


@pytest.mark.parametrize("text", ["side stick", "Side-Stick", "side_stick", " SIDE  STICK "])
def test_piece_names_are_forgiving(text: str) -> None:
    assert parse_piece(text) == "side stick"
