"""A meter change in the middle of a bar: the lines restart there, and the cut bar ends there."""

import mido
import pytest
from tests.build import KICK, midi_bytes, plain_recipe, track

from evenhand import Take, tighten


@pytest.mark.parametrize(
    ("tick", "line"),
    [
        (1925, 1920),
        # The bar from 1920 is cut off at 2000: that is the next line, not 2040.
        (1990, 2000),
        (1965, 2000),
        (1960, 1920),  # just as far from both: the earlier
        (2005, 2000),
        (2115, 2120),
        # The bar of 3/8 from 2000 ends at 2720.
        (2715, 2720),
    ],
)
def test_lines_restart_where_a_bar_is_cut(tick: int, line: int) -> None:
    events = [
        (0, mido.MetaMessage("time_signature", numerator=4, denominator=4)),
        (2000, mido.MetaMessage("time_signature", numerator=3, denominator=8)),
        (tick, mido.Message("note_on", channel=9, note=KICK, velocity=100)),
    ]
    take = Take.from_bytes(midi_bytes(track(events), kind=0))
    changes = tighten(take, plain_recipe(window=0, strength=100, reach=50, ghost_below=1)).changes
    assert (changes.line[0], changes.tick_after[0]) == (line, line)
