"""The best of several takes: who is chosen, that nothing is lost or doubled, what is refused."""

import csv
import functools
import io
from collections import Counter

import mido
import numpy as np
import pytest
from tests.build import HAT, KICK, drum_take
from tests.jobs.pick.sets import (
    BPM,
    MS_PER_TICK,
    SECTIONS,
    Faults,
    as_take,
    first_bars,
    four_takes,
    numbers,
    pattern,
    play,
)

from evenhand import MidiFileError, Recipe, SettingError, Take, tighten
from evenhand.jobs.pick import (
    ByHand,
    PickWishes,
    parse_by_hand,
    pick,
    picked_csv,
    picked_json,
    picked_page,
)
from evenhand.take import as_song

_CLEAN = [Faults()] * len(SECTIONS)


@functools.cache
def _clean(seed: int, count: int = 3) -> tuple[tuple[Take, ...], tuple[list[int | None], ...]]:
    """Takes without faults but with leans of their own, and the number of each of their hits."""
    chance = np.random.default_rng(seed)
    played = [play(chance, _CLEAN, lean=lean) for lean in (-14.0, 12.0, 0.0, 5.0)[:count]]
    takes = (as_take(one, f"t{index + 1}.mid", 50 + 9 * index) for index, one in enumerate(played))
    return tuple(takes), tuple(numbers(one) for one in played)


def _by_hand(owners: dict[str, int]) -> PickWishes:
    return PickWishes(by_hand=ByHand(take=owners))


def test_the_take_without_faults_is_chosen() -> None:
    right = many = 0
    for seed in range(5):
        takes, best = four_takes(np.random.default_rng(seed))
        chosen = [one.take for one in pick(takes).choices]
        right += sum(one == other for one, other in zip(chosen, best, strict=True))
        many += len(best)
    assert right >= 0.95 * many


def test_every_hit_is_there_once_whatever_is_joined() -> None:
    takes, known = _clean(3)
    chance = np.random.default_rng(4)
    for _ in range(12):
        owners = {str(bar): int(chance.integers(1, 4)) for bar in range(1, 37)}
        joined = pick(takes, _by_hand(owners)).joined
        got = Counter(known[take][hit] for take, hit in zip(joined.source, joined.hit, strict=True))
        assert got == Counter(range(len(pattern())))


def test_each_section_sounds_as_in_its_take() -> None:
    takes, _ = _clean(5)
    owners = {name: 1 + index % 3 for index, (name, _) in enumerate(SECTIONS)}
    picked = pick(takes, _by_hand(owners))
    hits = picked.joined.take.hits()
    rows = list(csv.DictReader(io.StringIO(picked_csv(picked).decode())))
    assert len(rows) == len(hits)
    there = {take.name: take.hits() for take in takes}
    for index, row in enumerate(rows):
        source, hit = there[row["take"]], int(row["take_hit"]) - 1
        assert int(row["hit"]) == index + 1
        assert (int(row["note"]), int(row["velocity"])) == (source.note[hit], source.velocity[hit])
        assert (hits.note[index], hits.velocity[index]) == (source.note[hit], source.velocity[hit])
        # Not a tick is moved: the takes share their tempo.
        assert hits.tick[index] == source.tick[hit] == int(row["tick"])
        assert row["take"] == takes[owners[row["section"]] - 1].name


def _pairs(take: Take) -> list[tuple[int, int, int, int]]:
    """Note, velocity, start and end of each note by mido, as any program would pair them."""
    found, sounding, now = [], {}, 0
    for message in mido.merge_tracks(take.to_mido().tracks):
        now += message.time
        if message.type == "note_on" and message.velocity:
            assert message.note not in sounding, f"note {message.note} struck twice by {now}"
            sounding[message.note] = (message.velocity, now)
        elif message.type in ("note_off", "note_on"):
            velocity, start = sounding.pop(message.note)
            found.append((message.note, velocity, start, now))
    assert sounding == {}
    return found


