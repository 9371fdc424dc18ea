"""Fills: worked patterns, the planted fills of the demo take, joined real takes."""

import itertools
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.build import drum_take
from tests.joined_takes import joined_takes

from evenhand import Recipe, Take
from evenhand.ground.fills import Fills, find_fills, loose_fills
from evenhand.ground.prepare import prepare
from evenhand.jobs.demo_take import demo_take

_METER = drum_take([(480, 36)]).meter

GROOVE = {"kick": "x.......x.x.....", "snare": "....x.......x...", "hat": "x.x.x.x.x.x.x.x."}
TOMS = {"kick": "x...............", "snare": "....x...........", "hat": "x.x.x.x.........",
        "tom 1": "........x.x.x.x."}  # fmt: skip
RUN = {"kick": "x...............", "snare": "xxxxxxxxxxxxxxxx"}
ROLES = {"kick": "anchor", "snare": "anchor", "hat": "timekeeper", "tom 1": "fill"}


def _find(bars: list[dict[str, str]]) -> Fills:
    hits = [
        (1920 * number + 120 * slot, piece)
        for number, bar in enumerate(bars)
        for piece, pattern in bar.items()
        for slot, letter in enumerate(pattern)
        if letter == "x"
    ]
    tick, piece = np.array([hit[0] for hit in hits], np.float64), np.array([hit[1] for hit in hits])
    return find_fills(
        tick, np.unique(piece, return_inverse=True), np.array([ROLES[one] for one in piece]), _METER
    )


def _stretches(fills: Fills) -> list[tuple[float, float]]:
    """In bars from 1."""
    return [
        (1 + one / 1920, 1 + other / 1920)
        for one, other in zip(fills.begin, fills.end, strict=True)
    ]


def test_half_a_bar_of_toms_is_a_fill() -> None:
    assert _stretches(_find([*[GROOVE] * 7, TOMS, *[GROOVE] * 8])) == [(8.5, 9)]


def test_snare_run_is_a_fill() -> None:
    assert _stretches(_find([*[GROOVE] * 7, RUN, *[GROOVE] * 8])) == [(8, 9)]


def test_variation_over_a_timekeeper_that_goes_on_is_no_fill() -> None:
    # Seven snare hits more than usual, all hats there: 7 x 0.8 was enough for a fill.
    varied = {**GROOVE, "snare": "..x.xx.xx.xxx.xx"}
    assert _stretches(_find([*[GROOVE] * 7, varied, *[GROOVE] * 8])) == []
    # With the hats gone it is one.
    assert _stretches(_find([*[GROOVE] * 7, {**varied, "hat": "x"}, *[GROOVE] * 8])) == [(8, 9)]
    # And with toms, hats or not.
    toms = {**GROOVE, "tom 1": "........xxxxxxxx"}
    assert _stretches(_find([*[GROOVE] * 7, toms, *[GROOVE] * 8])) == [(8.5, 9)]


def test_last_bar_may_be_a_fill() -> None:
    assert _stretches(_find([*[GROOVE] * 7, RUN])) == [(8, 9)]


def test_groove_alone_has_no_fill() -> None:
    assert len(_find([GROOVE] * 16)) == 0


def test_change_of_groove_is_no_fill() -> None:
    tom_groove = {"kick": "x.....x.x.......", "tom 1": "x.x.x.x.x.x.x.x."}
    assert len(_find([*[GROOVE] * 8, *[tom_groove] * 8])) == 0


def test_long_run_is_a_section_of_its_own() -> None:
    assert len(_find([*[GROOVE] * 8, *[RUN] * 5, *[GROOVE] * 8])) == 0


def test_solo_has_no_groove_to_leave() -> None:
    assert len(_find([GROOVE, RUN])) == 0


def test_lines_know_their_fill() -> None:
    fills = loose_fills(np.array([[100.0, 200.0], [300.0, 400.0]]))
    assert fills.of(np.array([50.0, 100, 199, 200, 300, 400])).tolist() == [-1, 0, 0, -1, 1, -1]


def test_planted_fills_of_the_demo_are_found() -> None:
    ground = prepare(Take.from_bytes(demo_take()), Recipe(grid="1/16"))
    hits = ground.hits
    found = find_fills(ground.tick, hits.by_piece, hits.role, ground.take.meter)
    assert _stretches(found) == [(9, 10), (25, 26), (33, 34), (49, 50)]


def test_real_fills_are_found(takes: list[Path]) -> None:
    """The labels of the Groove MIDI Dataset (ICML 2019); the target is an F-measure of 0.85."""
    if not (takes[0].parent / "takes.csv").exists():
        pytest.fail("a folder of real takes has its labels in takes.csv")
    right = wrong = 0
    for joined in joined_takes(takes[0].parent):
        halves = np.arange(len(joined.fill)) * 960.0
        found = (
            find_fills(
                joined.tick, np.unique(joined.piece, return_inverse=True), joined.role, _METER
            ).of(halves)
            >= 0
        )
        right += int((found & joined.fill).sum())
        wrong += int((found != joined.fill).sum())
    assert 2 * right / (2 * right + wrong) >= 0.85


_BUSY = {"snare": "x.xx.xx.xx.xx.x.", "tom 1": "....x.x.....x.xx"}
_BARS = st.lists(st.sampled_from([GROOVE, GROOVE, GROOVE, TOMS, RUN, _BUSY]), max_size=24)


@given(_BARS)
def test_fills_are_short_half_bars_apart_from_each_other(bars: list[dict[str, str]]) -> None:
    found = _stretches(_find([GROOVE, *bars]))
    for begin, end in found:
        assert 0.5 <= end - begin <= 4
        assert (2 * begin) % 1 == (2 * end) % 1 == 0
        assert begin >= 1
        assert end <= len(bars) + 2
    assert all(one[1] < other[0] for one, other in itertools.pairwise(found))


@given(_BARS, st.integers(1, 5))
def test_rest_before_a_take_moves_its_fills(bars: list[dict[str, str]], rest: int) -> None:
    one, other = _find([GROOVE, *bars]), _find([*[{}] * rest, GROOVE, *bars])
    assert (other.begin - rest * 1920).tolist() == one.begin.tolist()
    assert (other.end - rest * 1920).tolist() == one.end.tolist()


@given(st.sampled_from([GROOVE, TOMS, RUN, _BUSY]), st.integers(1, 20))
def test_what_repeats_is_no_fill(bar: dict[str, str], times: int) -> None:
    assert len(_find([bar] * times)) == 0
