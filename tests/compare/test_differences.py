from typing import Any

import mido
import numpy as np
import pytest
from tests.build import CRASH, HAT, KICK, RIM, SNARE, TICKS_PER_MS, drum_bytes, midi_bytes, track

from evenhand import Recipe, Take, read_take, tighten
from evenhand.compare.differences import Comparison, compare
from evenhand.compare.phrases import comparison_json, comparison_page
from evenhand.compare.sums import COLUMNS, comparison_csv, difference_words, tally
from evenhand.jobs.demo_take import demo_take
from evenhand.kit.maps import KIT_MAPS
from evenhand.paper.terminal import plain

KIT = KIT_MAPS["ekit"]

_BEFORE = [(0, KICK, 100), (480, SNARE, 90), (960, HAT, 40), (1440, CRASH, 80), (1920, KICK, 70)]


def _compare(first: list[Any], second: list[Any], **form: Any) -> Comparison:
    return compare(
        Take.from_bytes(drum_bytes(first)), Take.from_bytes(drum_bytes(second, **form)), KIT
    )


def test_a_worked_example() -> None:
    # 48 ticks are 50 ms: the snare comes later, as a rim; the hat is softer, the crash is gone,
    # a kick is new.
    found = _compare(
        _BEFORE, [(0, KICK, 100), (528, RIM, 90), (960, HAT, 35), (1920, KICK, 70), (2400, KICK, 9)]
    )
    assert comparison_csv(found).decode() == ",".join(COLUMNS) + (
        "\nsame,kick,bars 1-8,1,1.000,1,1,36,36,100,100,0.000,0.000,0.000"
        "\nmoved+note,snare,bars 1-8,1,2.000,2,2,38,40,90,90,500.000,550.000,50.000"
        "\nvelocity,hat,bars 1-8,1,3.000,3,3,42,42,40,35,1000.000,1000.000,0.000"
        "\ndropped,crash,bars 1-8,1,4.000,4,,49,,80,,1500.000,,"
        "\nsame,kick,bars 1-8,2,1.000,5,4,36,36,70,70,2000.000,2000.000,0.000"
        "\nadded,kick,bars 1-8,2,2.000,,5,,36,,9,,2500.000,\n"
    )
    one = tally(found, np.zeros(len(found), np.int64), 1)[0]
    counts = (one.same, one.moved, one.velocity, one.note, one.added, one.dropped)
    assert counts == (2, 1, 1, 1, 1, 1)
    assert (one.mean_ms, one.most_ms) == pytest.approx((50, 50))


@pytest.mark.parametrize(("ticks", "moved"), [(0, 0), (1, 1), (-1, 1)])
def test_half_a_tick_is_the_limit(ticks: int, moved: int) -> None:
    assert _compare([(960, KICK)], [(960 + ticks, KICK)]).moved.sum() == moved


@pytest.mark.parametrize(("fine", "moved"), [(4, 0), (-5, 0), (5, 0), (6, 1), (-6, 1)])
def test_the_longer_tick_counts(fine: int, moved: int) -> None:
    # Ten fine ticks make a coarse one: five of them are half of it.
    found = _compare([(960, KICK)], [(9600 + fine, KICK)], division=4800)
    assert found.moved.sum() == moved


def test_resolution_and_tempo_don_t_matter_where_the_sound_is_the_same() -> None:
    finer = [(2 * tick, note, velocity) for tick, note, velocity in _BEFORE]
    assert not _compare(_BEFORE, finer, division=960).differs.any()
    faster = [(2 * tick, note, velocity) for tick, note, velocity in _BEFORE]
    assert not _compare(_BEFORE, faster, bpm=240).differs.any()


def test_a_take_and_its_tightened_self() -> None:
    take = Take.from_bytes(demo_take())
    result = tighten(take)
    found = compare(take, result.take, KIT)
    changes = result.changes
    assert found.paired.all()
    assert found.shift[np.argsort(found.first)] == pytest.approx(changes.shift_ms)
    assert found.moved.sum() == (changes.tick_after != changes.hits.tick).sum()
    assert not compare(take, take, KIT).differs.any()


