"""Roles by what a hit does: worked patterns of invented sections."""

import numpy as np
import pytest

from evenhand.kit import StruckAt, Use, find_uses
from evenhand.kit.roles import loud_from

_ROLES = {"kick": "anchor", "snare": "anchor", "hat": "timekeeper", "ride": "timekeeper",
          "tom 4": "fill"}  # fmt: skip
_HATS = {"hat": "5.5.5.5.5.5.5.5."}
_BEAT = {"kick": "8.......8.......", "snare": "....9.......9..."}


def _told(
    bars: list[dict[str, str]], sections: list[int] | None = None
) -> tuple[dict[str, dict[str, int]], tuple[Use, ...]]:
    """Roles of each piece with their number of hits. A digit is a tenth of the velocity."""
    rows = [
        (sections[bar] if sections else 0, bar, slot, int(letter) * 10 + 5, piece)
        for bar, voices in enumerate(bars)
        for piece, pattern in voices.items()
        for slot, letter in enumerate(pattern)
        if letter != "."
    ]
    section, bar, place, velocity = (np.array([row[at] for row in rows]) for at in range(4))
    piece = np.array([row[4] for row in rows])
    struck = StruckAt(section, bar, place, np.full(len(rows), 16.0))
    before = np.array([_ROLES[one] for one in piece], "<U10")
    role, uses = find_uses(struck, velocity, np.unique(piece, return_inverse=True), before)
    assert before.tolist() == [_ROLES[one] for one in piece]
    names = dict.fromkeys(piece.tolist())
    return {
        name: {one: int((role[piece == name] == one).sum()) for one in set(role[piece == name])}
        for name in names
    }, uses


def test_a_groove_is_what_its_pieces_say() -> None:
    roles, uses = _told([{**_BEAT, **_HATS}] * 8)
    assert roles == {"kick": {"anchor": 16}, "snare": {"anchor": 16}, "hat": {"timekeeper": 64}}
    assert uses == ()


def test_snare_on_all_lines_keeps_time_and_its_accents_are_anchors() -> None:
    train = {"kick": "8...8...8...8...", "snare": "4343943343439343"}
    roles, uses = _told([train] * 8)
    assert roles["snare"] == {"anchor": 16, "timekeeper": 112}
    assert roles["kick"] == {"anchor": 32}
    assert uses == (Use(0, "snare", "ticking", 112, 100.0),)


def test_it_is_told_for_each_section() -> None:
    train = {"kick": "8...8...8...8...", "snare": "4343943343439343"}
    beat = {**_BEAT, **_HATS}
    roles, uses = _told([beat] * 8 + [train] * 4, [0] * 8 + [1] * 4)
    assert roles["snare"] == {"anchor": 16 + 8, "timekeeper": 56}
    assert [one.section for one in uses] == [1]


def test_three_bars_show_no_pattern() -> None:
    assert _told([{"snare": "4343943343439343"}] * 3)[1] == ()


def test_soft_kicks_are_ghosts() -> None:
    # 24 kicks of 85 and 8 of 15: the limit is 0.4 x 85 = 34.
    roles, uses = _told([{**_HATS, "kick": "8.....1.8...8..."}] * 8)
    assert roles["kick"] == {"anchor": 24, "ghost": 8}
    assert uses == (Use(-1, "kick", "feathered", 8, 34.0),)
    # 45 is soft, but not far below 85.
    assert _told([{**_HATS, "kick": "8.....4.8...8..."}] * 8)[1] == ()


def test_drums_that_never_repeat_comment_on_the_ride() -> None:
    ride = {"ride": "6...6..46...6..4"}
    # Over twelve bars no place has the snare more than twice, nor the kick.
    bars = [
        {**ride, "snare": _one(5 * bar % 16), "kick": _one((7 * bar + 3) % 16)} for bar in range(12)
    ]
    roles, uses = _told(bars)
    assert roles["snare"] == {"other": 12}
    assert roles["kick"] == {"other": 12}
    assert uses == (Use(0, "kick and snare", "comment", 24, 0.0),)
    # What is struck in each bar is a habit, and stays an anchor.
    for bar in bars:
        bar["kick"] = "8" + bar["kick"][1:]
    roles, uses = _told(bars)
    assert roles["kick"] == {"anchor": 12, "other": 11}
    assert [one.taken for one in uses] == ["comment"]


def test_without_a_timekeeper_nothing_is_a_comment() -> None:
    bars = [{"snare": _one(5 * bar % 16), "kick": _one((7 * bar + 3) % 16)} for bar in range(12)]
    assert _told(bars)[1] == ()


def test_a_pattern_of_two_bars_is_no_comment() -> None:
    two = [{"snare": "....9.......9...", "kick": "8...8..........."},
           {"snare": "..9.......9....9", "kick": "..8......8.8...."}]  # fmt: skip
    assert _told([{**_HATS, **bar} for bar in two * 6])[1] == ()


def test_toms_that_repeat_are_a_groove() -> None:
    roles, uses = _told([{**_BEAT, **_HATS, "tom 4": "..7...7...7....."}] * 8)
    assert roles["tom 4"] == {"anchor": 24}
    assert uses == (Use(0, "toms", "pattern", 24, 100.0),)
    # A fill in one bar of eight is a fill.
    bars = [{**_BEAT, **_HATS}] * 7 + [{"tom 4": "7777777777777777"}]
    assert _told(bars)[0]["tom 4"] == {"fill": 16}


def test_toms_tick_where_no_hat_does() -> None:
    # Eighths: half of the lines, and nothing else keeps time.
    roles, _ = _told([{**_BEAT, "tom 4": "8.4.8.4.8.4.8.4."}] * 8)
    assert roles["tom 4"] == {"anchor": 32, "timekeeper": 32}


@pytest.mark.parametrize(
    ("velocity", "limit"), [([], 128), ([60] * 9, 128), ([60, 64, 68], 128), ([30] * 9 + [90], 61)]
)
def test_accents_begin_between_two_groups(velocity: list[int], limit: int) -> None:
    assert loud_from(np.array(velocity, np.int64)) == limit


def _one(slot: int) -> str:
    return "." * slot + "8" + "." * (15 - slot)