def test_ringing_notes_keep_their_release_and_choke() -> None:
    """Crashes that ring over a seam; one take lets them ring longer than the other strikes anew."""
    takes, _ = _clean(6, 2)
    owners = {str(bar): 1 + bar % 2 for bar in range(1, 37)}
    joined = pick(takes, _by_hand(owners)).joined
    lengths = {
        (note, velocity, start): end - start for note, velocity, start, end in _pairs(takes[0])
    }
    lengths |= {
        (note, velocity, start): end - start for note, velocity, start, end in _pairs(takes[1])
    }
    notes = _pairs(joined.take)
    assert len(notes) == len(joined.hit)
    short = 0
    struck = sorted((note, start) for note, _, start, _ in notes)
    for note, velocity, start, end in notes:
        wanted = lengths[note, velocity, start]
        if end - start != wanted:
            short += 1
            # Only where the other take strikes the same drum before it has ended.
            after = min(at for other, at in struck if other == note and at > start)
            assert end == after < start + wanted
    assert short < 10
    chokes = [
        one for track in joined.take.to_mido().tracks for one in track if one.type == "polytouch"
    ]
    crashes = sum(note == 49 for note, *_ in notes)
    assert len(chokes) == crashes


def test_the_pedal_stands_where_the_chosen_take_had_it() -> None:
    takes, _ = _clean(7)
    owners = {str(bar): 1 + (bar // 2) % 3 for bar in range(1, 37)}
    picked = pick(takes, _by_hand(owners))
    pedal, now, hit = 0, 0, -1
    for message in mido.merge_tracks(picked.joined.take.to_mido().tracks):
        now += message.time
        if message.type == "control_change":
            pedal = message.value
        if message.type == "note_on" and message.velocity:
            hit += 1
            if message.note == HAT:
                assert pedal == 50 + 9 * picked.joined.source[hit]


def test_takes_of_another_division_and_a_longer_count_in() -> None:
    chance = np.random.default_rng(8)
    first = play(chance, [Faults(scatter=14)] * 5)
    second = play(chance, _CLEAN)
    for one in second:
        one.tick += 2 * 1920
    takes = [as_take(first, "a.mid"), as_take(second, "b.mid", division=960)]
    picked = pick(takes)
    assert picked.laid[1].shift == -8
    assert {one.take for one in picked.choices} == {1}
    # What is played before the start of the first take's file stands on its start.
    was = np.maximum(takes[1].hits().ms - 2 * 1920 * MS_PER_TICK, 0)
    assert np.abs(picked.joined.take.hits().ms - was).max() <= MS_PER_TICK / 2 + 0.01
    assert "b.mid is counted 2 bars earlier" in str(picked_page(picked, []))


def test_takes_on_their_song() -> None:
    """The song speeds up, the files say 120 bpm: by their own bars they would not match at all."""
    chance = np.random.default_rng(9)
    midi = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    for bar in range(40):
        tempo = mido.bpm2tempo(BPM + bar / 2)
        track.append(mido.MetaMessage("set_tempo", tempo=tempo, time=1920 if bar else 0))
    midi.tracks.append(track)
    song = Take.from_mido(midi, "song.mid")
    takes = []
    for index in range(2):
        played = play(
            chance, [Faults(scatter=7 + 9 * (section % 2 == index)) for section in range(5)]
        )
        notes = [
            (round(float(song.tempo.to_ms(one.tick) + one.off) * 0.96), one.note, one.velocity)
            for one in played
        ]
        takes.append(drum_take([(max(tick, 0), note, loud) for tick, note, loud in notes]))
    picked = pick(takes, PickWishes(song=as_song(song), recipe=Recipe(sections="none")))
    assert len(picked.joined.hit) == len(pattern())
    assert picked.joined.take.tempo.tempo.tolist() == song.tempo.tempo.tolist()


def test_what_comes_out_can_be_tightened() -> None:
    takes, _ = four_takes(np.random.default_rng(10))
    joined = pick(takes, name="best.mid").joined.take
    again = Take.from_bytes(joined.to_bytes(), "best.mid")
    assert len(tighten(again).changes) == len(again.hits())
    names = [text.decode() for part in again.smf.tracks for _, text in part.metas(6)]
    assert names == [name for name, _ in SECTIONS]


def test_bars_by_hand_split_a_section() -> None:
    takes, _ = _clean(11)
    hand = parse_by_hand({"take": {"verse": 2, "11-12": "t3.mid", "chorus 2": "t1"}})
    picked = pick(takes, PickWishes(by_hand=hand))
    by_bar = dict(zip(picked.divided.first.tolist(), picked.choices, strict=True))
    assert (by_bar[1].take, by_bar[11].take, by_bar[29].take) == (1, 2, 0)
    assert by_bar[11].reason == "as you said"
    assert sorted(by_bar) == [1, 9, 11, 13, 17, 25, 29]
    assert picked.divided.name[2:4] == ("chorus from 11", "chorus from 13")


def test_weights_by_hand() -> None:
    chance = np.random.default_rng(12)
    loose, lacking = [Faults(scatter=15)] * 5, [Faults(missing=3)] * 5
    takes = [as_take(play(chance, one), f"t{index}") for index, one in enumerate((loose, lacking))]
    takes.append(as_take(play(chance, [Faults(scatter=15, wrong=4)] * 5), "t3"))
    strict = parse_by_hand({"weight": {"missing": 400}})
    lenient = parse_by_hand({"weight": {"missing": 0}})
    assert {one.take for one in pick(takes, PickWishes(by_hand=strict)).choices} == {0}
    assert {one.take for one in pick(takes, PickWishes(by_hand=lenient)).choices} == {1}


@pytest.mark.parametrize(
    ("tables", "message"),
    [
        ({"takes": {}}, "unknown table 'takes'"),
        ({"take": 3}, "unknown table 'take'"),
        ({"take": {"verse": 9}}, "there is no take 9; there are 1 to 3"),
        ({"take": {"verse": "t9.mid"}}, "'t9.mid' is none of the takes"),
        ({"take": {"verse": True}}, "'verse' wants the number"),
        ({"take": {"coda": 1}}, "there is no section 'coda'; there are verse, chorus"),
        ({"take": {"9-4": 1}}, "'9-4' is no stretch of bars"),
        ({"take": {"9": 1, "8-10": 2}}, "bar 9 is given to two takes"),
        ({"weight": {"sound": 1}}, "unknown figure 'sound'"),
        ({"weight": {"spread": -1}}, "spread is -1, not a number from 0 up"),
        ({"weight": {"spread": float("nan")}}, "spread is nan"),
    ],
)
def test_choices_that_make_no_sense(tables: dict, message: str) -> None:
    takes, _ = _clean(13)
    with pytest.raises(SettingError, match=message):
        pick(takes, PickWishes(by_hand=parse_by_hand(tables)))


def test_takes_of_different_songs() -> None:
    one = as_take(play(np.random.default_rng(14), _CLEAN), "one.mid")
    other = drum_take([(480 * beat + 200, KICK) for beat in range(60)], bpm=BPM)
    with pytest.raises(MidiFileError, match=r"in common: these are no takes of one song"):
        pick([one, other])
    with pytest.raises(MidiFileError, match=r"120 bpm and one\.mid 112"):
        pick([one, drum_take([(0, KICK)])])
    with pytest.raises(MidiFileError, match="other meters"):
        pick([one, drum_take([(0, KICK)], bpm=BPM, meter=(3, 4))])
    with pytest.raises(SettingError, match="two takes or more"):
        pick([one])


def test_the_reasons_and_the_report() -> None:
    takes, best = four_takes(np.random.default_rng(15))
    told = picked_json(pick(takes), output="best.mid")
    assert [row["first_bar"] for row in told["sections"]] == first_bars()
    assert told["output"] == "best.mid"
    for row, number in zip(told["sections"], best, strict=True):
        if row["take"] == takes[number].name:
            assert "against" in row["reason"] or "joins" in row["reason"]
    assert {seam["bar"] for seam in told["seams"]} <= set(first_bars())
    for seam in told["seams"]:
        assert seam["before"] != seam["after"]
        assert isinstance(seam["velocity"], int | float)


def test_dynamics_at_seams_are_told() -> None:
    chance = np.random.default_rng(16)
    takes = [as_take(play(chance, _CLEAN, loud=loud), f"t{loud:g}") for loud in (0.0, -14.0)]
    (seam,) = pick(takes, _by_hand({"1-16": 1, "17-36": 2})).seams
    assert seam.bar == 17
    assert seam.velocity == pytest.approx(-14, abs=2.5)