def test_a_real_take_and_its_tightened_self(sampled_path: Any) -> None:
    take = read_take(sampled_path)
    result = tighten(take, Recipe(strength=75))
    found = compare(take, result.take, KIT)
    # Outside check: the change log, which knows which hit is which. Only hits that are alike in
    # piece, velocity and place may be taken for each other.
    assert found.paired.all()
    index = np.argsort(found.first)
    assert found.shift[index] == pytest.approx(result.changes.shift_ms, abs=1e-6)


def _with_markers(*markers: tuple[int, str]) -> Take:
    guide = track([(tick, mido.MetaMessage("marker", text=text)) for tick, text in markers])
    drums = track(
        [(tick, mido.Message("note_on", channel=9, note=KICK, velocity=9)) for tick in _PLACES]
    )
    return Take.from_bytes(midi_bytes(guide, drums))


_PLACES = (0, 1920 - 60, 1920 - 61, 1920 * 8, 1920 * 16)


def test_markers_are_sections() -> None:
    take = _with_markers((1920, "verse"), (1920 * 8, "verse"))
    found = compare(take, take, KIT)
    names = [found.sections[index] for index in found.section]
    # A thirty-second (60 ticks) early still belongs to what comes.
    assert names == [
        "before the first marker",
        "before the first marker",
        "verse (2:1)",
        "verse (9:1)",
        "verse (9:1)",
    ]


def test_without_markers_eight_bars_are_a_section() -> None:
    take = _with_markers()
    found = compare(take, take, KIT)
    assert found.sections == ("bars 1-8", "bars 9-16", "bars 17-24")
    assert found.section.tolist() == [0, 0, 0, 1, 2]


def test_hostile_markers() -> None:
    take = _with_markers((0, "\x1b[2J"), (1920, "=cmd()"))
    found = compare(take, take, KIT)
    assert "\x1b" not in plain(comparison_page(("a", "b"), found))
    text = comparison_csv(found).decode()
    assert "\x1b" not in text
    assert "'=cmd() (2:1)" in text


def test_sums_per_section_and_piece_add_up() -> None:
    take = Take.from_bytes(demo_take())
    found = compare(take, tighten(take).take, KIT)
    told = comparison_json(("a", "b"), found)
    assert told["same"] is False
    for key in ("same", "moved", "velocity", "note", "added", "dropped"):
        total = sum(piece[key] for part in told["sections"] for piece in part["pieces"].values())
        assert total == told["all"][key]
    assert told["all"]["most_ms"] == pytest.approx(
        max(piece["most_ms"] for part in told["sections"] for piece in part["pieces"].values())
    )
    assert difference_words(found).count("moved") == told["all"]["moved"]


def test_the_page_says_what_differs() -> None:
    text = plain(comparison_page(("a.mid", "b.mid"), _compare(_BEFORE, _BEFORE[:-1])))
    assert text.startswith("a.mid and b.mid\n")
    assert "they differ: 1 dropped; 4 the same" in text
    text = plain(comparison_page(("a.mid", "b.mid"), _compare(_BEFORE, _BEFORE)))
    assert "the same performance to half a tick: 5 hits" in text
    assert "largest" not in text


def test_strangers_are_told() -> None:
    far = [(tick + 240, note, velocity) for tick, note, velocity in _BEFORE]
    text = plain(comparison_page(("a", "b"), _compare(_BEFORE, far)))
    assert "only 0 hits found a partner" in text


def test_how_far_a_hit_may_have_been_moved() -> None:
    ticks = round(140 * TICKS_PER_MS)
    first, second = (Take.from_bytes(drum_bytes([(tick, KICK)])) for tick in (960, 960 + ticks))
    assert compare(first, second, KIT).paired.sum() == 1
    assert compare(first, second, KIT, within=100).paired.sum() == 0
