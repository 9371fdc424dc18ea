"""Parts: which notes are meant, where a part puts the lines, how take and part sit together."""

from dataclasses import replace

import mido
import numpy as np
import pytest
from tests.build import KICK, drum_take, midi_bytes, plain_recipe, track
from tests.part.bass import ALONE, BPM, DIVISION, TOGETHER, bass, drums

from evenhand import MidiFileError, SettingError, Take
from evenhand.ground import Ground, prepare
from evenhand.kit import load_kit
from evenhand.measure import measure
from evenhand.part import place_part, read_part, sit_together, sitting
from evenhand.recipe import split_part


def _ground(take: Take) -> Ground:
    return prepare(take, plain_recipe())


def _file() -> Take:
    def notes(channel: int, *at: int) -> list:
        return [
            (tick, mido.Message("note_on", channel=channel, note=40, velocity=80)) for tick in at
        ]

    one = [(0, mido.MetaMessage("track_name", name="Bass")), *notes(1, 0, 480)]
    other = [(0, mido.MetaMessage("track_name", name="Keys")), *notes(2, 240), *notes(3, 245, 960)]
    return Take.from_bytes(midi_bytes(track(one), track(other)), "song.mid")


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("bass.mid", ("bass.mid", "")),
        ("bass.mid:Bass", ("bass.mid", "Bass")),
        ("a:b/bass.MIDI:track 2", ("a:b/bass.MIDI", "track 2")),
        ("C:\\x\\bass.mid", ("C:\\x\\bass.mid", "")),
        ("bass.mid:", ("bass.mid", "")),
    ],
)
def test_a_file_and_what_is_meant_in_it(text: str, parts: tuple[str, str]) -> None:
    assert split_part(text) == parts


@pytest.mark.parametrize(
    ("what", "ms"),
    [
        # At 120 bpm 480 ticks are 500 ms; 240 and 245 are one chord.
        ("", [0, 250, 500, 1000]),
        ("2", [0, 500]),
        ("bass", [0, 500]),
        ("Keys", [250, 1000]),
        ("track 2", [250, 1000]),
        ("4", [245 / 0.96, 1000]),
    ],
)
def test_which_notes_are_meant(what: str, ms: list[float]) -> None:
    assert read_part(_file(), what).ms.tolist() == pytest.approx(ms)


def test_a_piece_of_another_drummer() -> None:
    take = drums(np.random.default_rng(1), bars=4)
    part = read_part(take, "snare", load_kit("ekit"))
    hits = take.hits()
    assert part.ms.tolist() == hits.ms[hits.note == 38].tolist()


def test_parts_that_are_not_there() -> None:
    with pytest.raises(SettingError, match="no track called 'Harp'"):
        read_part(_file(), "Harp", load_kit("ekit"))
    with pytest.raises(SettingError, match="no track 9, but 1 to 2"):
        read_part(_file(), "track 9")
    with pytest.raises(MidiFileError, match=r"song\.mid: there are no onsets on '9' in it"):
        read_part(_file(), "9")
    empty = Take.from_bytes(midi_bytes(track([])), "empty.mid")
    with pytest.raises(MidiFileError, match="no onsets in it"):
        read_part(empty)
    far = read_part(drum_take([(10**6, KICK)]))
    with pytest.raises(MidiFileError, match="none of its 1 onsets lies on a line"):
        place_part(far, _ground(drums(np.random.default_rng(1), bars=4)))


@pytest.mark.parametrize("offset", [-20, -7, 0, 13, 20])
def test_scatter_is_smoothed_and_the_offset_stays(offset: float) -> None:
    chance = np.random.default_rng(offset + 50)
    placed = place_part(read_part(bass(chance, offset)), _ground(drums(chance)))
    assert len(placed) == 32 * (len(TOGETHER) + len(ALONE))
    assert float(np.std(placed.off - offset)) > 6
    # Two thirds of the scatter are gone.
    assert float(np.sqrt(np.mean((placed.ms - offset) ** 2))) < 8 / 3
    assert float(np.median(placed.ms)) == pytest.approx(offset, abs=1.5)


def test_a_place_has_a_habit_of_its_own() -> None:
    chance = np.random.default_rng(3)
    placed = place_part(read_part(bass(chance, 5, late=18)), _ground(drums(chance)))
    beat = placed.line / DIVISION % 4
    alone = np.isin(beat, ALONE)
    # 32 onsets tell a median to 1.8 ms, and are drawn towards the others by a tenth.
    assert float(np.median(placed.ms[alone])) == pytest.approx(23, abs=4)
    assert float(np.median(placed.ms[~alone])) == pytest.approx(5, abs=2.5)
    there = placed.at(np.array([placed.line[4], 17.0]))
    assert there[0] == placed.ms[4]
    assert np.isnan(there[1])


def test_how_they_sit_together() -> None:
    chance = np.random.default_rng(4)
    ground = _ground(drums(chance, lean=-9))
    together = sit_together(ground, measure(ground), place_part(read_part(bass(chance, 6)), ground))
    kick = together.pieces["kick"]
    assert kick.pairs == 32 * 3
    # By construction: -9 - 6, and two spreads of 8.
    assert kick.ms == pytest.approx(-15, abs=kick.doubt)
    assert kick.spread == pytest.approx(8 * np.sqrt(2), rel=0.25)
    assert kick.leader == "the take"
    assert set(together.pieces) == {"hat", "kick"}
    assert together.places["kick", 2.5].pairs == 32
    assert 15 < together.heard < 60
    assert together.trend is None


def test_who_leads_is_not_told_where_it_is_in_doubt() -> None:
    assert sitting(np.array([3.0, -4, 2, -1, 5, -6, 0])).leader == "neither"
    assert sitting(np.array([9.0, 8, 9])).leader == "neither"
    assert sitting(np.array([9.0, 8, 9, 10, 9, 8])).leader == "the part"
    assert sitting(np.zeros(0)).leader == "neither"


def test_how_it_runs_over_the_song() -> None:
    chance = np.random.default_rng(5)
    ground = _ground(drums(chance, bars=48))
    part = read_part(bass(chance, 0, bars=48))
    # The part comes ever later: by 20 ms over all.
    slow = replace(part, ms=part.ms + np.linspace(0, 20, len(part)))
    trend = sit_together(ground, measure(ground), place_part(slow, ground)).trend
    assert trend is not None
    assert trend.last_ms - trend.first_ms == pytest.approx(-20, abs=5)


def test_a_part_with_a_tempo_of_its_own() -> None:
    """Times count, not ticks: the same bass written at 120 bpm is the same part."""
    chance = np.random.default_rng(6)
    one = read_part(bass(chance, 4, bars=8))
    notes = [(round(float(ms) * 0.96), 40) for ms in one.ms]
    other = read_part(drum_take(notes, channel=3))
    assert np.abs(one.ms - other.ms).max() < 0.6
    assert BPM != 120
