"""Grid lines, with numbers worked by hand: 480 ticks per quarter, a bar of 4/4 is 1920 ticks."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.build import KICK, drum_take

from evenhand.errors import SettingError
from evenhand.grid.lines import GRID_NAMES, belongs, lines_at, parse_grid, share_under_grids


def _line(
    tick: float, grid: str = "1/16", swing: float = 50, meter: tuple[int, int] = (4, 4)
) -> float:
    take = drum_take([(0, KICK)], meter=meter)
    return float(lines_at(np.array([float(tick)]), parse_grid(grid, swing), take.meter).tick[0])


@pytest.mark.parametrize(
    ("tick", "grid", "line"),
    [
        (59, "1/16", 0),
        (60, "1/16", 0),  # half-way: the earlier
        (61, "1/16", 120),
        (1890, "1/16", 1920),  # the next bar line
        (1920, "1/16", 1920),
        (80, "1/8T", 0),
        (81, "1/8T", 160),
        (40, "1/16T", 0),
        (41, "1/16T", 80),
        (31, "1/32", 60),
        (300, "1/4", 480),
        (400, "1/4T", 320),
        (48, "1/16Q", 0),  # five in a quarter: 96 ticks apart
        (49, "1/16Q", 96),
        (479, "1/16Q", 480),
        (35, "1/16S", 480 / 7),  # seven: 68.57
        (34, "1/16S", 0),
    ],
)
def test_nearest_line(tick: int, grid: str, line: float) -> None:
    assert _line(tick, grid) == line


@pytest.mark.parametrize(
    ("tick", "swing", "line"),
    [
        (81, 66.7, 160.08),  # second sixteenth of a pair at 66.7 % of 240
        (80, 66.7, 0),
        (205, 66.7, 240),
        (150, 75, 180),
        (31, 25, 60),
        (350, 66.7, 400.08),
        (239, 50, 240),
    ],
)
def test_swing_moves_every_second_line(tick: int, swing: float, line: float) -> None:
    assert _line(tick, "1/16", swing) == pytest.approx(line, abs=1e-9)


def test_swing_does_nothing_to_triplets() -> None:
    ticks = np.arange(0.0, 1920.0, 7.0)
    meter = drum_take([(0, KICK)]).meter
    for name in ("1/8T", "1/16Q", "1/16S"):
        straight = lines_at(ticks, parse_grid(name, 50), meter)
        assert np.array_equal(straight.tick, lines_at(ticks, parse_grid(name, 66.7), meter).tick)


def test_lines_restart_at_the_bar_line() -> None:
    # 7/16: a bar of 840 ticks; eighths lie at 0 240 480 720, then the next bar line at 840.
    assert _line(790, "1/8", meter=(7, 16)) == 840
    assert _line(770, "1/8", meter=(7, 16)) == 720
    assert _line(900, "1/8", meter=(7, 16)) == 840
    assert _line(1070, "1/8", meter=(7, 16)) == 1080


def test_gap_is_the_one_around_the_place() -> None:
    meter = drum_take([(0, KICK)], meter=(7, 16)).meter
    lines = lines_at(np.array([790.0, 240.0]), parse_grid("1/8"), meter)
    assert lines.below.tolist() == [720, 240]
    assert lines.above.tolist() == [840, 480]


def test_before_the_start_the_line_is_zero() -> None:
    assert _line(-5) == 0
    assert _line(-70) == 0


def test_reach_is_a_share_of_the_gap() -> None:
    take = drum_take([(0, KICK)])  # 120 bpm: a sixteenth is 125 ms, 40 % of it 50 ms = 48 ticks
    ticks = np.array([48.0, 49.0, 71.0, 72.0])
    lines = lines_at(ticks, parse_grid("1/16"), take.meter)
    assert belongs(ticks, lines, take.tempo, 40).tolist() == [True, False, False, True]
    assert belongs(ticks, lines, take.tempo, 0).tolist() == [False] * 4


def test_shares_under_other_grids() -> None:
    take = drum_take([(0, KICK)])
    triplets = np.arange(0.0, 1920.0, 160.0)
    shares = share_under_grids(triplets, 50, take.time, 20)
    assert shares["1/8T"] == 100
    # Under sixteenths only the beats belong: 160 lies a third of a gap off, more than a fifth.
    assert shares["1/16"] == pytest.approx(100 / 3)
    assert tuple(shares) == GRID_NAMES
    assert share_under_grids(np.array([]), 50, take.time, 20) == {}


@pytest.mark.parametrize("text", ["1/16", "1/8t", " 1/32T ", "1/16q", "1/16S"])
def test_grid_names(text: str) -> None:
    assert parse_grid(text).name == text.strip().upper()


def test_which_grids_have_pairs_and_how_many_lines() -> None:
    names = ("1/8", "1/8T", "1/16", "1/16Q", "1/16T", "1/16S", "1/32")
    assert [parse_grid(name).in_quarter for name in names] == [2, 3, 4, 5, 6, 7, 8]
    assert [parse_grid(name).paired for name in names] == [
        True,
        False,
        True,
        False,
        False,
        False,
        True,
    ]


@pytest.mark.parametrize(
    "text", ["", "1/5", "16", "1/16TT", "1/16.", "1/64", "2/16", "1/8Q", "auto1"]
)
def test_bad_grids(text: str) -> None:
    with pytest.raises(SettingError, match="grid"):
        parse_grid(text)


@given(
    st.lists(st.integers(0, 10**7), min_size=1, max_size=50),
    st.sampled_from(GRID_NAMES),
    st.floats(20, 80),
    st.sampled_from([(4, 4), (3, 4), (6, 8), (5, 8), (7, 16), (1, 64), (11, 32)]),
    st.sampled_from([24, 96, 100, 480, 32767]),
)
def test_line_is_a_neighbour_and_the_nearer_one(
    ticks: list[int], name: str, swing: float, beats: tuple[int, int], division: int
) -> None:
    meter = drum_take([(0, KICK)], meter=beats, division=division).meter
    places = np.array(ticks, np.float64)
    lines = lines_at(places, parse_grid(name, swing), meter)
    assert (lines.below <= places + 1e-6).all()
    assert (lines.above > places).all()
    nearer = np.minimum(places - lines.below, lines.above - places)
    assert np.allclose(np.abs(places - lines.tick), nearer, atol=1e-5)
    # A line is its own line.
    again = lines_at(lines.tick, parse_grid(name, swing), meter)
    assert np.allclose(again.tick, lines.tick, atol=1e-5)
