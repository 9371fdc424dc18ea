"""A loud room hears everything late: hits are where the first microphone has them."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.jobs.conform.studio import RATE, burst, moves_of, write

from evenhand.jobs.conform.cut_plan import ConformSettings, CutPlan, make_plan
from evenhand.jobs.conform.first_heard import find_first
from evenhand.jobs.conform.microphone import open_microphones
from evenhand.jobs.conform.rises import HeardAttacks

#: How late the room hears, and how much of other pieces a close microphone hears.
ROOM_MS, BLEED = 14.5, 0.05
_PIECES = ("kick", "snare", "hat")


def _beats(number: int, bars: int = 24) -> tuple[np.ndarray, np.ndarray]:
    """Times in ms and pieces of an invented groove of eighths, a little uneven."""
    chance = np.random.default_rng(number)
    rows = []
    for bar in range(bars):
        for place in range(8):
            at = 400 + 2000 * bar + 250 * place
            rows.append((at + chance.normal(0, 8), "hat"))
            if place in (0, 4, 5):
                rows.append((at + chance.normal(0, 8), "kick"))
            if place in (2, 6):
                rows.append((at + chance.normal(0, 8), "snare"))
    rows.sort()
    return np.array([row[0] for row in rows]), np.array([row[1] for row in rows])


def _session(ms: np.ndarray, piece: np.ndarray, close: tuple[str, ...], rooms: int) -> np.ndarray:
    """Close microphones of some pieces, and rooms that hear all of them late, as loud."""
    frames = round((ms[-1] + 800) * RATE / 1000)
    heard = np.zeros((len(close) + rooms, frames))
    for number, (at, name) in enumerate(zip(ms.tolist(), piece.tolist(), strict=True)):
        sound = burst(number, 0.06)
        for row, own in enumerate([*close, *[""] * rooms]):
            late = ROOM_MS + row * 0.3 if not own else 0.2 if own == name else 2.5
            loud = BLEED if own and own != name else 1.0
            begin = round((at + late) * RATE / 1000)
            part = sound[: frames - begin] * loud
            heard[row, begin : begin + len(part)] += part
    heard += 1e-4 * np.random.default_rng(5).normal(size=heard.shape)
    return heard * (0.1 / np.sqrt(np.mean(np.square(heard), axis=1)))[:, None]


def _plan(folder: Path, heard: np.ndarray, ms: np.ndarray, piece: np.ndarray) -> CutPlan:
    moves = replace(moves_of(ms, np.zeros(len(ms))), piece=piece)
    with open_microphones(write(folder, heard)) as files, ThreadPoolExecutor(2) as pool:
        return make_plan(files, moves, ConformSettings(), pool, lambda _: None)


@pytest.mark.parametrize(("rooms", "number"), [(1, 1), (2, 1), (2, 3), (4, 5)])
def test_hits_are_where_the_close_microphone_has_them(
    tmp_path: Path, rooms: int, number: int
) -> None:
    ms, piece = _beats(number)
    plan = _plan(tmp_path, _session(ms, piece, _PIECES, rooms), ms, piece)
    late = 1000 * plan.match.at / RATE - ms
    for name in _PIECES:
        assert np.abs(np.median(late[piece == name])) < 1, name
    # Nearer hits can be taken for one another's echo in the room.
    alone = np.minimum(np.diff(ms, prepend=-np.inf), np.diff(ms, append=np.inf)) > 45
    assert np.abs(late[alone]).max() < 1
    # Those are kept whole in both places, so that no attack is cut all the same.
    units = plan.units
    there = (ms[units.hit[units.hit >= 0]] + 0.2) * RATE / 1000
    mine = units.hit >= 0
    assert (there >= units.first[mine] - 0.004 * RATE).all()
    assert (there <= units.last[mine] + 0.03 * RATE).all()
    assert abs(1000 * plan.match.clock.offset) < 1


def test_what_only_the_room_hears_is_where_the_room_has_it(tmp_path: Path) -> None:
    ms, piece = _beats(2)
    heard = _session(ms, piece, ("kick", "snare"), 2)
    # Nothing of the hat gets into the close microphones.
    quiet = _session(ms[piece != "hat"], piece[piece != "hat"], ("kick", "snare"), 0)
    heard[:2, : quiet.shape[1]] = quiet[:, : heard.shape[1]]
    plan = _plan(tmp_path, heard, ms, piece)
    late = 1000 * plan.match.at / RATE - ms
    assert abs(np.median(late[piece == "kick"])) < 1
    assert abs(np.median(late[piece == "snare"])) < 1
    assert np.median(late[piece == "hat"]) == pytest.approx(ROOM_MS + 0.6, abs=1.2)


def test_hits_without_midi_are_kept_whole_from_where_they_are_heard_first(tmp_path: Path) -> None:
    ms, piece = _beats(4)
    heard = _session(ms, piece, _PIECES, 2)
    # The last hat of each bar has no trigger.
    lost = np.flatnonzero(piece == "hat")[7::8]
    kept = np.setdiff1d(np.arange(len(ms)), lost)
    units = _plan(tmp_path, heard, ms[kept], piece[kept]).units
    others = units.hit < 0
    alone = [one for one in lost if np.abs(ms[kept] - ms[one]).min() > 100]
    assert len(alone) > 10
    for at in (ms[alone] + 0.2) * RATE / 1000:
        whole = (units.first - 0.004 * RATE <= at) & (at <= units.last + 0.005 * RATE)
        assert (whole & others).any()


def _ears(moments: dict[int, np.ndarray]) -> Callable[[int, int, int], np.ndarray]:
    """Files in which a rise of 5 ms begins at some steps."""

    def listen(file: int, first: int, count: int) -> np.ndarray:
        steps = np.arange(first, first + count)[:, None]
        return 10.0 * ((steps >= moments[file]) & (steps < moments[file] + 10)).any(axis=1)

    return listen


@pytest.mark.parametrize(("early", "sure"), [(0, True), (9, False)])
def test_where_hits_do_not_agree_it_is_told_and_not_believed(early: int, sure: bool) -> None:
    step = 400 * np.arange(1, 21)
    close = step.copy()
    close[:early] -= 8 + 3 * np.arange(early) % 13
    heard = HeardAttacks(24, RATE, np.zeros(9000, np.float32), np.ones(2), np.zeros(2, np.int64))
    found = find_first(
        (step + 30) / heard.per_second,
        np.full(20, "snare"),
        np.ones(20, np.bool_),
        heard,
        _ears({0: step + 29, 1: close}),
    )
    assert found["snare"].file == 1
    assert found["snare"].sure == sure
    assert found["snare"].earlier == pytest.approx(0.0145, abs=0.002)
