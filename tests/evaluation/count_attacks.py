"""Attacks lost or doubled, counted where each can be told from all others.

    python -m tests.evaluation.count_attacks [SESSIONS]

Invented sessions of 60 hits, 45 to 500 ms apart, a third of which the take does not list. Every hit
has a noise of its own, so its copies can be counted by correlation, whatever lies around them. Hits
move as in a take: some by up to half of the gap and at most 50 ms, the others in proportion.
"""

import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
from tests.jobs.conform.studio import RATE, burst, moves_of, numbers, record, write

from evenhand.jobs.conform.cut_plan import ConformSettings, make_plan
from evenhand.jobs.conform.microphone import open_microphones
from evenhand.jobs.conform.weave import write_conformed

_HITS, _ONE = 60, 1200


def _session(number: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times, shifts, and which hits the take lists."""
    random = np.random.default_rng(number)
    gap = random.choice([random.uniform(45, 120, _HITS), random.uniform(120, 500, _HITS)])
    ms = 600 + np.cumsum(gap)
    knots = np.sort(random.choice(_HITS, 20, replace=False))
    room = np.minimum(gap, np.append(gap[1:], 500)) / 2
    shift = random.uniform(-1, 1, 20) * np.minimum(room[knots], 50) * (random.random(20) < 0.6)
    listed = random.random(_HITS) < 2 / 3
    listed[knots] = True
    return ms, np.interp(ms, ms[knots], shift), listed


def _count(number: int) -> tuple[int, int, int]:
    """Attacks, lost ones, and doubled ones, of a session."""
    ms, shift, listed = _session(number)
    sounds = [burst(1000 * number + hit, 0.03) for hit in range(_HITS)]
    heard = record(ms, round((ms[-1] + 900) * RATE / 1000), sounds)
    with tempfile.TemporaryDirectory() as scratch:
        paths = write(Path(scratch), heard[:2])
        with open_microphones(paths) as files, ThreadPoolExecutor(1) as pool:
            moves = moves_of(ms[listed], shift[listed])
            plan = make_plan(files, moves, ConformSettings(), pool, lambda _: None)
            new = Path(scratch) / "new.wav"
            write_conformed(files[0], plan.splices, new)
        sound = numbers(new)[:, 0] / 2**31
    lost = doubled = 0
    for hit, at in enumerate(np.rint((ms + shift) * RATE / 1000).astype(int).tolist()):
        one = sounds[hit][:_ONE]
        first = max(at - 10_000, 0)
        fits = np.correlate(sound[first : at + 10_000], one, "valid")
        copies = int((fits > 0.6 * float(one @ one)).sum())
        lost += copies == 0
        doubled += copies > 1
    return _HITS, lost, doubled


def main() -> None:
    """Print the figures."""
    sessions = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    counts = np.array([_count(number) for number in range(sessions)]).sum(axis=0)
    sys.stdout.write(f"{counts[1]} lost, {counts[2]} doubled of {counts[0]} attacks\n")


if __name__ == "__main__":
    main()
