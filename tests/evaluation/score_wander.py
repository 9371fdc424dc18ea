"""How good the exponent of a fluctuation is: on known noises, against nolds, and on real takes.

python tests/evaluation/score_wander.py [FOLDER]
"""

import argparse
import sys
from pathlib import Path

import nolds
import numpy as np

from evenhand import assess, read_take
from evenhand.columns import Floats
from evenhand.jobs.practice.beats import find_pulse
from evenhand.jobs.practice.wander import exponent, window_sizes

_SERIES = 400


def noise(color: str, count: int, seed: int) -> Floats:
    """A series of white, pink (1/f) or brown (summed white) noise."""
    dice = np.random.default_rng(seed)
    if color != "pink":
        white = dice.normal(size=count)
        return np.cumsum(white) if color == "brown" else white
    # Amplitudes fall with the square root of the frequency; phases are by chance.
    frequency = np.fft.rfftfreq(4 * count)
    size = np.concatenate([[0.0], frequency[1:] ** -0.5])
    turns = np.exp(2j * np.pi * dice.random(len(frequency)))
    return np.asarray(np.fft.irfft(size * turns, 4 * count)[:count])


def of_nolds(series: Floats) -> float:
    """What nolds finds with the same windows."""
    sizes = window_sizes(len(series))
    return float(nolds.dfa(series, nvals=sizes, overlap=False, order=1, fit_exp="poly"))


def _noises() -> None:
    sys.stdout.write(f"{_SERIES} series each: mean and scatter; nolds, mean difference of 20\n")
    for count in (64, 128, 256, 512, 2048):
        for color, wanted in (("white", 0.5), ("pink", 1.0), ("brown", 1.5)):
            found = [exponent(noise(color, count, seed)) for seed in range(_SERIES)]
            apart = [of_nolds(noise(color, count, one)) - found[one] for one in range(20)]
            sys.stdout.write(
                f"{count:5} {color:6} {wanted:3}: {np.mean(found):5.2f} ± {np.std(found):4.2f}  "
                f"{np.mean(apart):+5.2f}\n"
            )


def _people(folder: Path) -> None:
    off, steps, apart = [], [], []
    for path in sorted(folder.glob("*.mid")):
        view = assess(read_take(path))
        deviation = find_pulse(view.ground, view.measured).off
        if len(deviation) < 128:
            continue
        off.append(exponent(deviation))
        steps.append(exponent(np.diff(deviation)))
        apart.append(of_nolds(deviation) - off[-1])
    sys.stdout.write(f"{len(off)} takes of 128 struck beats or more: least, middle, most\n")
    for name, found in (("off the click", off), ("intervals", steps), ("nolds differs by", apart)):
        low, middle, high = np.percentile(found, [0, 50, 100])
        sys.stdout.write(f"{name:17} {low:5.2f} {middle:5.2f} {high:5.2f}\n")


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("folder", type=Path, nargs="?")
    folder = options.parse_args().folder
    _noises()
    if folder:
        _people(folder)


if __name__ == "__main__":
    main()
