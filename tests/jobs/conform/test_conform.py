"""The promises: whole attacks, microphones in phase, untouched where nothing moves."""

import csv
from collections.abc import Sequence
from pathlib import Path

import mido
import numpy as np
import pytest
import soundfile
from tests.build import HAT, KICK, SNARE, TICKS_PER_MS, drum_bytes
from tests.jobs.conform.studio import RATE, burst, numbers, record, save_takes, write

from evenhand import Recipe, Take
from evenhand.errors import DiskError, MidiFileError, SoundError
from evenhand.jobs.conform import Conformed, ConformSettings, conform, moves_between
from evenhand.kit import load_kit

_LEAD, _HOLD = round(0.004 * RATE), round(0.03 * RATE)


def _take(ms: Sequence[float], note: int = SNARE) -> bytes:
    return drum_bytes([(round(one * TICKS_PER_MS), note) for one in ms])


def _times(number: int, count: int = 40) -> np.ndarray:
    """Hits a sixteenth to a half apart, on whole ticks."""
    gaps = np.random.default_rng(number).uniform(110, 500, count)
    return np.rint((500 + np.cumsum(gaps)) * TICKS_PER_MS) / TICKS_PER_MS


def _shifts(number: int, count: int = 40) -> np.ndarray:
    """A third of the hits move, by up to 25 ms; on whole ticks."""
    random = np.random.default_rng(number)
    shift = np.where(random.random(count) < 0.4, random.uniform(-25, 25, count), 0)
    return np.rint(shift * TICKS_PER_MS) / TICKS_PER_MS


class _Session:
    """A take, its tightened version, and the files of three microphones."""

    def __init__(self, folder: Path, ms: np.ndarray, shift: np.ndarray, **form: str) -> None:
        self.folder = folder
        self.ms, self.shift = ms, shift
        self.frames = round((ms[-1] + 900) * RATE / 1000)
        self.sounds = [burst(number) for number in range(len(ms))]
        self.paths = write(
            folder / "mics",
            record(ms, self.frames, self.sounds),
            form.get("subtype", "PCM_24"),
            form.get("ending", "wav"),
        )
        self.played, self.tight = save_takes(folder, _take(ms), _take(ms + shift))

    def run(self, tight: Take | None = None, **settings: float) -> Conformed:
        moves = moves_between(
            self.played, tight or self.tight, load_kit("ekit"), anchors=Recipe().anchor
        )
        return conform(
            self.played, moves, self.paths, self.folder / "out", ConformSettings(**settings)
        )

    @property
    def old(self) -> list[np.ndarray]:
        return [numbers(path) for path in self.paths]

    @property
    def new(self) -> list[np.ndarray]:
        return [numbers(self.folder / "out" / path.name) for path in self.paths]


def test_a_take_without_moves_gives_the_same_bytes(tmp_path: Path) -> None:
    session = _Session(tmp_path, _times(1), np.zeros(40))
    done = session.run()
    assert done.plan.splices == ()
    for path in session.paths:
        assert (tmp_path / "out" / path.name).read_bytes() == path.read_bytes()


@pytest.mark.parametrize(
    ("subtype", "ending"),
    [("PCM_16", "wav"), ("PCM_24", "aiff"), ("FLOAT", "wav"), ("PCM_24", "flac")],
)
def test_attacks_are_whole_and_alike_in_every_file(
    tmp_path: Path, subtype: str, ending: str
) -> None:
    session = _Session(tmp_path, _times(2), _shifts(3), subtype=subtype, ending=ending)
    session.run()
    samples = np.rint(session.shift * RATE / 1000).astype(int)
    assert np.count_nonzero(samples) > 8
    for old, new in zip(session.old, session.new, strict=True):
        assert old.shape == new.shape
        for at, by in zip(np.rint(session.ms * RATE / 1000).astype(int), samples, strict=True):
            whole = old[at - _LEAD + 48 : at + _HOLD]
            assert np.array_equal(new[at + by - _LEAD + 48 : at + by + _HOLD], whole)


def test_nothing_changes_where_nothing_moves(tmp_path: Path) -> None:
    ms, shift = _times(4), np.zeros(40)
    shift[20:23] = 12.5
    session = _Session(tmp_path, ms, shift)
    session.run()
    before = round((ms[19] + 30) * RATE / 1000)
    behind = round((ms[23] - 4) * RATE / 1000)
    for old, new in zip(session.old, session.new, strict=True):
        assert np.array_equal(old[:before], new[:before])
        assert np.array_equal(old[behind:], new[behind:])
        assert not np.array_equal(old[before:behind], new[before:behind])


