"""What moves as one, and where the cuts between are made."""

import numpy as np
import pytest

from evenhand.carry import Room
from evenhand.jobs.conform.blocks import Blocks, Units, make_blocks
from evenhand.jobs.conform.splices import Splice, changes_of, place_splice
from evenhand.jobs.conform.weave import curves, stretches

RATE = 48_000
ROOM = Room(lead=192, hold=1440, fade=240)


def _ms(value: float) -> int:
    return round(value * RATE / 1000)


def _blocks(ms: list[float], shift: list[float], weight: list[float] | None = None) -> Blocks:
    at = np.array([_ms(one) for one in ms])
    units = Units(
        at=at,
        first=at,
        last=at,
        shift=np.array([_ms(one) for one in shift]),
        weight=np.array(weight or [1.0] * len(ms)),
        hold=np.full(len(ms), ROOM.hold),
        hit=np.arange(len(ms)),
    )
    return make_blocks(units, _ms(5000), ROOM)


def test_hits_far_apart_move_by_themselves() -> None:
    blocks = _blocks([500, 1000, 1500], [10, 0, -20])
    assert blocks.shift.tolist() == [0, _ms(10), 0, _ms(-20), 0]
    assert changes_of(blocks, ROOM).tolist() == [1, 2, 3, 4]


def test_hits_too_close_to_be_cut_apart_follow_the_heaviest() -> None:
    # 30 ms behind an attack and 4 ahead of one stay whole, and 5 ms are the shortest fade.
    blocks = _blocks([500, 535, 1000], [10, 4, 0], [1, 5, 1])
    assert blocks.of_unit.tolist() == [1, 1, 2]
    assert blocks.shift.tolist() == [0, _ms(4), 0, 0]


@pytest.mark.parametrize(
    ("gap", "change", "fits"),
    [
        (38.9, 0, True),  # what moves alike needs no room
        (49, 10, True),  # 15 ms are left: a fade of 5 and 10 to repeat
        (44, 10, True),  # 10 are left: twice 5
        (43.9, 10, False),
        (49, -10, True),  # 15 are left: 10 go, 5 fade
        (48.9, -10, False),
    ],
)
def test_room_that_a_change_needs(gap: float, change: float, fits: bool) -> None:
    found = ROOM.fits(np.array([_ms(gap)]), np.array([_ms(change)]))
    assert found.tolist() == [fits]


def test_a_roll_with_one_moved_stroke_moves_as_one() -> None:
    ms = [500 + 30 * index for index in range(20)]
    shift = [0.0] * 20
    shift[7] = 12
    weight = [1.0] * 20
    weight[7] = 3
    blocks = _blocks(ms, shift, weight)
    assert len(set(blocks.of_unit.tolist())) == 1
    assert blocks.shift.tolist() == [0, _ms(12), 0]


def test_a_hit_at_the_very_start_or_end_takes_nobody_along() -> None:
    start = _blocks([10, 1000], [15, 15])
    assert start.shift[0] == 0
    end = _blocks([1000, 4990], [0, 20])
    assert end.shift.tolist() == [0, 0, _ms(20), 0]
    # There is no room to come back: the last 20 ms are cut off.
    assert changes_of(end, ROOM).tolist() == [2]


def _place(blocks: Blocks, block: int, sound: np.ndarray) -> list[Splice]:
    def listen(start: int, stop: int) -> np.ndarray:
        return sound[None, start:stop].astype(np.float32)

    return place_splice(block, blocks, ROOM, RATE, listen)


def _check(splices: list[Splice], blocks: Blocks, block: int) -> None:
    """A splice leaves both attacks whole, and its streams stay between them."""
    least = int(blocks.last[block - 1]) + ROOM.hold
    stop = int(blocks.first[block]) - ROOM.lead
    end = int(blocks.last[block - 1]) + ROOM.hold + int(blocks.shift[block - 1])
    assert splices[0].before == blocks.shift[block - 1]
    assert splices[-1].after == blocks.shift[block]
    for one in splices:
        assert one.at >= end
        for shift in (one.before, one.after):
            assert one.at - shift >= least
            assert one.at + one.fade - shift <= stop
        assert one.until >= one.at + one.fade
        end = one.until
    assert end <= stop + blocks.shift[block]


