"""The window at the just-noticeable difference, and who keeps a line: worked numbers."""

import mido
import pytest
from tests.build import KICK, SNARE, drum_take, midi_bytes, track

from evenhand import Recipe, Take, tighten


@pytest.mark.parametrize(
    ("bpm", "meter", "window"),
    [
        # Friberg & Sundberg 1995: 2.5 % of the interval, 6 ms below 240 ms.
        (120, (4, 4), 12.5),
        (60, (4, 4), 25.0),
        (200, (4, 4), 7.5),
        (250, (4, 4), 6.0),
        (400, (4, 4), 6.0),
        # The beat is the lower number of the meter: an eighth, a half.
        (120, (6, 8), 6.25),
        (120, (2, 2), 25.0),
    ],
)
def test_the_window_at_the_beat(bpm: float, meter: tuple[int, int], window: float) -> None:
    result = tighten(drum_take([(0, KICK)], bpm=bpm, meter=meter), Recipe(reach=40))
    assert result.plan.admissible.half.tolist() == pytest.approx([window])


def test_the_window_follows_tempo_and_meter_at_the_line() -> None:
    # At 1920 the tempo halves and eighths become the beat; one kick is early there, one late.
    events = [
        (0, mido.MetaMessage("set_tempo", tempo=500_000)),
        (1920, mido.MetaMessage("set_tempo", tempo=1_000_000)),
        (1920, mido.MetaMessage("time_signature", numerator=7, denominator=8)),
        *(
            (tick, mido.Message("note_on", channel=9, note=KICK, velocity=100))
            for tick in (1440, 1910, 2405)
        ),
    ]
    windows = tighten(
        Take.from_bytes(midi_bytes(track(events), kind=0)), Recipe(reach=40)
    ).plan.admissible.half
    # A quarter of 500 ms; then an eighth of 500 ms, from its own line on.
    assert windows.tolist() == pytest.approx([12.5, 12.5, 12.5])
    events[1] = (1920, mido.MetaMessage("set_tempo", tempo=2_000_000))
    windows = tighten(
        Take.from_bytes(midi_bytes(track(events), kind=0)), Recipe(reach=40)
    ).plan.admissible.half
    assert windows.tolist() == pytest.approx([12.5, 25.0, 25.0])
    del events[1]
    windows = tighten(
        Take.from_bytes(midi_bytes(track(events), kind=0)), Recipe(reach=40)
    ).plan.admissible.half
    assert windows.tolist() == pytest.approx([12.5, 6.25, 6.25])


@pytest.mark.parametrize(
    ("ticks", "actions"),
    [
        ((460, 500), ["moved", "carried"]),  # of equals the earliest
        ((460, 499), ["carried", "moved"]),
        ((461, 500), ["moved", "carried"]),
    ],
)
def test_who_keeps_the_line(ticks: tuple[int, int], actions: list[str]) -> None:
    result = tighten(
        drum_take([(ticks[0], KICK), (ticks[1], SNARE)]),
        Recipe(grid="1/16", ghost_below=1, reach=40, lean=50),
    )
    assert result.changes.action.tolist() == actions
