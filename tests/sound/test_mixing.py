"""Rendering: each hit on its sample, blocks that don't show, stems that sum up."""

from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.build import HAT, KICK, SNARE, drum_take
from tests.lengths import examples
from tests.listen.hearing import onsets

from evenhand.errors import SettingError
from evenhand.kit.maps import KIT_MAPS
from evenhand.kit.roles import label
from evenhand.sound import mixing
from evenhand.sound.mixing import PEAK_DB, Mix, peak_of, summed, to_sample, write_sound
from evenhand.sound.samples import OneShot, loudness
from evenhand.sound.score import Score
from evenhand.sound.stems import render_take
from evenhand.take.take import Take

KIT = KIT_MAPS["ekit"]
RATE = 44_100


def score(ms: list[float], velocity: list[int], voice: list[int], until: list[float] | None = None):
    order = np.argsort(ms, kind="stable")
    return Score(
        hit=order,
        ms=np.array(ms)[order],
        voice=np.array(voice)[order],
        velocity=np.array(velocity)[order],
        until_ms=np.full(len(ms), np.inf) if until is None else np.array(until)[order],
        voices=["a", "b"],
    )


def whole(mix: Mix) -> np.ndarray:
    return np.concatenate([*mix.blocks(), np.zeros(0, np.float32)])


IMPULSES = {
    "a": OneShot(RATE, np.array([1, 0, 0], np.float32)),
    "b": OneShot(RATE, np.array([0.5, 0.25], np.float32)),
}


def test_a_hit_starts_at_round_of_seconds_times_rate() -> None:
    assert to_sample(np.array([0.0, 1000.0, 0.011, 0.012]), RATE).tolist() == [0, 44_100, 0, 1]
    sound = whole(Mix(score([10.0, 333.333], [127, 127], [0, 0]), IMPULSES, RATE))
    assert np.flatnonzero(sound).tolist() == [441, 14_700]
    assert sound[441] == 1


hit_lists = st.lists(
    st.tuples(st.floats(0, 200), st.integers(112, 127), st.integers(0, 1), st.floats(0, 60)),
    min_size=1,
    max_size=30,
)


@settings(max_examples=examples(40))
@given(hit_lists, st.integers(50, 5000))
def test_blocks_equal_one_long_addition(hits, block: int) -> None:
    rng = np.random.default_rng(3)
    samples = {
        "a": OneShot(RATE, rng.standard_normal(900).astype(np.float32)),
        "b": OneShot(RATE, rng.standard_normal(2500).astype(np.float32)),
    }
    ms, velocity, voice, room = (list(column) for column in zip(*hits, strict=True))
    until = [one + free for one, free in zip(ms, room, strict=True)]
    mix = Mix(score(ms, velocity, voice, until), samples, RATE)
    expected = np.zeros(mix.length)
    for one, loud, which, end in zip(ms, velocity, voice, until, strict=True):
        start, stop = round(one / 1000 * RATE), round(end / 1000 * RATE)
        sound = samples["ab"[which]].signal * loudness(loud)
        envelope = np.clip(1 - (np.arange(len(sound)) - (stop - start)) / 440, 0, 1)
        expected[start : start + len(sound)] += sound * envelope
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(mixing, "BLOCK", block)
        sound = whole(mix)
    assert len(sound) == mix.length
    assert np.abs(sound - expected).max() < 0.02


def test_empty_score_is_no_sound() -> None:
    assert whole(Mix(score([], [], []), IMPULSES, RATE)).tolist() == []
    assert peak_of([(Mix(score([], [], []), IMPULSES, RATE), 1.0)]) == 0


def prepared(take: Take, **options):
    hits, _ = label(take.hits(), KIT, ("kick", "snare"))
    return render_take(take, hits, KIT, rate=options.pop("rate", RATE), **options)


def sound_of(rendering, name: str = "mix") -> np.ndarray:
    return np.concatenate(list(summed(rendering.files[name])))


def groove() -> Take:
    steps = [(240 * step + (step * 7) % 13, HAT, 60 + step % 50) for step in range(64)]
    beats = [(480 * beat + (beat * 5) % 11, (KICK, SNARE)[beat % 2], 110) for beat in range(32)]
    return drum_take(steps + beats)


