"""Target maps: the complete General MIDI table, fall-backs, round trips, bad maps."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand import DiskError, SettingError
from evenhand.jobs.triggers.pads import opening_of, pad_of
from evenhand.jobs.triggers.target import Target, general_midi, load_target, piece_of_name
from evenhand.kit.maps import KIT_MAPS, Sound
from evenhand.kit.pieces import ROLE_OF_PIECE

EKIT, GM = KIT_MAPS["ekit"], KIT_MAPS["gm"]

# What General MIDI Level 1 (percussion key map, channel 10) has for the notes that e-kits send
# beside it: rims go to their drum, edges to their cymbal or hat.
FOLDED = {
    22: 42, 26: 46, 40: 38, 50: 48, 47: 45, 58: 43, 55: 49, 52: 57, 59: 51,
}  # fmt: skip


@pytest.mark.parametrize("note", range(128))
def test_every_note_of_an_ekit_to_general_midi(note: int) -> None:
    sound = EKIT.sounds.get(note)
    found = general_midi(EKIT).find(note, sound, opening_of(sound) if sound else "")
    if sound is None:
        assert found is None
    else:
        assert found is not None
        assert found[0] == FOLDED.get(note, note)


@pytest.mark.parametrize("note", range(128))
def test_every_note_of_general_midi_is_itself(note: int) -> None:
    sound = GM.sounds.get(note)
    found = general_midi(GM).find(note, sound, opening_of(sound) if sound else "")
    assert (found and found[0]) == (note if 35 <= note <= 81 else None)


# Every piece in every zone: what General MIDI has for it, for a kit with this number of toms.
ZONES = {
    ("kick", ""): 36, ("snare", "head"): 38, ("snare", "rim"): 38, ("snare", "shell"): 38,
    ("side stick", ""): 37, ("hat", "bow"): 42, ("hat", "edge"): 42, ("hat", "open edge"): 46,
    ("hat", "half open"): 46, ("hat", "pedal"): 44, ("ride", "bow"): 51, ("ride", "edge"): 51,
    ("ride", "bell"): 53, ("ride", "2 bow"): 59, ("crash", "bow"): 49, ("crash", "1 edge"): 49,
    ("crash", "2 bow"): 57, ("crash", "2 edge"): 57, ("crash", "3 bow"): 49, ("splash", "bow"): 55,
    ("china", "edge"): 52, ("cowbell", ""): 56, ("clap", ""): 39, ("tambourine", ""): 54,
    ("vibraslap", ""): 58, ("bongo", ""): 60, ("conga", ""): 63, ("timbale", ""): 65,
    ("agogo", ""): 67, ("cabasa", ""): 69, ("maracas", ""): 70, ("whistle", ""): 71,
    ("guiro", ""): 73, ("claves", ""): 75, ("wood block", ""): 76, ("cuica", ""): 79,
    ("triangle", ""): 81, ("other", ""): None,
    ("tom 1", "head"): 50, ("tom 2", "rim"): 48, ("tom 3", ""): 47, ("tom 4", "head"): 45,
    ("tom 5", "rim"): 43, ("tom 6", "head"): 41,
}  # fmt: skip


def test_the_table_of_zones_is_complete() -> None:
    assert {piece for piece, _ in ZONES} == set(ROLE_OF_PIECE)


@pytest.mark.parametrize(("piece", "zone"), ZONES)
def test_every_piece_in_its_zones_to_general_midi(piece: str, zone: str) -> None:
    sound = Sound(piece, zone, f"{piece} {zone}".strip())
    found = general_midi(GM).find(3, sound, opening_of(sound))
    assert (found[0] if found else None) == ZONES[piece, zone]


@pytest.mark.parametrize(
    ("toms", "notes"),
    [
        (1, [48]),
        (2, [48, 43]),
        (3, [48, 45, 43]),
        (4, [48, 45, 43, 41]),
        (5, [50, 48, 45, 43, 41]),
        (6, [50, 48, 47, 45, 43, 41]),
    ],
)
def test_toms_are_spread_by_their_number(toms: int, notes: list[int]) -> None:
    from evenhand.kit.maps import KitMap

    sounds = {n: Sound(f"tom {n}", "head", f"tom {n} head") for n in range(1, toms + 1)}
    target = general_midi(KitMap("mine", sounds))
    found = [target.find(note, sound) for note, sound in sounds.items()]
    assert [one and one[0] for one in found] == notes


# Fall-backs of a small target: one note for each drum.
SMALL = Target(
    "small",
    {"kick": 1, "snare": 2, "hat closed": 3, "hat open": 4, "tom 2": 5, "crash": 6, "ride": 7},
)


@pytest.mark.parametrize(
    ("piece", "zone", "note"),
    [
        ("snare", "rim", 2), ("side stick", "", 2), ("clap", "", 2),
        ("hat", "edge", 3), ("hat", "pedal", 3), ("hat", "open", 4), ("hat", "half open", 4),
        ("tom 1", "head", 5), ("tom 6", "rim", 5), ("timbale", "", 5),
        ("crash", "2 edge", 6), ("china", "", 6), ("splash", "", 6),
        ("ride", "bell", 7), ("cowbell", "", 7), ("bongo", "", None),
    ],
)  # fmt: skip
def test_fall_backs(piece: str, zone: str, note: int | None) -> None:
    sound = Sound(piece, zone, f"{piece} {zone}".strip())
    found = SMALL.find(99, sound, opening_of(sound))
    assert (found and found[0]) == note


@pytest.mark.parametrize(
    ("notes", "instead", "opening", "note"),
    [
        ({"note 26": 1, "open hat edge": 2, "hat edge open": 3}, {}, "open", 1),
        ({"open hat edge": 2, "hat edge open": 3, "hat open": 4}, {}, "open", 2),
        ({"hat edge open": 3, "hat open": 4, "hat": 5}, {}, "open", 3),
        ({"hat open": 4, "hat edge": 6, "hat": 5}, {}, "open", 4),
        ({"hat edge": 6, "hat": 5}, {}, "open", 6),
        ({"hat": 5, "cowbell": 7}, {}, "open", 5),
        ({"cowbell": 7, "ride": 8}, {"hat": "cowbell"}, "open", 7),
        # By the pedal the hat was closed or half open, whatever its note says.
        ({"note 26": 1, "hat closed": 8, "hat open": 4}, {}, "closed", 8),
        ({"note 26": 1, "hat half": 9, "hat open": 4}, {}, "half", 9),
        ({"hat closed": 8, "hat open": 4}, {}, "half", 4),
    ],
)
def test_the_closest_name_wins(
    notes: dict[str, int], instead: dict[str, str], opening: str, note: int
) -> None:
    found = Target("mine", notes, instead).find(26, EKIT.sounds[26], opening)
    assert found is not None
    assert found[0] == note


@given(st.permutations(range(128)))
def test_round_trip_through_a_map_one_to_one(order: list[int]) -> None:
    there = Target("there", {f"note {note}": order[note] for note in range(128)})
    back = Target("back", {f"note {order[note]}": note for note in range(128)})
    for note in range(128):
        sound = EKIT.sounds.get(note)
        found = there.find(note, sound, opening_of(sound) if sound else "")
        assert found is not None
        home = back.find(found[0], None)
        assert home is not None
        assert home[0] == note


def test_a_map_by_the_sounds_names_is_one_to_one_too() -> None:
    names = {sound.name: note for note, sound in EKIT.sounds.items()}
    assert len(names) == len(EKIT.sounds)
    target = Target("same", names)
    for note, sound in EKIT.sounds.items():
        assert target.find(note, sound, opening_of(sound)) == (note, sound.name)


def _load(tmp_path: Path, text: str, merge: bool = False) -> Target:
    path = tmp_path / "map.toml"
    path.write_text(text)
    return load_target(str(path), EKIT, merge)


def test_a_map_from_a_file(tmp_path: Path) -> None:
    target = _load(
        tmp_path,
        '[notes]\nkick = 24\nSnare = 26\n"snare_rim" = 27\n"note 31" = 40\n'
        '[instead]\n"side-stick" = "snare rim"\n',
    )
    assert target.name == "map.toml"
    assert target.notes == {"kick": 24, "snare": 26, "snare rim": 27, "note 31": 40}
    assert target.find(37, EKIT.sounds[37]) == (27, "snare rim")
    assert target.find(31, None) == (40, "note 31")
    assert load_target("gm", EKIT).notes == general_midi(EKIT).notes


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", 'write "snare rim" = 40'),
        ("[notes]\n", 'write "snare rim" = 40'),
        ("notes = 3", 'write "snare rim" = 40'),
        ("[notes]\nkick = 128", "kick: 128 is not a note number"),
        ("[notes]\nkick = true", "kick: True is not a note number"),
        ('[notes]\nkick = "36"', "kick: '36' is not a note number"),
        ("[notes]\ngong = 3", "'gong' is no sound"),
        ('[notes]\n"note 128" = 3', "'note 128' is no sound"),
        ("[notes]\nkick = 1\n[other]\n", "unknown key 'other'"),
        ("[notes]\nkick = 1\n[instead]\nsnare = 3", "instead: snare"),
        ('[notes]\nkick = 1\n[instead]\nsnare = "crash"', "'crash' has no note"),
        ("[notes", "is not TOML"),
        ("[notes]\nkick = 36\nsnare = 36", "note 36 would stand for both kick and snare.*--merge"),
    ],
)
def test_bad_maps_are_refused_by_name(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(SettingError, match=f"map.toml.*{says}"):
        _load(tmp_path, text)


def test_merging_on_purpose(tmp_path: Path) -> None:
    assert _load(tmp_path, "[notes]\nkick = 36\nsnare = 36", merge=True).notes["snare"] == 36
    # Two zones or two cymbals of one piece may always share.
    assert _load(tmp_path, '[notes]\n"crash 1" = 49\n"crash 2" = 49').notes["crash 2"] == 49


def test_other_names_for_a_map(tmp_path: Path) -> None:
    with pytest.raises(SettingError, match=r"'mine' is neither gm nor a \.toml file"):
        load_target("mine", EKIT)
    with pytest.raises(DiskError):
        load_target(str(tmp_path / "missing.toml"), EKIT)


def test_pieces_of_names() -> None:
    assert piece_of_name("snare rim") == "snare"
    assert piece_of_name("side stick") == "side stick"
    assert piece_of_name("open hat edge") == "hat"
    assert piece_of_name("note 0") == piece_of_name("note 127") == "other"
    assert piece_of_name("snares") == ""


def test_pads_are_finer_than_pieces_only_where_they_must() -> None:
    names = {note: pad_of(sound) for note, sound in EKIT.sounds.items()}
    assert (names[38], names[40]) == ("snare", "snare")
    assert (names[42], names[26], names[44]) == ("hat", "hat", "hat pedal")
    assert (names[49], names[55], names[57], names[52]) == ("crash 1",) * 2 + ("crash 2",) * 2
    assert (names[51], names[59], names[53]) == ("ride",) * 3
