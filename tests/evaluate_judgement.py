"""Print the figures of the decisions: `python -m tests.evaluate_judgement [FOLDER]`.

Ornaments are measured on invented playing (tests/ornament_takes.py, seeds 200 to 219; seeds below
20 were used for tuning, 100 to 105 by the tests). So is syncopation (tests/syncopated_takes.py,
seeds 300 to 323; seeds below 140 were used for tuning and by the tests). Spans and fills need a
folder of real takes with `takes.csv`. Of the joined fills every second one was used for tuning.
"""

import sys
from collections import Counter
from pathlib import Path

import numpy as np
from tests.build import drum_take, plain_recipe
from tests.joined_takes import joined_takes
from tests.ornament_takes import KINDS, ornamented
from tests.syncopated_takes import syncopated

from evenhand import Recipe, Result, Take, tighten
from evenhand.ground.fills import find_fills
from evenhand.ground.ornaments import find_ornaments
from evenhand.plan.spans import fewest_spans

_BPM = range(60, 221, 20)


def f_measure(right: int, extra: int, missed: int) -> tuple[float, float, float]:
    """Precision, recall and F-measure."""
    precision, recall = right / max(right + extra, 1), right / max(right + missed, 1)
    return precision, recall, 2 * right / max(2 * right + extra + missed, 1)


def inside_after(result: Result) -> tuple[int, int]:
    """How many strokes with a line are inside their window afterwards, and of how many."""
    plan, changes = result.plan, result.changes
    lined = plan.claims
    after = changes.deviation_after[result.strokes.reference[lined]] - plan.lean[lined]
    return int((np.abs(after) <= plan.admissible.half[lined] + 1e-6).sum()), int(lined.sum())


def floor_of(result: Result) -> int:
    """The fewest spans with which every stroke that has a line gets into its window."""
    plan = result.plan
    excess, window = (plan.deviation - plan.lean)[plan.claims], plan.admissible.half[plan.claims]
    return fewest_spans(-excess - window, -excess + window)


def ornaments() -> None:
    """F-measure of each kind of ornament, hit by hit."""
    right, extra, missed = Counter[str](), Counter[str](), Counter[str]()
    by_tempo: dict[int, list[bool]] = {}
    for bpm in _BPM:
        for seed in range(200, 220):
            played = ornamented(bpm, seed)
            found = find_ornaments(
                np.array(played.ms),
                np.array(played.velocity),
                np.unique(played.piece, return_inverse=True),
                np.full(len(played.ms), played.sixteenth),
            )
            for true, told in zip(played.kind, found.kind.tolist(), strict=True):
                right[true] += true == told
                extra[told] += true != told
                missed[true] += true != told
                if true or told:
                    by_tempo.setdefault(bpm, []).append(true == told)
    print("ornament   precision  recall  F")
    for kind in KINDS:
        print(f"{kind:<9}  %9.3f  %6.3f  %.3f" % f_measure(right[kind], extra[kind], missed[kind]))
    for bpm, hits in by_tempo.items():
        same, other = sum(hits), len(hits) - sum(hits)
        print(f"at {bpm:3} bpm: F at least {2 * same / (2 * same + 2 * other):.3f}")


def fills(folder: Path) -> None:
    """Precision and recall of fills at half-bar steps."""
    meter = drum_take([(480, 36)]).meter
    counts = np.zeros((2, 3), int)
    joined = joined_takes(folder)
    for number, take in enumerate(joined):
        halves = np.arange(len(take.fill)) * 960.0
        told = (
            find_fills(take.tick, np.unique(take.piece, return_inverse=True), take.role, meter).of(
                halves
            )
            >= 0
        )
        true = np.array(take.fill)
        counts[number % 2] += [(told & true).sum(), (told & ~true).sum(), (~told & true).sum()]
    print(f"\nfills, {len(joined)} joined takes   precision  recall  F")
    for name, row in (("tuned on", counts[0]), ("tested on", counts[1]), ("all", counts.sum(0))):
        print(f"{name:<24}  %9.3f  %6.3f  %.3f" % f_measure(*row.tolist()))


