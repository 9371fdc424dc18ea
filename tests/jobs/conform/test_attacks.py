"""Where a hit begins in the audio, when another one is close by."""

import numpy as np

from evenhand.carry import Room
from evenhand.jobs.conform.attacks import find_attacks
from evenhand.jobs.conform.blocks import Units, make_blocks
from evenhand.jobs.conform.rises import HeardAttacks

_RATE, _STEP = 48_000, 24


def _heard(at: list[tuple[float, float]], seconds: float) -> HeardAttacks:
    """A curve with a rise of some height at some moments, seconds."""
    rise = np.zeros(int(seconds * _RATE / _STEP), np.float32)
    for moment, height in at:
        first = round(moment * _RATE / _STEP)
        # It goes on for 12 ms, in which one microphone after the other hears it.
        rise[first : first + 24] += np.linspace(1, 0.2, 24) * height
    return HeardAttacks(_STEP, _RATE, rise, np.ones(1), np.zeros(1, np.int64))


def test_a_soft_hit_is_not_taken_for_the_loud_one_behind_it() -> None:
    # A hat is heard where it stands alone; 20 ms ahead of a kick nothing of it rises.
    kicks, hats = 1 + np.arange(20.0), 1.5 + np.arange(20.0)
    soft = kicks[::10] - 0.02
    heard = _heard([*((at, 40.0) for at in kicks), *((at, 8.0) for at in hats)], 22)
    moments = np.concatenate([kicks, hats, soft])
    order = np.argsort(moments)
    piece = np.array(["kick"] * 20 + ["hat"] * 22)[order]
    found = find_attacks(moments[order], piece, heard)
    late = np.empty(42)
    late[order] = found.late
    assert np.abs(late[:40]).max() <= 0.001
    assert np.abs(late[40:]).max() <= 0.0035


def test_where_an_attack_may_be_is_kept_whole() -> None:
    # The second was found 10 ms behind where it should be: it is not cut in either place.
    room = Room(192, 1440, 240)
    first = np.array([0, 4800])
    units = Units(
        at=np.array([0, 5280]),
        first=first,
        last=np.array([0, 5280]),
        shift=np.array([0, 2900]),
        weight=np.ones(2),
        hold=np.full(2, 1440),
        hit=np.arange(2),
    )
    blocks = make_blocks(units, 48_000, room)
    assert blocks.first[1:3].tolist() == [0, 4800]
    assert blocks.last[2] == 5280
    assert blocks.until[2] == 5280 + 1440
