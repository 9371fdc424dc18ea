"""The measure of lost and doubled attacks finds both, and nothing where nothing is wrong."""

import numpy as np
import pytest
from tests.evaluation.onsets import lost_and_doubled, once_more
from tests.jobs.conform.studio import RATE, burst

pytest.importorskip("librosa")

_FULL = 2**23


def _recording(ms: np.ndarray, loud: np.ndarray) -> np.ndarray:
    """Hits in one microphone with hiss, 24 bits; each moment has a sound of its own."""
    sound = np.random.default_rng(1).normal(size=round(0.001 * ms.max() * RATE) + RATE) * 2e-4
    for at, gain in zip(ms.tolist(), loud.tolist(), strict=True):
        begin = round(at * RATE / 1000)
        one = burst(round(at), 0.012)
        sound[begin : begin + len(one)] += gain * one
    return np.asarray(np.rint(sound * _FULL))


def _played() -> tuple[np.ndarray, np.ndarray]:
    random = np.random.default_rng(2)
    return 500 + np.cumsum(random.uniform(110, 400, 40)), random.uniform(0.3, 1, 40)


def test_nothing_is_found_in_the_same_sound_or_a_little_later() -> None:
    truth = _recording(*_played())
    for other in (truth, once_more(truth, RATE, 3)):
        lost, doubled = lost_and_doubled(truth, other, RATE)
        assert len(lost.attacks) == 40
        assert not len(lost.lacking)
        assert not len(doubled.lacking)


def test_an_attack_taken_out_is_lost_and_one_heard_again_is_doubled() -> None:
    ms, loud = _played()
    truth = _recording(ms, loud)
    out = np.delete(np.arange(40), [7, 22, 31])
    lost, doubled = lost_and_doubled(truth, _recording(ms[out], loud[out]), RATE)
    assert lost.lacking / RATE * 1000 == pytest.approx(ms[[7, 22, 31]], abs=6)
    assert not len(doubled.lacking)
    # A soft one behind itself is hardly an attack any more; the loudest are.
    two = np.sort(np.argsort(loud)[-2:])
    again = _recording(np.append(ms, ms[two] + 30), np.append(loud, loud[two]))
    lost, doubled = lost_and_doubled(truth, again, RATE)
    assert doubled.lacking / RATE * 1000 == pytest.approx(ms[two] + 30, abs=6)
    assert not len(lost.lacking)


def test_what_a_splice_repeats_or_swallows_is_found() -> None:
    ms, loud = _played()
    truth = _recording(ms, loud)
    at = round(ms[12] * RATE / 1000)
    early, long = round(0.005 * RATE), round(0.03 * RATE)
    # From 5 ms ahead of the attack on, 30 ms are heard twice; or all of the hit is jumped over.
    twice = np.concatenate([truth[: at - early + long], truth[at - early :]])[: len(truth)]
    twice[at + 3 * long :] = truth[at + 3 * long :]
    assert lost_and_doubled(truth, twice, RATE)[1].lacking / RATE * 1000 == pytest.approx(
        [ms[12] + 30], abs=6
    )
    jump = truth.copy()
    jump[at - early : at + 2 * long] = truth[at - 3 * early - 2 * long : at - 2 * early]
    assert lost_and_doubled(truth, jump, RATE)[0].lacking[0] / RATE * 1000 == pytest.approx(
        ms[12], abs=6
    )
