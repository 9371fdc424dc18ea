"""How well takes are placed in songs: `python -m tests.evaluation.score_song WHAT FOLDER`.

misfit: real takes (FOLDER) on a song of their own labelled tempo, and beside it.
watch: 200 invented files written slowly, renamed into place, or completed late, into a new FOLDER.
"""

import argparse
import sys
import threading
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from tests.build import midi_bytes, track
from tests.jobs.batch.few import small_take

from evenhand import Take, fit, read_take, tighten
from evenhand.errors import EvenhandError
from evenhand.jobs.batch import Settings
from evenhand.jobs.watch import Arrived, wake_ups, watch
from evenhand.jobs.workers import Workers
from evenhand.song import Song
from evenhand.song.misfit import compare_beats


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")


def song_of(tempo: int, meter: tuple[int, int]) -> Take:
    """A song of one tempo, µs per quarter."""
    import mido

    events = [
        (0, mido.MetaMessage("set_tempo", tempo=tempo)),
        (0, mido.MetaMessage("time_signature", numerator=meter[0], denominator=meter[1])),
    ]
    return Take.from_bytes(midi_bytes(track(events)), "song")


def score_misfit(folder: Path, each: int) -> None:
    """Alarms on takes that lie on their song, and on takes that don't."""
    random = np.random.default_rng(18)
    count = told = 0
    caught = {"offset": [0, 0, 0], "tempo": [0, 0, 0]}
    for path in sorted(folder.glob("*.mid"))[::each]:
        take = read_take(path)
        tempo = int(take.tempo.tempo[-1])
        meter = int(take.meter.beats[-1]), int(take.meter.unit[-1])
        try:
            found = fit(take).fit
        except EvenhandError:
            continue
        hits = take.hits().ms / 1000
        ends = float(hits.min()), float(hits.max())
        song = song_of(tempo, meter)
        first = compare_beats(found, Song(song), *ends)
        count += 1
        if first:
            told += 1
            _say(f"  {path.stem}: {first.text}")
            continue
        quarter = tempo / 1000
        shift = float(random.uniform(0.2, 0.35) * quarter * random.choice([-1, 1]))
        moved = compare_beats(found, Song(song, shift), *ends)
        caught["offset"][0] += 1
        if moved and moved.at_s is not None:
            caught["offset"][1] += 1
            caught["offset"][2] += abs(1000 * moved.at_s) < 0.12 * quarter
        factor = float(random.choice([0.9, 0.95, 1.05, 1.1]))
        other = compare_beats(found, Song(song_of(round(tempo * factor), meter)), *ends)
        caught["tempo"][0] += 1
        if other and other.bpm is not None:
            caught["tempo"][1] += 1
            caught["tempo"][2] += abs(other.bpm / (6e7 / tempo) - 1) < 0.01
    _say(f"{count} takes that tell a tempo; told although on their song: {told}")
    for name, (many, seen, right) in caught.items():
        _say(f"wrong {name}: told {seen} of {many}, what would fit is right in {right}")


def score_watch(folder: Path, each: int) -> None:
    """200 files that come in three ways: how often each was tightened, and from which bytes."""
    del each
    (folder / "in").mkdir(parents=True)
    takes = {f"take-{number:03}.mid": small_take(number) for number in range(200)}
    writer = threading.Thread(target=_arrive, args=(folder, takes))
    stop = threading.Event()
    settings = Settings(folder / "out")
    times: Counter[str] = Counter()
    waited = 0
    begin = time.monotonic()
    writer.start()
    quiet_since = begin
    wakes = wake_ups(folder / "in", stop)

    def until_quiet() -> Iterator[bool]:
        nonlocal quiet_since
        for wake in wakes:
            if writer.is_alive() or wake:
                quiet_since = time.monotonic()
            if time.monotonic() - quiet_since > 5:
                return
            yield wake

    for event in watch(folder / "in", settings, Workers(1), until_quiet()):
        if isinstance(event, Arrived) and event.outcome.state == "done":
            times[str(event.outcome.row["take"])] += 1
        else:
            waited += 1
    writer.join()
    right = sum(
        (folder / "out" / f"{name[:-4]}-tight.mid").read_bytes()
        == tighten(Take.from_bytes(data)).take.to_bytes()
        for name, data in takes.items()
    )
    once = sum(times[name] == 1 for name in takes)
    _say(
        f"{len(takes)} files in {time.monotonic() - begin:.0f} s: {once} tightened once, "
        f"{len(times) - once} more than once, {right} from the whole bytes; "
        f"{waited} times half a file was told as waiting"
    )


def _arrive(folder: Path, takes: dict[str, bytes]) -> None:
    """A third written slowly, a third renamed into place, a third left half for a while."""
    late: list[tuple[float, Path, bytes]] = []
    for number, (name, data) in enumerate(takes.items()):
        path = folder / "in" / name
        if number % 3 == 0:
            with path.open("wb") as file:
                for piece in range(0, len(data), 200):
                    file.write(data[piece : piece + 200])
                    file.flush()
                    time.sleep(0.02)
        elif number % 3 == 1:
            (folder / name).write_bytes(data)
            (folder / name).replace(path)
        else:
            path.write_bytes(data[: len(data) * (number % 7 + 1) // 9])
            late.append((time.monotonic() + 1 + number % 5, path, data))
        time.sleep(0.05)
        due = [one for one in late if one[0] < time.monotonic()]
        for one in due:
            one[1].write_bytes(one[2])
            late.remove(one)
    for at, path, data in late:
        time.sleep(max(at - time.monotonic(), 0))
        path.write_bytes(data)


_SCORES = {"misfit": score_misfit, "watch": score_watch}


def main() -> None:
    """Run one of the scores."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=[*_SCORES])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--each", type=int, default=1)
    given = parser.parse_args()
    _SCORES[given.what](given.folder, given.each)


if __name__ == "__main__":
    main()