def test_every_attack_is_heard_once(tmp_path: Path) -> None:
    session = _Session(tmp_path, _times(5), _shifts(6))
    session.run()
    wanted = np.rint((session.ms + session.shift) * RATE / 1000).astype(int)
    new = session.new[0][:, 0] / 2**31
    for number, at in enumerate(wanted):
        # Each hit has a noise of its own, which nothing else correlates with.
        one = session.sounds[number][:1200]
        fits = np.correlate(new[max(at - 6000, 0) : at + 6000], one, "valid")
        found = np.flatnonzero(fits > 0.5 * float(one @ one))
        assert len(found) == 1
        assert found[0] + max(at - 6000, 0) == at


def test_files_that_hold_hits_without_midi_are_not_cut_inside_them(tmp_path: Path) -> None:
    session = _Session(tmp_path, _times(7), _shifts(8))
    # The take lists every second hit only; the others have no trigger.
    some = np.arange(0, 40, 2)
    played = Take.from_bytes(_take(session.ms[some]), "take.mid")
    tight = Take.from_bytes(_take((session.ms + session.shift)[some]), "tight.mid")
    moves = moves_between(played, tight, load_kit("ekit"), anchors=Recipe().anchor)
    done = conform(played, moves, session.paths, tmp_path / "out", ConformSettings())
    assert done.told["unlisted_attacks"] == 20
    new = session.new[0][:, 0] / 2**31
    for number in range(40):
        one = session.sounds[number][:1200]
        at = round(session.ms[number] * RATE / 1000)
        fits = np.correlate(new[max(at - 6000, 0) : at + 6000], one, "valid")
        assert (fits > 0.5 * float(one @ one)).sum() == 1


def test_inputs_are_not_written_and_nothing_is_left_of_a_failure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = _Session(tmp_path, _times(9), _shifts(10))
    before = [path.read_bytes() for path in session.paths]

    def fail(*_: object) -> bytes:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("evenhand.jobs.conform.conformed_folder.write_conformed", fail)
    with pytest.raises(DiskError, match="No space left"):
        session.run()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["mics", "take.mid", "tight.mid"]
    assert [path.read_bytes() for path in session.paths] == before


def test_a_disk_that_is_too_small_is_told_before_the_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = _Session(tmp_path, _times(9), _shifts(10))
    monkeypatch.setattr(
        "evenhand.jobs.conform.conformed_folder.shutil.disk_usage",
        lambda _: type("Usage", (), {"free": 1000})(),
    )
    monkeypatch.setattr(
        "evenhand.jobs.conform.job.open_microphones", lambda _: pytest.fail("work has begun")
    )
    with pytest.raises(DiskError, match=r"needs \d+ MB and the disk has 0 MB left"):
        session.run()


def test_a_folder_that_leads_in_a_circle_is_refused(tmp_path: Path) -> None:
    session = _Session(tmp_path, _times(1), np.zeros(40))
    (tmp_path / "out").symlink_to(tmp_path / "out")
    with pytest.raises(DiskError, match="out"):
        session.run()


def test_files_of_other_length_or_rate_are_refused(tmp_path: Path) -> None:
    session = _Session(tmp_path, _times(1), np.zeros(40))
    sound = soundfile.read(session.paths[1])[0]
    soundfile.write(session.paths[1], sound[:-7], RATE, "PCM_24")
    with pytest.raises(SoundError, match="samples long"):
        session.run()
    soundfile.write(session.paths[1], sound, 44_100, "PCM_24")
    with pytest.raises(SoundError, match="44100 Hz"):
        session.run()


def test_a_silent_file_is_cut_like_the_others(tmp_path: Path) -> None:
    session = _Session(tmp_path, _times(2), _shifts(3))
    soundfile.write(session.paths[1], np.zeros(session.frames), RATE, "PCM_24")
    done = session.run()
    assert done.told["silent"] == ["mic-1.wav"]
    assert not session.new[1].any()


def test_clipped_files_and_missing_attacks_are_told(tmp_path: Path) -> None:
    ms, shift = _times(2), _shifts(3)
    shift[11] = 20
    session = _Session(tmp_path, ms, shift)
    heard = record(np.delete(ms, 11), session.frames, session.sounds[:11] + session.sounds[12:])
    heard[0] *= 8
    write(tmp_path / "mics", np.clip(heard, -1, 1))
    done = session.run()
    assert done.told["clipped"]["mic-0.wav"] > 10
    missing = [one for one in done.doubts if one.kind == "missing attack"]
    assert [str(one.place) for one in missing] == [
        str(one) for one in [_place_of(session.played, ms[11])]
    ]


