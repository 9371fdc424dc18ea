"""Where the audio lies: offset and drift are found, and the wrong audio is refused."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from tests.jobs.conform.studio import RATE, burst, moves_of, record, write

from evenhand.errors import SoundError
from evenhand.jobs.conform.attacks import unlisted
from evenhand.jobs.conform.clocks import Clock, coarse_clock, fit_line
from evenhand.jobs.conform.match import Match, find_match
from evenhand.jobs.conform.microphone import common_size, open_microphones
from evenhand.jobs.conform.rises import HeardAttacks, hear


def _played(number: int, count: int = 100) -> np.ndarray:
    """Times of hits in ms that no other offset can be taken for."""
    return 500 + np.cumsum(np.random.default_rng(number).uniform(120, 700, count))


def _heard(folder: Path, ms: np.ndarray) -> HeardAttacks:
    sounds = [burst(number) for number in range(len(ms))]
    frames = int((ms[-1] + 600) * RATE / 1000)
    with (
        open_microphones(write(folder, record(ms, frames, sounds))) as files,
        ThreadPoolExecutor(2) as pool,
    ):
        return hear(files, common_size(files), pool, lambda _: None)


def _match(folder: Path, ms: np.ndarray, audio: np.ndarray, **more: bool) -> Match:
    moves = moves_of(ms, 0 * ms)
    return find_match(moves, _heard(folder, audio), None, more.get("drift", False))


@pytest.mark.parametrize(("offset", "drift"), [(0, 0), (137.4, 60), (-411.7, -95), (1900, 12)])
def test_offset_and_drift_are_found(tmp_path: Path, offset: float, drift: float) -> None:
    ms = _played(3)
    audio = ms * (1 + drift * 1e-6) + offset
    there = audio > 0
    match = _match(tmp_path, ms[there], audio[there])
    assert 1000 * match.clock.offset == pytest.approx(offset, abs=1)
    assert match.clock.drift == pytest.approx(drift, abs=5)
    assert match.share > 0.95


def test_attacks_are_found_to_a_millisecond(tmp_path: Path) -> None:
    ms = _played(4)
    # A trigger that reports now early, now late, by up to 6 ms.
    late = np.random.default_rng(5).uniform(-6, 6, len(ms))
    match = _match(tmp_path, ms - late, ms)
    assert np.abs(match.at / RATE * 1000 - ms).max() < 1.5
    assert match.found.all()


def test_clocks_that_run_far_apart_are_refused_unless_allowed(tmp_path: Path) -> None:
    ms = _played(6)
    with pytest.raises(SoundError, match=r"\+40\d millionths.*--drift"):
        _match(tmp_path, ms, ms * (1 + 402e-6))
    assert _match(tmp_path, ms, ms * (1 + 402e-6), drift=True).clock.drift == pytest.approx(
        402, abs=5
    )


def test_other_audio_is_refused_with_the_share(tmp_path: Path) -> None:
    with pytest.raises(SoundError, match=r"not the audio of this take.*\d+% of the hits"):
        _match(tmp_path, _played(8), _played(9))


def test_silence_is_refused() -> None:
    heard = HeardAttacks(24, RATE, np.zeros(4000, np.float32), np.zeros(1), np.zeros(1, np.int64))
    with pytest.raises(SoundError, match="silent"):
        find_match(moves_of([100.0], [0.0]), heard, None, drift=False)


def test_attacks_that_the_take_lacks_are_found(tmp_path: Path) -> None:
    ms = _played(10)
    heard = _heard(tmp_path, ms)
    listed = np.delete(ms, [20, 50, 80])
    found = unlisted(np.rint(listed * RATE / 1000).astype(np.int64), heard)
    assert found / RATE * 1000 == pytest.approx(ms[[20, 50, 80]], abs=2)


def test_a_few_wrong_pairs_do_not_bend_the_line() -> None:
    random = np.random.default_rng(11)
    seconds = np.sort(random.uniform(0, 300, 400))
    late = 0.003 + 40e-6 * seconds + random.normal(0, 0.0005, 400)
    late[::10] = random.uniform(-0.015, 0.015, 40)
    pieces = np.where(np.arange(400) % 2, "kick", "hat")
    late[pieces == "hat"] += 0.002
    every = np.ones(400, np.bool_)
    line, error = fit_line(seconds, late, every, pieces, pieces == "kick", turn=True)
    assert line.offset == pytest.approx(0.003, abs=3e-4)
    assert line.drift == pytest.approx(40, abs=2)
    assert error < 1


def test_coarse_clock_of_a_long_file_with_drift() -> None:
    # An hour of hits, and a clock that is a third of a second off at its end.
    seconds = np.cumsum(np.random.default_rng(12).uniform(0.1, 0.7, 9000))
    rise = np.zeros(int(2000 * (seconds[-1] + 2)), np.float32)
    rise[np.rint(2000 * (seconds * (1 + 90e-6) + 0.5)).astype(int)] = 5
    heard = HeardAttacks(24, RATE, rise, np.ones(1), np.zeros(1, np.int64))
    clock = coarse_clock(seconds, heard)
    apart = clock.at(seconds) - Clock(0.5, 90).at(seconds)
    assert np.abs(apart).max() < 0.012
