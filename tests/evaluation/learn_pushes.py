"""Learn the weights of pushed bars: `python -m tests.evaluation.learn_pushes FOLDER`.

One or two bars in twelve are pushed by 22 to 40 ms, all limbs alike, with ramps of an eighth of a
bar before and behind. What is learnt is which stretches were pushed; nothing else is known of the
takes. Halves as in `learn_slips`; the figures are those of each half.
"""

import hashlib
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from tests.evaluation.learn_slips import in_tuning_half, look, retimed, solve

from evenhand import Recipe, read_take
from evenhand.columns import Bools, Floats, Ints
from evenhand.ground import Ground, prepare
from evenhand.habit.pushes import LIMIT, find_pushes
from evenhand.habit.stretches import WEIGHTS, Stretches, look_for_pushes

_LEAST_MS, _MOST_MS, _RAMP = 22.0, 40.0, 1 / 8
_EVERY, _APART, _FEWEST_STROKES, _COPIES = 12, 6, 16, 2
_EARLY_MS = 30.0
_RIDGE = 1.0


@dataclass(frozen=True, eq=False)
class Seen:
    """A take with pushes: what could be one, what is, and the hits for the figures."""

    stretches: Stretches
    told: tuple[Floats, Floats, Ints, Floats]
    truth: dict[tuple[int, int], float]
    anchor: Bools


def plant(ground: Ground, seed: int) -> tuple[Ground, dict[tuple[int, int], float]]:
    """Push some bars; the first two and the last two stay."""
    random = np.random.default_rng(seed)
    time = ground.time
    bars = int(time.bars_at(ground.tick).number.max())
    length = float(time.bars_at(0.0).stop)
    starts = time.ms(length * np.arange(bars + 2))
    chosen: dict[tuple[int, int], float] = {}
    for first in random.permutation(np.arange(3, max(bars - 2, 3))).tolist():
        last = first + int(random.integers(0, 2))
        if len(chosen) < bars // _EVERY and all(abs(first - one) >= _APART for one, _ in chosen):
            size = random.uniform(_LEAST_MS, _MOST_MS) * random.choice([-1, 1])
            chosen[first, last] = float(size)
    knot, shift = [0.0], [0.0]
    for (first, last), size in sorted(chosen.items()):
        begin, stop = starts[first - 1], starts[last]
        ramp = _RAMP * (starts[first] - begin)
        knot += [begin - ramp, begin, stop, stop + ramp]
        shift += [0.0, size, size, 0.0]
    ms = time.ms(ground.tick)
    return retimed(ground, time.tick(np.maximum(ms + np.interp(ms, knot, shift), 0.0))), chosen


def see(ground: Ground, truth: dict[tuple[int, int], float]) -> Seen:
    """Look at a take as a pass does."""
    found = look(ground)[0]
    off = found.deviation - found.habit.ms[found.cell]
    bar, within = found.bar, found.within
    told = (off, found.habit.spread[found.cell], bar, within)
    return Seen(look_for_pushes(*told), told, truth, ground.strokes.anchor)


def takes(folder: Path, tuning: bool) -> Iterator[tuple[Seen, bool]]:
    """Takes of one half as they are (False) and with pushes (True)."""
    for path in sorted(folder.glob("*.mid")):
        if in_tuning_half(path.name) != tuning:
            continue
        ground = prepare(read_take(path), Recipe())
        if len(ground.strokes) < _FEWEST_STROKES or len(ground.time.meter.tick) > 1:
            continue
        yield see(ground, {}), False
        seed = int(hashlib.sha256(path.name.encode()).hexdigest()[:8], 16)
        for copy in range(_COPIES):
            yield see(*plant(ground, seed + copy)), True


def learn(seen: list[tuple[Seen, bool]]) -> Floats:
    """Weights: pushes that were planted against all that is in takes as they are."""
    marks, labels = [], []
    for one, pushed in seen:
        found = one.stretches
        sizes = np.array(
            [
                one.truth.get(key, 0.0)
                for key in zip(found.first.tolist(), found.last.tolist(), strict=True)
            ]
        )
        right = sizes * found.ms > 0 if len(sizes) else np.zeros(0, np.bool_)
        marks.append(found.marks[right] if pushed else found.marks)
        labels.append(np.full(len(marks[-1]), pushed))
    return solve(np.concatenate(marks), np.concatenate(labels), _RIDGE)


def tell(seen: list[tuple[Seen, bool]]) -> None:
    """Print what the weights in use find."""
    for limit in (LIMIT - 0.3, LIMIT, LIMIT + 0.3):
        eased, idle = [], []
        for one, pushed in seen:
            off, _, bar, within = one.told
            found = find_pushes(*one.told, limit)
            if not pushed and len(off):
                idle.append(float((found.of(bar + within) >= 0)[one.anchor].mean()))
            for (first, last), size in one.truth.items():
                inside = one.anchor & (bar >= first) & (bar <= last)
                if inside.any():
                    left = size - 0.75 * np.median(found.at(bar + within)[inside])
                    eased.append(abs(left) <= abs(size) / 2)
        sys.stdout.write(
            f"  limit {limit:.1f}: eased by half {np.mean(eased):.3f} of {len(eased)}; strokes in "
            f"pushes of takes as they are: mean {np.mean(idle):.3f}, median {np.median(idle):.3f}\n"
        )


def main(folder: str) -> None:
    """Learn the table and try the one in use on both halves."""
    halves = [list(takes(Path(folder), half)) for half in (True, False)]
    for (mark, used), value in zip(WEIGHTS.items(), learn(halves[0]), strict=True):
        sys.stdout.write(f"  {mark:16} {value:7.2f}   in use {used:7.2f}\n")
    for name, seen in zip(("learnt from", "the other half"), halves, strict=True):
        sys.stdout.write(f"{name}\n")
        tell(seen)


if __name__ == "__main__":
    main(*sys.argv[1:])
