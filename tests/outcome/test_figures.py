"""Figures of a small take, worked by hand (0.96 ticks per ms)."""

import math

import pytest
from tests.build import HAT, KICK, SNARE, drum_take, plain_recipe

from evenhand import tighten


def test_worked_example() -> None:
    # Deviations: kick 0 and +25 ms, snare -25 ms and +5 ms; the window is 12.5 ms, strength 75.
    take = drum_take([(480, KICK), (504, HAT), (984, KICK), (1416, SNARE), (1924, SNARE, 90)])
    figures = tighten(take, plain_recipe(ghost_below=40)).figures
    assert figures.hits == 5
    assert figures.pieces == {"kick": 2, "snare": 2, "hat": 1}
    assert figures.roles == {"anchor": 4, "timekeeper": 1}
    assert figures.actions == {"moved": 2, "kept": 2, "carried": 1, "held": 0}
    assert figures.largest_move == pytest.approx(18.75)
    assert figures.median_move == pytest.approx(18.75)
    everything = figures.tightness["all"]
    assert everything.mean_before == pytest.approx((0 + 25 - 25 + 4 / 0.96) / 4)
    assert everything.inside_before == 50
    assert everything.inside_after == 100
    kick = figures.tightness["kick"]
    # Population standard deviation of 0 and 25 is 12.5, of 0 and 6.25 is 3.125.
    assert (kick.spread_before, kick.spread_after) == pytest.approx((12.5, 3.125))
    assert (figures.window_least, figures.window_most) == pytest.approx((12.5, 12.5))


def test_take_without_anchors() -> None:
    figures = tighten(drum_take([(480, HAT)])).figures
    assert math.isnan(figures.tightness["all"].mean_before)
    assert math.isnan(figures.window_least)
    assert figures.off_grid_share == 0
    assert figures.grids == {}