def test_peak_is_minus_one_dbfs() -> None:
    for click in (None, -24.0, 0.0):
        sound = sound_of(prepared(groove(), click_db=click))
        assert 20 * np.log10(np.abs(sound).max()) == pytest.approx(PEAK_DB, abs=0.001)


def test_gain_is_what_was_added() -> None:
    rendering = prepared(groove())
    mix = rendering.files["mix"][0][0]
    gain = 20 * np.log10(np.abs(sound_of(rendering)).max() / np.abs(whole(mix)).max())
    assert rendering.gain_db == pytest.approx(gain, abs=0.001)


def test_click_lies_under_the_drums_by_its_level() -> None:
    rendering = prepared(groove(), click_db=-24.0, stems=True)
    drums = np.zeros(int(rendering.seconds * RATE) + 1, np.float32)
    for name in rendering.files:
        if name != "click":
            sound = sound_of(rendering, name)
            drums[: len(sound)] += sound
    ratio = np.abs(sound_of(rendering, "click")).max() / np.abs(drums).max()
    assert 20 * np.log10(ratio) == pytest.approx(-24, abs=0.01)


def test_stems_sum_to_the_mix() -> None:
    mix = sound_of(prepared(groove(), click_db=-18.0))
    stems = prepared(groove(), click_db=-18.0, stems=True)
    assert set(stems.files) == {"kick", "snare", "hat", "click"}
    total = np.zeros(len(mix))
    for name in stems.files:
        sound = sound_of(stems, name)
        total[: len(sound)] += sound
    assert np.abs(total - mix).max() < 1e-5


@pytest.mark.parametrize("kind", [".wav", ".flac", ".ogg"])
@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_detector_finds_isolated_hits_within_two_ms(tmp_path: Path, kind: str, rate: int) -> None:
    ticks = [487 + 500 * index + 29 * (index % 7) for index in range(24)]
    notes = [KICK, SNARE, HAT, 37, 44, 40]
    take = drum_take([(tick, notes[i % 6], 100) for i, tick in enumerate(ticks)])
    path = tmp_path / f"x{kind}"
    write_sound(path, kind, prepared(take, rate=rate).files["mix"], rate)
    sound, got_rate = soundfile.read(path)
    assert got_rate == rate
    expected = np.array([take.to_pretty_midi().tick_to_time(tick) * 1000 for tick in ticks])
    heard = onsets(sound, rate, quiet_ms=60)
    assert len(heard) == len(expected)
    assert np.abs(heard - expected).max() < 2.0


def test_ogg_is_aligned_to_the_sample(tmp_path: Path) -> None:
    parts = prepared(drum_take([(480, KICK), (1111, SNARE), (2222, HAT)])).files["mix"]
    for kind in (".wav", ".ogg"):
        write_sound(tmp_path / f"x{kind}", kind, parts, RATE)
    exact, lossy = (soundfile.read(tmp_path / f"x{kind}")[0] for kind in (".wav", ".ogg"))
    assert len(exact) == len(lossy)
    lags = range(-50, 51)
    likeness = [np.dot(exact[100:-100], np.roll(lossy, lag)[100:-100]) for lag in lags]
    assert lags[int(np.argmax(likeness))] == 0


def test_files_are_written_in_blocks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sizes: list[int] = []
    write = soundfile.SoundFile.write

    def counted(file: soundfile.SoundFile, data: np.ndarray) -> None:
        sizes.append(len(data))
        write(file, data)

    monkeypatch.setattr(soundfile.SoundFile, "write", counted)
    take = drum_take([(0, KICK), (480 * 60, SNARE)])
    write_sound(tmp_path / "x", ".ogg", prepared(take).files["mix"], RATE)
    assert len(sizes) > 1
    assert max(sizes) <= mixing.BLOCK
    assert soundfile.info(tmp_path / "x").frames == sum(sizes)


def test_own_samples_that_are_silent_are_refused(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "kick.wav", np.zeros(100), RATE)
    with pytest.raises(SettingError, match="silent"):
        prepared(drum_take([(0, KICK)]), folder=tmp_path)