def spans(folder: Path) -> None:
    """How many spans take the place of how many moved strokes, at equal windows."""
    total = Counter[str]()
    shares, ratios, floors = [], [], []
    for path in sorted(folder.glob("*.mid")):
        take = Take.from_bytes(path.read_bytes(), path.name)
        one, other = (
            tighten(take, plain_recipe(plan=plan, strength=100)) for plan in ("hits", "spans")
        )
        moved, runs = int((one.plan.fate == "moved").sum()), int(other.plan.span.max(initial=0))
        floor = floor_of(one)
        total.update(moved=moved, spans=runs, floor=floor)
        for name, result in (("hits", one), ("spans", other)):
            inside, lined = inside_after(result)
            total[f"inside {name}"] += inside
            total["lined"] += lined * (name == "hits")
        if moved >= 20:
            ratios.append(runs / moved)
            floors.append(floor / moved)
        shares.append(inside_after(other)[0] - inside_after(one)[0])
    print(
        f"\nspans on real takes (1/16, lean 0): {total['moved']} strokes moved one by one, ", end=""
    )
    print(f"{total['spans']} spans: {total['spans'] / total['moved']:.2f} times as many; ", end="")
    print(f"no fewer than {total['floor']} would do ({total['floor'] / total['moved']:.2f})")
    print(f"per take with 20 moves or more: median {np.median(ratios):.2f}, ", end="")
    print(f"from {min(ratios):.2f} to {max(ratios):.2f}; floor {np.median(floors):.2f}")
    for name in ("hits", "spans"):
        print(f"inside after {name}: {100 * total[f'inside {name}'] / total['lined']:.2f} %")


def judged(folder: Path) -> None:
    """How much is moved with the plain dials and with the decisions."""
    for name, recipe in (("plain", plain_recipe()), ("decisions", Recipe())):
        actions, hits = Counter[str](), 0
        left, moved = Counter[str](), 0
        for path in sorted(folder.glob("*.mid")):
            result = tighten(Take.from_bytes(path.read_bytes(), path.name), recipe)
            figures = result.figures
            left[_style(path)] += int((result.plan.syncopation != 0).sum())
            moved += int((result.plan.fate == "moved").sum())
            actions.update(figures.strokes)
            hits += sum(figures.strokes.values())
        told = ", ".join(f"{what} {100 * count / hits:.1f} %" for what, count in actions.items())
        print(f"{name}: of {hits} strokes {told}")
        styles = ", ".join(f"{style} {count}" for style, count in left.most_common() if count)
        print(f"  left as syncopation: {left.total()} ({moved} moved): {styles or 'none'}")


def _style(path: Path) -> str:
    """As the name of a take says it: drummer, session, number, style, tempo …"""
    return path.stem.split("_")[3] if path.stem.count("_") > 3 else path.stem


def syncopation() -> None:
    """How many invented slips move, and how many invented syncopations stay, by tempo and scatter.

    Slips of 35 to 45 ms that are out of reach at a fast tempo are carried, and count as left.
    """
    print(
        "\nbpm  scatter ms  slips moved  of which towards a triplet  meant left  rest left (2 ms)"
    )
    for bpm in (72, 90, 108, 120, 144):
        for scatter in (3, 6, 10, 15):
            good, of = np.zeros((2, 4), int)
            for seed in range(300, 324):
                one = syncopated(bpm, scatter, (8, 16)[seed % 2], seed)
                changes = tighten(one.take, Recipe(sections="none")).changes
                moved, left = changes.action == "moved", np.abs(changes.shift_ms) <= 2
                rest = sorted({*range(len(changes))} - {*one.slips, *one.meant})
                for at, (hits, right) in enumerate(
                    ((one.slips, moved), (one.mistakable, moved), (one.meant, left), (rest, left))
                ):
                    good[at] += right[list(hits)].sum()
                    of[at] += len(hits)
            shares = " ".join(
                f"{100 * one / other:10.0f} %" for one, other in zip(good, of, strict=True)
            )
            print(f"{bpm:3}{scatter:>12}{shares}  ({of[0]}, {of[1]}, {of[2]}, {of[3]} hits)")


if __name__ == "__main__":
    ornaments()
    syncopation()
    if len(sys.argv) > 1:
        fills(Path(sys.argv[1]))
        spans(Path(sys.argv[1]))
        print()
        judged(Path(sys.argv[1]))
