"""How well double triggers and crosstalk are found: faults planted in a folder of real takes.

Run as `python -m tests.evaluation.score_triggers FOLDER [SEEDS]`. Each take is cleaned as it is,
and then SEEDS times (3 if not given) with faults drawn at random: double triggers behind 0.5 to
5 % of all hits (8-35 ms later, 15-60 % of the velocity), crosstalk on one pair of pads (1-6 ms
later, 8-40 % of the velocity) from 10 to 60 % of the blows of velocity 60 and more. Seeds depend
on the file's name, so figures repeat.

Takes fall into two halves by the SHA-256 of their name: the limits in doubles.py and crosstalk.py
were settled on the half `tuned`, where the scores hardly change around them.
"""

import hashlib
import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from evenhand import read_take
from evenhand.jobs.triggers.clean import CROSSTALK, DOUBLE, Cleaned, Cleaning, find_faults
from evenhand.jobs.triggers.noise import Misfires, plant_crosstalk, plant_echoes, with_misfires
from evenhand.jobs.triggers.sheet import Sheet, read_sheet
from evenhand.kit.maps import KIT_MAPS

KIT = KIT_MAPS["ekit"]
HALVES = ("tuned", "tried")


def half_of(name: str) -> str:
    """Which half a take belongs to."""
    return HALVES[hashlib.sha256(name.encode()).digest()[0] % 2]


def plant(sheet: Sheet, seed: Iterable[int]) -> list[Misfires]:
    """Echoes, and crosstalk on a pair of pads where there are two."""
    chance = np.random.default_rng(list(seed))
    hits = sheet.hits
    faults = [plant_echoes(chance.random, hits.velocity, hits.note, chance.uniform(0.005, 0.05))]
    names = np.unique(sheet.pad)
    if len(names) > 1:
        source, shaken = chance.choice(names, 2, replace=False)
        note = int(np.bincount(hits.note[sheet.pad == shaken]).argmax())
        share = chance.uniform(0.1, 0.6)
        faults.append(plant_crosstalk(chance.random, hits.velocity, sheet.pad, source, note, share))
    return faults


def score(paths: Iterable[Path], seeds: int = 3) -> dict[str, Counter[str]]:
    """Count what was planted, found and wrongly removed, by half."""
    counts = {half: Counter[str]() for half in HALVES}
    for path in paths:
        count = counts[half_of(path.name)]
        sheet = read_sheet(read_take(path), KIT)
        count["takes"] += 1
        count["clean hits"] += len(sheet)
        count["clean removed"] += len(find_faults(sheet, Cleaning()).hit)
        for seed in range(seeds):
            faults = plant(sheet, [seed, *path.name.encode()])
            noisy, kind, _ = with_misfires(sheet, KIT, faults)
            _add(count, kind, find_faults(noisy, Cleaning()))
    return counts


def _add(count: Counter[str], kind: np.ndarray, cleaned: Cleaned) -> None:
    gone = kind[cleaned.hit]
    count["real hits"] += int((kind == 0).sum())
    count["real removed"] += int((gone == 0).sum())
    for number, reason in ((1, DOUBLE), (2, CROSSTALK)):
        count[f"{reason} planted"] += int((kind == number).sum())
        count[f"{reason} found"] += int((gone == number).sum())
        count[f"{reason} wrong"] += int((gone[cleaned.reason == reason] == 0).sum())


def f_measure(count: Counter[str], reason: str) -> tuple[float, float, float]:
    """Precision, recall and F-measure of the removals of one kind."""
    found, planted = count[f"{reason} found"], count[f"{reason} planted"]
    precision = found / max(found + count[f"{reason} wrong"], 1)
    recall = found / max(planted, 1)
    return precision, recall, 2 * precision * recall / max(precision + recall, 1e-12)


def wrongly(count: Counter[str], which: str) -> float:
    """Percent of the hits (`clean` or `real`, of the takes with faults) that were removed."""
    return 100 * count[f"{which} removed"] / max(count[f"{which} hits"], 1)


def main(folder: str, seeds: str = "3") -> None:
    """Print the figures."""
    for half, count in score(sorted(Path(folder).glob("*.mid")), int(seeds)).items():
        sys.stdout.write(
            f"{half}: {count['takes']} takes, {count['clean hits']} hits; removed from clean "
            f"takes {wrongly(count, 'clean'):.3f} %, real hits removed from noisy takes "
            f"{wrongly(count, 'real'):.3f} %\n"
        )
        for reason in (DOUBLE, CROSSTALK):
            precision, recall, f = f_measure(count, reason)
            sys.stdout.write(
                f"  {reason:<15} {count[f'{reason} planted']:6d} planted, "
                f"precision {precision:.4f}, recall {recall:.4f}, F {f:.4f}\n"
            )


if __name__ == "__main__":
    main(*sys.argv[1:])