@pytest.mark.parametrize("change", [60, 20, 1, -1, -20, -60])
@pytest.mark.parametrize("gap", [47, 60, 110, 250, 900])
def test_splices_stay_between_attacks(change: float, gap: float) -> None:
    blocks = _blocks([1000, 1000 + gap], [0, change])
    sound = np.random.default_rng(1).normal(size=_ms(5000))
    for block in changes_of(blocks, ROOM).tolist():
        _check(_place(blocks, block, sound), blocks, block)


@pytest.mark.parametrize("number", range(20))
def test_a_large_gain_takes_several_turns(number: int) -> None:
    random = np.random.default_rng(number)
    # 34 ms of the gap belong to the attacks; what is left does not hold the gain and a fade.
    gap = random.uniform(44.1, 48)
    gain = random.uniform(gap - 38.9, 10 if number % 2 else 50)
    blocks = _blocks([1000, 1000 + gap], [0, gain])
    splices = _place(blocks, 2, random.normal(size=_ms(5000)))
    assert len(splices) > 1
    assert sum(one.change for one in splices) == _ms(gain)
    _check(splices, blocks, 2)


def test_a_ring_is_cut_where_it_is_most_like_itself() -> None:
    # 100 Hz, but for a stretch of 30 ms in which it rings at 63 Hz: 10 ms fit outside it only.
    time = np.arange(_ms(5000)) / RATE
    sound = np.sin(2 * np.pi * 100 * time)
    odd = slice(_ms(1120), _ms(1150))
    sound[odd] = np.sin(2 * np.pi * 63 * time[odd])
    blocks = _blocks([1000, 1200], [0, 10])
    (splice,) = _place(blocks, 2, sound)
    assert splice.likeness > 0.99
    assert not _ms(1110) < splice.at < _ms(1155)


def test_what_is_repeated_comes_at_the_level_of_what_was_ahead() -> None:
    # A noise that falls by 60 dB in 400 ms: 40 ms earlier it is 6 dB louder.
    time = np.arange(_ms(5000)) / RATE
    noise = np.random.default_rng(3).normal(size=len(time))
    sound = noise * 10 ** (-3 * (time - 1) / 0.4)
    (splice,) = _place(_blocks([1000, 1200], [0, 40]), 2, sound)
    assert 20 * np.log10(splice.gains[1]) == pytest.approx(-6, abs=1)
    assert splice.until == _ms(1240) - ROOM.lead
    (other,) = _place(_blocks([1000, 1200], [0, -30]), 2, sound)
    assert 20 * np.log10(other.gains[1]) == pytest.approx(4.5, abs=1)


@pytest.mark.parametrize("likeness", [1.0, 0.6, 0.0, -0.4, -0.9])
def test_curves_keep_the_power_of_sounds_that_are_so_alike(likeness: float) -> None:
    splice = Splice(0, 400, 0, 10, likeness, 0.0, 1, (1.0, 1.0), 400, 0)
    old, new = curves(splice)
    # Where both work against each other more than that, the level is let down a little: single
    # files may not be so unlike.
    alike = max(likeness, -0.5)
    assert old**2 + new**2 + 2 * alike * old * new == pytest.approx(np.ones(400))
    assert max(old.max(), new.max()) <= 1.2
    if likeness >= 0:
        assert (np.diff(new) > 0).all()
    if likeness == 1:
        assert old + new == pytest.approx(np.ones(400))


def test_stretches_fill_the_file() -> None:
    splices = [
        Splice(100, 20, 0, 5, 1.0, 0.0, 1, (1.0, 1.0), 120, 0),
        Splice(300, 20, 5, -5, 1.0, 0.0, 2, (1.0, 0.5), 350, 10),
    ]
    assert list(stretches(splices, 1000)) == [(0, 100, 0), (120, 180, 5), (350, 650, -5)]
