"""Tempo groups."""

import mido
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.jobs.practice.tempi import TempoGroup, group_lows


@pytest.mark.parametrize("bpm", range(20, 400, 20))
def test_a_tempo_on_an_edge_belongs_to_what_it_begins(bpm: int) -> None:
    # A file holds whole microseconds a quarter: 280 bpm comes back as 279.9997.
    in_file = mido.tempo2bpm(mido.bpm2tempo(bpm))
    assert group_lows(np.array([in_file]), 20).tolist() == [bpm]


def test_a_take_on_an_edge_is_not_torn_apart() -> None:
    assert set(group_lows(np.array([118.0, 119.5, 121.0, 121.0, 123.0]), 20).tolist()) == {120}


def test_a_take_at_several_tempi_is() -> None:
    assert group_lows(np.array([80.0, 100.0, 130.0]), 20).tolist() == [80, 100, 120]


def test_words() -> None:
    assert str(TempoGroup(100, 20)) == "100-119 bpm"
    assert str(TempoGroup(100, 10, click=False)) == "100-109 bpm, no click"


@given(st.lists(st.floats(20, 400), max_size=20), st.integers(1, 100))
def test_no_tempo_lies_below_its_group(bpm: list[float], width: int) -> None:
    lows = group_lows(np.array(bpm), width)
    assert len(lows) == len(bpm)
    assert (lows % width == 0).all()
    if len(bpm) == 1:
        assert lows[0] <= round(bpm[0], 2) < lows[0] + width
