"""Learn again what the marks of a way to count and of the place of the beat weigh.

    python tests/evaluation/learn_marks.py FOLDER

These are `evenhand.pulse.counting.WEIGHTS` and `evenhand.pulse.phase.WEIGHTS`. FOLDER is as for
`evaluate_fit.py`. Only the tuning part is learnt from: each take labelled "beat" counts once, and
up to four stretches of half a minute of it a quarter each. 6/8 is counted in eighths. Prints the
weights, and how often the right one wins when the takes are learnt from in nine parts, eight for
learning, one for trying (three times, differently parted).
"""

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.evaluation.takes import Labelled, read_takes, shifted

from evenhand.pulse import counting, phase
from evenhand.pulse.phase import places_of_beat
from evenhand.pulse.recurrence import Onsets, refine, score_tempi

# Penalty on the squares of the weights (of marks with spread 1).
RIDGE = {"counting": 0.3, "phase": 1.0}
# Length of a stretch in seconds, the most of them, what they count, and the fewest hits in one.
STRETCH_S, MOST, COUNTS, FEWEST = 30.0, 4, 0.25, 40
# How near the right tempo and the right place must be: a share, and beats.
TEMPO, PLACE = 0.012, 0.13


@dataclass(frozen=True, eq=False)
class Case:
    """What there is to choose from in one take or stretch: the marks and which is right."""

    name: str
    marks: np.ndarray
    right: int
    counts: float


def stretches(onsets: Onsets) -> list[tuple[Onsets, float]]:
    """The whole take and stretches of it, with what each counts."""
    found = [(onsets, 1.0)]
    begin, end = float(onsets.s[0]), float(onsets.s[-1])
    if end - begin > 1.5 * STRETCH_S:
        many = min(MOST, int((end - begin) // STRETCH_S))
        for start in np.linspace(begin, end - STRETCH_S, many):
            part = onsets.where((onsets.s >= start) & (onsets.s < start + STRETCH_S))
            if len(part) > FEWEST:
                found.append((part, COUNTS))
    return found


def beat_of(take: Labelled) -> float:
    """The frequency of its beat, Hz."""
    return take.bpm / 60 * (2 if take.meter == "6/8" else 1)


def ways(take: Labelled) -> list[Case]:
    """The ways to count a take, where the right one is among those that are looked at."""
    cases = []
    for onsets, counts in stretches(shifted(take)[0]):
        bpm, score = score_tempi(onsets)
        most, _ = refine(onsets, float(bpm[np.argmax(score)]) / 60)
        frequencies = counting.frequencies_of(most)
        right = np.flatnonzero(np.abs(frequencies / beat_of(take) - 1) < TEMPO)
        if len(right):
            found = counting.marks(onsets, frequencies)
            cases.append(Case(take.name, found, int(right[0]), counts))
    return cases


def places(take: Labelled) -> list[Case]:
    """The places of the beat, where the right one is among those that are looked at."""
    cases = []
    onsets, bar_1 = shifted(take)
    for part, counts in stretches(onsets):
        found = places_of_beat(part, beat_of(take))
        off = np.abs((found.phase - bar_1 * beat_of(take) + 0.5) % 1 - 0.5)
        if off.min() < PLACE:
            cases.append(Case(take.name, found.marks, int(np.argmin(off)), counts))
    return cases


def learn(cases: list[Case], ridge: float) -> np.ndarray:
    """Newton's method on the penalised likelihood, which has one maximum."""
    spread = np.concatenate([case.marks for case in cases]).std(axis=0)
    weights = np.zeros(len(spread))
    for _ in range(30):
        slope, bend = 2 * ridge * weights, 2 * ridge * np.eye(len(spread))
        for case in cases:
            marks = case.marks / spread
            chance = chances(marks, weights)
            mean = chance @ marks
            slope -= case.counts * (marks[case.right] - mean)
            bend += case.counts * ((marks.T * chance) @ marks - np.outer(mean, mean))
        weights = weights - np.linalg.solve(bend, slope)
    return weights / spread


def chances(marks: np.ndarray, weights: np.ndarray) -> np.ndarray:
    odds = marks @ weights
    chance = np.exp(odds - odds.max())
    return chance / chance.sum()


def tried(cases: list[Case], ridge: float, seed: int, parts: int = 9) -> np.ndarray:
    """Learnt from the other parts: mean log-loss, right of whole takes, right of stretches."""
    names = np.random.default_rng(seed).permutation(sorted({case.name for case in cases}))
    part_of = {name: at % parts for at, name in enumerate(names)}
    loss, right, counts = [], [], []
    for part in range(parts):
        weights = learn([case for case in cases if part_of[case.name] != part], ridge)
        for case in cases:
            if part_of[case.name] == part:
                chance = chances(case.marks, weights)
                loss.append(-np.log(chance[case.right]))
                right.append(np.argmax(chance) == case.right)
                counts.append(case.counts)
    whole = np.array(counts) == 1
    return np.array(
        [
            np.average(loss, weights=counts),
            np.mean(np.array(right)[whole]),
            np.mean(np.array(right)[~whole]),
        ]
    )


def main(folder: str) -> None:
    takes = [take for take in read_takes(Path(folder)) if take.beat and take.tuning]
    for name, cases_of, in_use in (
        ("counting", ways, counting.WEIGHTS),
        ("phase", places, phase.WEIGHTS),
    ):
        cases = [case for take in takes for case in cases_of(take)]
        sys.stdout.write(f"{name}\n")
        for mark, weight in zip(in_use, learn(cases, RIDGE[name]), strict=True):
            sys.stdout.write(f"  {mark:18} {weight:7.3f}   in use {in_use[mark]:7.3f}\n")
        parted = [tried(cases, RIDGE[name], seed) for seed in range(3)]
        loss, whole, part = np.mean(parted, axis=0)
        sys.stdout.write(
            f"  {len(cases)} cases of {len(takes)} takes; tried on what was not learnt from: "
            f"log-loss {loss:.3f}, right {100 * whole:.1f} % of whole takes, "
            f"{100 * part:.1f} % of stretches\n"
        )


if __name__ == "__main__":
    main(*sys.argv[1:])