def _place_of(take: Take, ms: float) -> str:
    bar, beat = take.meter.place(take.tempo.to_tick(ms))
    return f"{int(bar)}:{float(beat):.3f}".rstrip("0").rstrip(".")


def test_offset_given_or_found_moves_the_cuts(tmp_path: Path) -> None:
    ms, shift = _times(2), _shifts(3)
    session = _Session(tmp_path, ms, shift)
    late = record(ms + 57, session.frames, session.sounds)
    write(tmp_path / "mics", late)
    found = session.run()
    assert found.told["offset_ms"] == pytest.approx(57, abs=1)
    with pytest.raises(DiskError, match="exists"):
        session.run()
    (tmp_path / "out").rename(tmp_path / "first")
    given = session.run(offset=57.0)
    assert [one.change for one in given.plan.splices] == [one.change for one in found.plan.splices]
    (tmp_path / "out").rename(tmp_path / "second")
    with pytest.raises(SoundError, match="not the audio"):
        session.run(offset=400.0)


def test_hits_struck_together_follow_the_anchor(tmp_path: Path) -> None:
    ms = _times(12, 30)
    shift = np.zeros(30)
    shift[10] = 15
    both = [(round(one * TICKS_PER_MS), SNARE) for one in ms]
    hats = [(tick + 10, HAT, 127) for tick, _ in both]
    tight = [(round((one + by) * TICKS_PER_MS), SNARE) for one, by in zip(ms, shift, strict=True)]
    session = _Session(tmp_path, ms, shift)
    session.played = Take.from_bytes(drum_bytes(both + hats), "take.mid")
    # One limb at a time: the hat stays where it was.
    done = session.run(Take.from_bytes(drum_bytes(tight + hats), "tight.mid"))
    assert done.told["hits_moved"] == 2
    assert done.told["apart_from_midi"]["hits"] == 1
    assert done.told["apart_from_midi"]["largest_ms"] == pytest.approx(15, abs=1.1)
    assert [one.kind for one in done.doubts].count("moved together") == 1
    with (tmp_path / "out" / "apart.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [(row["piece"], row["leader"]) for row in rows] == [("hat", "snare")]
    assert float(rows[0]["midi_ms"]) == 0
    assert float(rows[0]["audio_ms"]) == pytest.approx(15, abs=0.6)
    assert float(rows[0]["apart_ms"]) == pytest.approx(15, abs=0.6)


def test_markers_lie_where_the_audio_has_them(tmp_path: Path) -> None:
    ms, shift = _times(2), _shifts(3)
    shift[11] = 20
    session = _Session(tmp_path, ms, shift)
    heard = record(
        np.delete(ms, 11) + 57, session.frames, session.sounds[:11] + session.sounds[12:]
    )
    write(tmp_path / "mics", heard)
    moves = moves_between(session.played, session.tight, load_kit("ekit"), anchors=Recipe().anchor)
    out = tmp_path / "out"
    settings = ConformSettings()
    done = conform(session.played, moves, session.paths, out, settings, markers=True)
    with (out / "conform.markers.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    wanted = sorted(done.doubts, key=lambda one: one.seconds)
    assert [row["text"] for row in rows] == [f"listen: {one.kind}" for one in wanted]
    for row, one in zip(rows, wanted, strict=True):
        assert float(row["seconds"]) == pytest.approx(one.seconds, abs=1e-6)
        assert int(row["sample"]) == pytest.approx(one.seconds * RATE, abs=1)
    midi = mido.MidiFile(out / "conform.markers.mid")
    tick = np.cumsum([message.time for message in midi.tracks[0]])
    marks = [at for at, one in zip(tick, midi.tracks[0], strict=True) if one.type == "marker"]
    late = done.told["offset_ms"]
    assert marks == pytest.approx(
        [(1000 * one.seconds - late) * TICKS_PER_MS for one in wanted], abs=1
    )


def test_other_takes_are_refused() -> None:
    first = Take.from_bytes(_take(_times(1), KICK), "a.mid")
    second = Take.from_bytes(_take(_times(2) + 7000, KICK), "b.mid")
    with pytest.raises(MidiFileError, match="another take"):
        moves_between(first, second, load_kit("ekit"), anchors=Recipe().anchor)
