"""What to work on: the rule by worked numbers."""

import datetime as dt

from evenhand.jobs.practice.measures import Point
from evenhand.jobs.practice.over_time import sorted_by_key
from evenhand.jobs.practice.tempi import TempoGroup
from evenhand.jobs.practice.work_on import RECENT_DAYS, WorkOn, find_advice

SLOW, FAST = TempoGroup(80, 20), TempoGroup(120, 20)
DAYS = [dt.date(2026, 11, 3) + dt.timedelta(n) for n in range(10)]
NAMES = [f"take {n}" for n in range(10)]


def _advice(*points: Point) -> list[WorkOn]:
    return find_advice(sorted_by_key(points), DAYS, NAMES)


def _two(
    measure: str, limb: str, value: float, noticed: float, group: TempoGroup = SLOW
) -> list[Point]:
    return [
        Point(take, group, 90.0, measure, limb, value + off, noticed)
        for take, off in ((8, -1.0), (9, 1.0))
    ]


def test_the_three_largest_against_what_is_noticed() -> None:
    found = _advice(
        *_two("spread", "kick", 20, 10),  # 2 times what is noticed
        *_two("spread", "snare", 22, 10, FAST),  # 2.2: the larger of its family
        *_two("stray", "", 16, 10),  # 1.6
        *_two("evenness", "", 9, 10),  # 0.9
        *_two("ghost loudness", "", 12, 4),  # 3
    )
    assert [one.key.measure for one in found] == ["ghost loudness", "spread", "stray"]
    assert found[1].sentence == (
        "Work on snare timing: at 120-139 bpm snare hits scatter by 22.0 ms around their own lean "
        "(2 takes; most in take 9, 23.0; 10.0 ms are just noticed)."
    )
    assert found[0].sentence.endswith("4.0 steps of velocity are plainly heard).")


def test_ways() -> None:
    (found,) = _advice(*_two("drift", "", -14, 10))
    assert "the last third of a take lies 14.0 ms earlier against the click" in found.sentence
    (found,) = _advice(*_two("tempo drift", "", 3, 2.5))
    assert "is 3.0 % faster than the first" in found.sentence


def test_only_the_latest_days_count() -> None:
    old = [Point(take, SLOW, 90.0, "stray", "", 99.0, 10.0) for take in range(10 - RECENT_DAYS)]
    now = [Point(take, SLOW, 90.0, "stray", "", 12.0, 10.0) for take in range(10 - RECENT_DAYS, 10)]
    (found,) = _advice(*old, *now)
    assert (found.value, found.takes) == (12.0, RECENT_DAYS)


def test_what_rests_on_one_take_comes_last() -> None:
    alone = Point(9, FAST, 120.0, "stray", "", 90.0, 10.0)
    found = _advice(alone, *_two("stray", "", 12, 10), *_two("evenness", "", 11, 10))
    assert [one.key.group for one in found] == [SLOW, SLOW]
    (only,) = _advice(alone)
    assert "(1 take; 10.0 ms are just noticed)" in only.sentence


def test_what_is_placed_by_feel_is_nothing_to_work_on() -> None:
    assert _advice(*_two("spread", "ghosts", 50, 10), *_two("spread", "anchors", 50, 10)) == []
    assert _advice(*_two("lean", "kick", -40, float("nan"))) == []
    assert _advice() == []


def test_no_sentence_grades() -> None:
    points = [
        *_two("spread", "hat foot", 20, 10),
        *_two("apart", "snare", 20, 10),
        *_two("stray", "", 20, 10),
        *_two("evenness", "", 20, 10),
        *_two("timekeeper loudness", "", 20, 10),
        *_two("backbeat loudness", "", 20, 10),
        *_two("ghost loudness", "", 20, 10),
        *_two("drift", "", 20, 10),
        *_two("tempo drift", "", 20, 10),
    ]
    for measure in {point.measure for point in points}:
        (one,) = _advice(*[point for point in points if point.measure == measure])
        words = one.sentence.lower()
        grades = ("good", "bad", "poor", "weak", "better", "worse", "should", "others", "average")
        assert not [word for word in grades if word in words]
        assert f"{one.value:.1f}" in words
