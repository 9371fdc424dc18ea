"""How well takes are placed in songs: `python -m tests.evaluation.score_song misfit FOLDER`.

misfit: real takes on a song of their own labelled tempo, and beside it.
"""

import argparse
import sys
from pathlib import Path

import numpy as np
from tests.build import midi_bytes, track

from evenhand import Take, fit, read_take
from evenhand.errors import EvenhandError
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


def main() -> None:
    """Run one of the scores."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=["misfit"])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--each", type=int, default=1)
    given = parser.parse_args()
    {"misfit": score_misfit}[given.what](given.folder, given.each)


if __name__ == "__main__":
    main()
