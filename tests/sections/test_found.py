"""Sections: markers, found changes of pattern, names by likeness."""

import mido
import numpy as np
import pytest
from tests.build import HAT, KICK, SNARE, drum_take, midi_bytes, track

from evenhand import MidiFileError, Recipe, Take, tighten
from evenhand.ground.prepare import prepare
from evenhand.sections.found import divide

RIDE = 51
BAR = 1920


def _verse(bar: int) -> list[tuple[int, int]]:
    hats = [(bar * BAR + step * 240, HAT) for step in range(8)]
    return [*hats, (bar * BAR, KICK), (bar * BAR + 480, SNARE), (bar * BAR + 1440, SNARE)]


def _chorus(bar: int) -> list[tuple[int, int]]:
    rides = [(bar * BAR + step * 480, RIDE) for step in range(4)]
    kicks = [(bar * BAR + tick, KICK) for tick in (0, 720, 960, 1680)]
    return [*rides, *kicks, (bar * BAR + 960, SNARE)]


def _song() -> list[tuple[int, int]]:
    notes = []
    for bar in range(24):
        notes += _chorus(bar) if 8 <= bar < 16 else _verse(bar)
    # An early downbeat belongs to the section that it begins.
    return [(tick - 20 if tick == 8 * BAR else tick, note) for tick, note in notes]


def test_sections_begin_where_the_pattern_changes() -> None:
    sections = prepare(drum_take(_song()), Recipe()).layout.sections
    assert sections.bar.tolist() == [1, 9, 17]
    assert sections.labels == ("A", "B", "A 2")
    assert sections.of(np.array([0.0, 8 * BAR - 20, 8 * BAR, 16 * BAR - 61])).tolist() == [
        0,
        1,
        1,
        1,
    ]


def test_one_pattern_is_one_section() -> None:
    notes = [note for bar in range(24) for note in _verse(bar)]
    assert prepare(drum_take(notes), Recipe()).layout.sections.labels == ("all",)


def test_no_sections_if_not_wanted() -> None:
    ground = prepare(drum_take(_song()), Recipe(sections="none"))
    assert ground.layout.sections.labels == ("all",)


def _marked(*markers: tuple[int, str]) -> Take:
    texts = [(tick, mido.MetaMessage("marker", text=text)) for tick, text in markers]
    notes = [(tick, mido.Message("note_on", channel=9, note=note)) for tick, note in _song()]
    return Take.from_bytes(midi_bytes(track(texts), track(notes)))


def test_markers_win_and_snap_to_bars() -> None:
    ground = prepare(_marked((4 * BAR - 100, "one"), (12 * BAR + 30, "two")), Recipe())
    assert ground.layout.sections.labels == ("start", "one", "two")
    assert ground.layout.sections.bar.tolist() == [1, 5, 13]


def test_markers_are_asked_for_in_vain() -> None:
    sections = prepare(drum_take(_song()), Recipe(sections="markers")).layout.sections
    assert len(sections) == 1
    assert "no markers" in sections.source


def test_a_name_can_not_steer_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    from evenhand.assessor import assess
    from evenhand.paper.assessment import assessment_page
    from evenhand.paper.terminal import show

    show(assessment_page(assess(_marked((0, "\x1b[2Jx"), (8 * BAR, "y")))))
    printed = capsys.readouterr().out
    assert "\x1b" not in printed
    assert "x1b[2Jx" in printed


def test_a_section_without_a_grid_is_left_alone() -> None:
    strewn = np.random.default_rng(4).integers(8 * BAR, 16 * BAR, 80).tolist()
    notes = [note for bar in (*range(8), *range(16, 24)) for note in _verse(bar)]
    late = [(tick + 30 if note == SNARE else tick, note) for tick, note in notes]
    texts = [(8 * BAR, mido.MetaMessage("marker", text="solo"))]
    texts.append((16 * BAR, mido.MetaMessage("marker", text="back")))
    hits = [(tick, mido.Message("note_on", channel=9, note=note)) for tick, note in late]
    hits += [(tick, mido.Message("note_on", channel=9, note=SNARE)) for tick in strewn]
    take = Take.from_bytes(midi_bytes(track(texts), track(hits)))
    result = tighten(take, Recipe(reach=40, lean=50))
    inside = (result.changes.hits.tick >= 8 * BAR) & (result.changes.hits.tick < 16 * BAR - 60)
    assert set(result.changes.reason[inside].tolist()) == {"no grid explains the section"}
    assert not result.changes.shift_ms[inside].any()
    assert (result.changes.action[~inside] == "moved").any()


@pytest.mark.parametrize("count", [1, 3, 4, 9])
def test_short_rows_are_not_divided(count: int) -> None:
    assert divide(np.ones((count, 5))) == [0]


def test_no_drums_is_told() -> None:
    with pytest.raises(MidiFileError, match="no notes"):
        prepare(drum_take([]), Recipe())


def test_markers_in_every_bar_are_no_sections() -> None:
    for count, labels in ((160, 160), (161, 1)):
        texts = [
            (bar * BAR, mido.MetaMessage("marker", text=f"take {bar}")) for bar in range(count)
        ]
        hits = [note for bar in range(count) for note in _verse(bar)]
        notes = [(tick, mido.Message("note_on", channel=9, note=note)) for tick, note in hits]
        take = Take.from_bytes(midi_bytes(track(texts), track(notes)))
        for source in ("auto", "markers"):
            sections = prepare(take, Recipe(sections=source)).layout.sections
            assert len(sections.labels) == labels
        assert ("too many" in sections.source) == (labels == 1)
