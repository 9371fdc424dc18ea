"""The edges of `onsets`, chosen on the truth: nothing that was conformed is heard here.

    python -m tests.evaluation.choose_onsets FOLDER_OF_TAKES [MOST_TAKES [SECONDS]]

Takes are recorded by invented close microphones; then once more with every fourth hit that stands
alone taken out, and with as many heard again 30 ms later. For each pair of edges: attacks, how many
of those that were taken out and put in are found in the microphone of their piece, and what is
found in the truth against itself.
"""

import sys
from itertools import product
from pathlib import Path

import numpy as np
from tests.evaluation.microphones import label_hits, record
from tests.evaluation.onsets import Lacking, lacking, once_more, strength_of

from evenhand import read_take
from evenhand.jobs.demo_take import demo_take
from evenhand.take import Take
from evenhand.take.hits import Hits

_RATE, _NUMBER = 48_000, 7
_CLOSE = {"kick": 0, "snare": 2, "hat": 4, "tom": 5, "ride": 7}
_EDGES = tuple(product((0.08, 0.1, 0.15, 0.2), (0.03, 0.04, 0.05, 0.06, 0.08)))
#: A planted attack was found if one is told so near to it, seconds; and it stands alone by this.
_FOUND_S, _ALONE_MS = 0.012, 70.0
_AGAIN_MS, _LEAD_MS = 30.0, 500.0


def planted(
    hits: Hits, random: np.random.Generator, last_ms: float
) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """By piece with a close microphone, some hits that stand alone; and all of them, as indices."""
    gap = np.minimum(np.diff(hits.ms, prepend=-1e9), np.diff(hits.ms, append=1e9))
    chosen = {}
    for name in _CLOSE:
        mine = np.char.startswith(hits.piece, name) & (gap > _ALONE_MS) & (hits.ms < last_ms)
        some = np.flatnonzero(mine)
        chosen[name] = np.sort(random.permutation(some)[: max(len(some) // 4, min(len(some), 1))])
    return chosen, np.concatenate(list(chosen.values())).astype(np.int64)


def close(hits: Hits, ms: np.ndarray, frames: int) -> np.ndarray:
    """What the close microphones hear, 24 bits, each turned up alike in all versions."""
    sound = record(hits, ms + _LEAD_MS, _NUMBER, _RATE, frames, tuple(_CLOSE.values()))
    return np.rint(sound * 2**23)


def told_near(some: Lacking, at: np.ndarray) -> int:
    """How many of some moments have a lacking attack near them."""
    if not len(some.lacking):
        return 0
    near = np.abs(some.lacking[:, None] - at).min(axis=0)
    return int((near <= _FOUND_S * _RATE).sum())


def main() -> None:
    """Print a row for each pair of edges."""
    folder = Path(sys.argv[1])
    most = int(sys.argv[2]) if len(sys.argv) > 2 else 5
    seconds = float(sys.argv[3]) if len(sys.argv) > 3 else 25.0
    paths = sorted(folder.glob("*.mid"))
    long = [one for one in map(read_take, paths) if one.hits().ms.max() > 20_000]
    takes = [Take.from_bytes(demo_take(), "demo")]
    takes += [long[index] for index in np.linspace(0, len(long) - 1, most).astype(int)]
    # Attacks, taken out, found, put in, found, lost and doubled in the truth against itself.
    table = {edges: np.zeros(7, int) for edges in _EDGES}
    for number, take in enumerate(takes):
        hits = label_hits(take)
        frames = round(min(float(hits.ms.max()) / 1000 + 2, seconds) * _RATE)
        random = np.random.default_rng(number)
        chosen, every = planted(hits, random, 1000 * frames / _RATE - _LEAD_MS - 200)
        truth = close(hits, hits.ms, frames)
        rest = np.setdiff1d(np.arange(len(hits)), every)
        without = close(hits.only(rest), hits.ms[rest], frames)
        order = np.argsort(np.append(hits.ms, hits.ms[every] + _AGAIN_MS), kind="stable")
        twice = np.append(np.arange(len(hits)), every)[order]
        ms = np.append(hits.ms, hits.ms[every] + _AGAIN_MS)[order]
        again = close(hits.only(twice), ms, frames)
        for mic, name in enumerate(_CLOSE):
            at = np.rint((hits.ms[chosen[name]] + _LEAD_MS) * _RATE / 1000)
            sounds = (truth[mic], without[mic], again[mic], once_more(truth[mic], _RATE, number))
            mine, out, more, late = (strength_of(one, _RATE) for one in sounds)
            for edges in _EDGES:
                scale = float(mine.max())
                lost = lacking(mine, out, _RATE, scale, edges)
                doubled = lacking(more, mine, _RATE, scale, edges)
                table[edges] += (
                    len(lost.attacks),
                    len(at),
                    told_near(lost, at),
                    len(at),
                    told_near(doubled, at + _AGAIN_MS * _RATE / 1000),
                    len(lacking(mine, late, _RATE, scale, edges).lacking),
                    len(lacking(late, mine, _RATE, scale, edges).lacking),
                )
        sys.stdout.write(f"{Path(take.name).name}\n")
        sys.stdout.flush()
    sys.stdout.write("high low   attacks  taken out: found  put in: found  against itself\n")
    for (high, low), row in table.items():
        sys.stdout.write(
            f"{high:4.2f} {low:4.2f} {row[0]:7d} {row[1]:8d} {row[2]:8d} {row[3]:8d} {row[4]:6d} "
            f"{row[5]:8d} {row[6]:3d}\n"
        )


if __name__ == "__main__":
    main()
