"""What lies in a hold, and what does not."""

import numpy as np
import pytest
from tests.build import KICK, SNARE, drum_take, plain_recipe

from evenhand import tighten
from evenhand.ground import prepare
from evenhand.plan.holds import find_held

_BAR = 1920


def test_a_line_on_the_border_of_a_hold_is_in_it() -> None:
    ground = prepare(drum_take([(480, KICK), (940, SNARE), (1460, KICK)]), plain_recipe())
    line = np.array([480.0, 960.0, 1440.0])
    for hold in ((960.0, 1000.0), (950.0, 960.0)):
        assert find_held(ground.tick, ground.strokes, line, [hold]).stroke.tolist() == [
            *(False, True, False)
        ]


@pytest.mark.parametrize(
    ("hold", "held"),
    [
        # Bar 3 as a place: the kick on it comes 12 ticks before its line, and is held by its name.
        ("3:1-3:2", [_BAR * 2 - 12, _BAR * 2 + 480]),
        # A hold that ends on a line has the late hit of that line in it.
        ("3:3-3:4", [_BAR * 2 + 960, _BAR * 2 + 1440 + 12]),
        ("3:3.5-3:3.9", []),
    ],
)
def test_an_early_hit_is_held_by_the_name_of_its_line(hold: str, held: list[int]) -> None:
    notes = [(480 * beat, (KICK, SNARE)[beat % 2]) for beat in range(24)]
    notes[8] = (_BAR * 2 - 12, KICK)
    notes[11] = (_BAR * 2 + 1440 + 12, SNARE)
    changes = tighten(drum_take(notes), plain_recipe(hold=(hold,))).changes
    assert changes.hits.tick[changes.action == "held"].tolist() == held
    assert np.array_equal(changes.tick_after[changes.action == "held"], held)
