"""Markers out: read back by other readers, at the times and samples that they should have."""

import csv
import io

import mido
import numpy as np
import pretty_midi
import pytest
from tests.build import KICK, midi_bytes, track

from evenhand import Recipe, Take, tighten
from evenhand.jobs.demo_take import demo_take
from evenhand.outcome import Flag
from evenhand.paper import Mark, list_marks, markers_csv, markers_mid, marks_of
from evenhand.sections import Sections
from evenhand.take import Position


def _marks() -> tuple[Mark, ...]:
    sections = Sections(
        np.array([0.0, 1920.0]), np.array([1, 2]), 2, 60.0, ("verse", "chörus"), "given"
    )
    flag = Flag("large move", Position(2, 3.0), 2881, (7,), "kick moved +31.0 ms, far", 31.0)
    return list_marks(sections, [960.0], [(1440.4, "push 12 ms ahead")], [flag, flag])


def _take() -> Take:
    guide = [
        (0, mido.MetaMessage("set_tempo", tempo=500_000)),
        (0, mido.MetaMessage("time_signature", numerator=4, denominator=4)),
        (1920, mido.MetaMessage("set_tempo", tempo=400_000)),
        (1920, mido.MetaMessage("time_signature", numerator=7, denominator=8)),
    ]
    drums = [(0, mido.Message("note_on", channel=9, note=KICK, velocity=90))]
    return Take.from_bytes(midi_bytes(track(guide), track(drums)))


def test_each_place_is_a_marker_and_nothing_sounds() -> None:
    take = _take()
    data = markers_mid(take, _marks())
    midi = mido.MidiFile(file=io.BytesIO(data), charset="utf-8")
    now, found = 0.0, []
    for message in midi:
        now += message.time
        if message.type == "marker":
            found.append((round(now, 6), message.text))
    # By hand: 480 ticks are 0.5 s, from bar 2 on 0.4 s.
    assert found == [
        (0.0, "verse"),
        (1.0, "fill"),
        (1.5, "push 12 ms ahead"),
        (2.0, "chörus"),
        (round(2 + 961 * 0.4 / 480, 6), "listen: large move"),
    ]
    assert not any(message.type.startswith("note") for part in midi.tracks for message in part)
    pretty = pretty_midi.PrettyMIDI(io.BytesIO(data))
    times, tempi = pretty.get_tempo_changes()
    assert times.tolist() == pytest.approx([0, 2])
    assert tempi.tolist() == pytest.approx([120, 150])
    assert [(one.numerator, one.time) for one in pretty.time_signature_changes] == [(4, 0), (7, 2)]


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_the_same_as_csv_with_samples(rate: int) -> None:
    take = _take()
    rows = list(csv.DictReader(io.StringIO(markers_csv(take, _marks(), rate).decode())))
    assert [row["kind"] for row in rows] == ["section", "fill", "push", "section", "listen"]
    for row in rows:
        assert int(row["sample"]) == round(float(row["seconds"]) * rate)
    assert rows[1]["seconds"] == "1.000000"
    assert (rows[3]["bar"], rows[3]["beat"], rows[3]["text"]) == ("2", "1.000", "chörus")
    assert rows[4]["more"] == "kick moved +31.0 ms, far"


def test_the_marks_of_a_real_pass_lie_where_its_take_has_them() -> None:
    result = tighten(Take.from_bytes(demo_take()))
    marks = marks_of(result)
    again = Take.from_bytes(markers_mid(result.take, marks))
    assert again.tempo.to_ms(1e6) == pytest.approx(float(result.take.tempo.to_ms(1e6)))
    names = [text.decode() for part in again.smf.tracks for _, text in part.metas(6)]
    assert names == [mark.text for mark in marks]
    assert {"verse 1", "chorus 1", "ending", "fill"} <= set(names)
    listen = sum(name.startswith("listen: ") for name in names)
    assert listen == len(result.flags) > 0
    bars = [str(again.meter.position(mark.tick)) for mark in marks if mark.kind == "section"]
    assert bars == ["1:1", "2:1", "10:1", "26:1", "34:1", "46:1", "50:1", "58:1"]


def test_strokes_that_move_as_one_are_a_push() -> None:
    result = tighten(Take.from_bytes(demo_take()), Recipe(plan="spans", lean=0))
    pushes = [mark for mark in marks_of(result) if mark.kind == "push"]
    assert len(pushes) == int(result.plan.span.max()) > 0
    # Verse 1 of the demo runs 15 ms ahead, from 10:1 to the end of bar 25, at 1,920 ticks a bar.
    verse = [mark.text for mark in pushes if 9 * 1920 <= mark.tick < 24 * 1920]
    assert verse
    assert all(text.endswith("ahead") for text in verse)
