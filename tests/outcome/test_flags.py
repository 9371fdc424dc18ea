"""Flags: each kind is raised where it should be, named by its line, worst first."""

from tests.build import HAT, KICK, SNARE, Note, drum_take, plain_recipe

from evenhand import Result, tighten
from evenhand.outcome.flags import CHANGED, LEFT


def _run(notes: list[Note], **settings: object) -> Result:
    return tighten(drum_take(notes), plain_recipe(**settings))


def _kinds(result: Result) -> list[str]:
    return [flag.kind for flag in result.flags]


def test_quiet_take_has_no_flags() -> None:
    assert _run([(480, KICK), (960, SNARE)]).flags == ()


def test_close_pair() -> None:
    # Two hats 40 ticks (41.7 ms) apart; the kicks around them come 24 ticks nearer on both sides:
    # 456 of 504 ticks are left, so the hats end 40 * 456 / 504 = 36.2 ticks apart: still fine.
    notes: list[Note] = [(456, KICK), (600, HAT), (640, HAT), (984, KICK)]
    assert _kinds(_run(notes, strength=100)) == []
    # 30 ticks (31.25 ms) apart they end 27 ticks (28.1 ms) apart: too near.
    notes = [(456, KICK), (600, HAT), (630, HAT), (984, KICK)]
    (flag,) = _run(notes, strength=100).flags
    assert (flag.kind, flag.hits, str(flag.place)) == ("close pair", (2, 3), "1:2.25")
    assert "hat" in flag.text
    assert "before: 31.2 ms" in flag.text


def test_pair_that_was_close_before_is_no_flag() -> None:
    notes: list[Note] = [(456, KICK), (600, HAT), (620, HAT), (984, KICK)]
    assert _kinds(_run(notes, strength=100)) == []


def test_line_taken_is_named_by_its_line() -> None:
    (flag,) = _run([(480, KICK), (1890, KICK), (1930, KICK)]).flags
    assert (flag.kind, str(flag.place), flag.hits) == ("line taken", "2:1", (2,))
    assert flag.weight == 31.25


def test_off_the_grid_in_a_row() -> None:
    off: list[Note] = [(540 + 120 * place, KICK) for place in range(3)]
    (flag,) = _run([(480, KICK), *off, (960, SNARE)]).flags
    assert (flag.kind, flag.hits) == ("off the grid", (2, 3, 4))
    assert flag.text.startswith("3 strokes in a row, up to 1:2.625,")
    assert _kinds(_run([(480, KICK), *off[:2], (960, SNARE)])) == []


def test_unknown_note_once_per_number() -> None:
    flags = _run([(480, KICK), (600, 3), (700, 3), (800, 4)]).flags
    assert [(flag.kind, flag.hits) for flag in flags] == [
        ("unknown note", (2, 3)),
        ("unknown note", (4,)),
    ]
    assert "note 3 is not in the kit map (played 2 times)" in flags[0].text


def test_large_move_stands_out_from_the_others() -> None:
    # Twelve kicks 15 ticks late, one 45 ticks (46.9 ms).
    notes: list[Note] = [(480 * place + 15, KICK) for place in range(1, 13)]
    (flag,) = _run([*notes, (480 * 13 + 45, SNARE)], strength=100).flags
    assert (flag.kind, str(flag.place)) == ("large move", "4:2")
    assert "moved -46.9 ms" in flag.text


def test_worst_first() -> None:
    notes: list[Note] = [(480 * place, KICK) for place in range(1, 9)]
    notes += [(600, 3), (480 * 9 + 44, SNARE), (480 * 10 - 40, SNARE), (480 * 10 + 10, SNARE)]
    # A single move can't be compared with others: from 25 ms on it is worth a listen.
    result = _run(notes, strength=100)
    assert _kinds(result) == ["large move", "line taken", "unknown note"]
    ranks = [flag.kind in CHANGED for flag in result.flags]
    assert ranks == sorted(ranks, reverse=True)
    assert all(flag.kind in CHANGED + LEFT for flag in result.flags)


def test_squeezed_says_wanted_and_got() -> None:
    flags = _run([(40, KICK), (80, KICK)], strength=100, reach=50).flags
    squeezed = [flag for flag in flags if flag.kind == "squeezed"]
    # Wanted 40 ticks (41.7 ms), got 20.
    assert [flag.text.split(":")[0] for flag in squeezed] == [
        "kick moved -20.8 ms instead of -41.7 ms",
        "kick moved +20.8 ms instead of +41.7 ms",
    ]
