"""Sections, their lean, the pace, the window."""

import mido
import numpy as np
import pytest
from tests.build import HAT, KICK, TICKS_PER_MS, drum_take, midi_bytes, track

from evenhand import Recipe, Take, tighten
from evenhand.jobs.demo_take import demo_take
from evenhand.listen.band import read_band
from evenhand.listen.pair import compare
from evenhand.listen.shown_sections import read_pace, read_sections


def marked(markers, hits=((0, 0), (1920, 0), (3840, 0)), **recipe):
    guide = [(tick, mido.MetaMessage("marker", text=text)) for tick, text in markers]
    drums = [
        (tick + round(late * TICKS_PER_MS), mido.Message("note_on", channel=9, note=KICK))
        for tick, late in hits
    ]
    take = Take.from_bytes(midi_bytes(track(guide), track(drums)), "test")
    return compare(tighten(take, Recipe(**{"grid": "1/16", **recipe})))


def test_sections_go_from_marker_to_marker() -> None:
    sections = read_sections(marked([(1920, "verse"), (3840, "chorus")]), 6000)
    told = [
        (one.name, one.first_bar, one.last_bar, round(one.from_ms, 6), round(one.to_ms, 6))
        for one in sections
    ]
    assert told == [
        ("start", 1, 1, 0, 2000),
        ("verse", 2, 2, 2000, 4000),
        ("chorus", 3, 3, 4000, 6000),
    ]


def song(*markers, **recipe):
    return marked(markers, [(bar * 1920 + 480, 0) for bar in range(16)], **recipe)


def as_recipe(sections):
    """What the page writes when a dial of each section is turned."""
    return [
        {"name": one.name, "bars": f"{one.first_bar}-{one.last_bar}", "strength": 50}
        for one in sections
    ]


def test_a_marker_inside_a_bar_opens_the_same_bar_on_the_page_as_in_the_pass() -> None:
    # 9:3.5 is nearer to bar 10.
    shown = song((0, "verse"), (8 * 1920 + 1200, "chorus"))
    verse, chorus = read_sections(shown, 40_000)
    assert (verse.first_bar, verse.last_bar, chorus.first_bar) == (1, 9, 10)
    assert shown.result.ground.sections.bar.tolist() == [1, 10]
    assert chorus.from_ms == verse.to_ms == pytest.approx(18_000)


def test_the_page_can_write_a_recipe_with_its_sections() -> None:
    for markers in ([(8 * 1920 + 1200, "chorus")], [(0, "a"), (100, "b"), (14 * 1920, "c")], []):
        shown = song(*markers)
        sections = read_sections(shown, 60_000)
        again = tighten(shown.result.before, Recipe(grid="1/16", section=as_recipe(sections)))
        bars = [(one.first_bar, one.last_bar) for one in read_sections(compare(again), 60_000)]
        assert bars == [(one.first_bar, one.last_bar) for one in sections]


def test_no_sections_in_the_pass_are_none_on_the_page() -> None:
    (section,) = read_sections(song((0, "verse"), (9 * 1920, "chorus"), sections="none"), 40_000)
    assert (section.name, section.first_bar, section.last_bar) == ("whole take", 1, 16)


def test_without_markers_the_take_is_one_section() -> None:
    (section,) = read_sections(marked([]), 6000)
    assert (section.name, section.first_bar, section.last_bar) == ("whole take", 1, 3)


def test_odd_markers() -> None:
    raw = bytearray(marked([(0, "placeholder")]).result.before.to_bytes())
    at = raw.index(b"placeholder")
    raw[at : at + 11] = b"caf\xe9 <b>\x00 \xff"
    take = Take.from_bytes(bytes(raw), "odd")
    (section,) = read_sections(compare(tighten(take)), 6000)
    assert section.name == "café <b>\x00 ÿ"
    many = [(index * 1920, f"m{index}") for index in range(600)]
    assert [one.name for one in read_sections(marked(many), 1e9)] == ["whole take"]
    assert len(read_sections(marked([(0, "x" * 500)]), 6000)[0].name) == 40
    assert [one.name for one in read_sections(marked([(0, "a"), (99_000, "b")]), 6000)] == ["a"]


def test_lean_is_the_median_of_the_strokes_in_the_section() -> None:
    hits = [(0, 5), (480, 9), (960, 7), (1920, -10), (2400, -20), (2880, -12)]
    ahead, behind = read_sections(marked([(0, "one"), (1920, "two")], hits, window=1000), 4000)
    assert ahead.lean_before == ahead.lean_after == pytest.approx(7, abs=0.6)
    assert behind.lean_before == pytest.approx(-12, abs=0.6)


def test_planted_push_of_the_demo_shows_in_its_section() -> None:
    shown = compare(tighten(Take.from_bytes(demo_take(), "demo")))
    leans = {one.name: one.lean_before for one in read_sections(shown, 130_000)}
    # As planted, see `_PUSH` and `_BACKBEAT` in the demo: verse 1 runs 15 ms ahead of the others,
    # and in all of them less than half of the strokes are a backbeat that lies 12 ms back.
    others = [leans[name] for name in ("intro", "chorus 1", "verse 2", "bridge", "chorus 2")]
    assert all(-1 < lean < 12 / 2 for lean in others)
    assert leans["verse 1"] == pytest.approx(np.mean(others) - 15, abs=2)


def test_section_without_strokes_has_no_lean() -> None:
    shown = compare(tighten(drum_take([(0, HAT), (480, HAT)])))
    (section,) = read_sections(shown, 2000)
    assert section.lean_before is None
    assert read_pace(shown) == ([], [], [])
    assert [len(column) for column in read_band(shown)] == [0, 0, 0]


def test_pace_is_the_median_of_five_bars() -> None:
    late = [0, 4, -8, 12, 16, 2, -6]
    shown = marked([], [(1920 * bar, ms) for bar, ms in enumerate(late)], window=1000)
    ms, before, after = read_pace(shown)
    assert ms == pytest.approx([2000 * bar for bar in range(7)])
    exact = shown.deviation_before
    around = [float(np.median(exact[max(0, bar - 2) : bar + 3])) for bar in range(7)]
    assert before == pytest.approx(around)
    assert after == pytest.approx(before)


def test_band_follows_the_tempo() -> None:
    guide = [(0, mido.MetaMessage("set_tempo", tempo=500_000))]
    guide.append((3840, mido.MetaMessage("set_tempo", tempo=1_000_000)))
    drums = [(tick, mido.Message("note_on", channel=9, note=KICK)) for tick in range(0, 7680, 960)]
    take = Take.from_bytes(midi_bytes(track(guide), track(drums)), "two tempi")
    # Friberg & Sundberg 1995: 2.5 % of the beat, 12.5 ms at 120 and 25 ms at 60 bpm.
    ms, low, high = read_band(compare(tighten(take, Recipe(reach=40))))
    assert ms == pytest.approx([0, 3500])
    assert low == pytest.approx([-12.5, -25])
    assert high == pytest.approx([12.5, 25])


def test_band_lies_where_the_decision_was_made() -> None:
    # Behind by 20 ms all along, half of which the section keeps: what stays is around +10.
    late = [20, 20, 21, 19, 20, 20, 21, 19]
    shown = marked([], [(480 * beat, ms) for beat, ms in enumerate(late)], window=8, lean=50)
    _, low, high = read_band(shown)
    assert high - low == pytest.approx(16)
    assert 5 < (high + low) / 2 < 15
    inside = (shown.deviation_before >= low[0]) & (shown.deviation_before <= high[0])
    assert (shown.changes.action == "kept").tolist() == inside.tolist()
