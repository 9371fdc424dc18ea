"""Print the figures of tempo, beat, bar, grid, swing and sections on labelled takes.

    python tests/evaluation/evaluate_fit.py FOLDER

FOLDER holds takes and a `takes.csv` with the columns file, style, bpm, beat_type, time_signature.
The takes are split by the SHA-256 of their names (see `Labelled.tuning`): constants were set on
the tuning part alone. Needs mir_eval; `--skip-pretty-midi` leaves out the slow comparison.
"""

import argparse
import sys
from collections import Counter, defaultdict
from collections.abc import Iterable
from pathlib import Path

import mir_eval
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.evaluation.takes import (
    PATTERNS,
    Labelled,
    invented_places,
    invented_wander,
    read_takes,
    shifted,
)

from evenhand.grid.choice import choose_grid
from evenhand.grid.lines import Grid
from evenhand.ground.prepare import prepare
from evenhand.measure.feel import find_swing
from evenhand.pulse.follow import follow
from evenhand.pulse.search import STEADY, Fit, fit_beats
from evenhand.pulse.steady import Hints
from evenhand.recipe import Recipe
from evenhand.sections.found import divide, patterns_of_bars

RELATED = (1, 2, 3, 1 / 2, 1 / 3, 3 / 2, 2 / 3)
HINTS = (0.86, 0.93, 1.07, 1.14)


def say(text: str = "") -> None:
    sys.stdout.write(text + "\n")


def share(found: Iterable[bool]) -> str:
    values = list(found)
    return f"{100 * np.mean(values):5.1f} % of {len(values)}" if values else "    - of 0"


def near(value: float, truth: float, slack: float = 0.01) -> bool:
    return abs(value / truth - 1) < slack


def tempo_table(takes: list[Labelled], compare: bool) -> None:
    found = []
    for take in takes:
        onsets, bar_1 = shifted(take)
        fit = fit_beats(onsets, Hints())
        hinted = [fit_beats(onsets, Hints(near=take.bpm * hint), STEADY).bpm for hint in HINTS]
        found.append((take, fit, hinted, bar_1))
    say("tempo                              " + "within 1 %")
    say("  straight                         " + share(near(f.bpm, t.bpm) for t, f, _, _ in found))
    say(
        "  2, 3, 1/2, 1/3, 3/2, 2/3 allowed "
        + share(any(near(f.bpm, t.bpm * r) for r in RELATED) for t, f, _, _ in found)
    )
    say(
        "  --near 7 and 14 % off            "
        + share(near(bpm, t.bpm) for t, _, hinted, _ in found for bpm in hinted)
    )
    say("  taken for steady                 " + share(f.steady for _, f, _, _ in found))
    if compare:
        theirs = [(take, take.take.to_pretty_midi().estimate_tempo()) for take in takes]
        say("  pretty_midi, straight            " + share(near(b, t.bpm) for t, b in theirs))
        say(
            "  pretty_midi, related allowed     "
            + share(any(near(b, t.bpm * r) for r in RELATED) for t, b in theirs)
        )
        say("  pretty_midi, straight, 4 %       " + share(near(b, t.bpm, 0.04) for t, b in theirs))
    phase, bars = [], []
    for take, fit, _, bar_1 in found:
        if near(fit.bpm, take.bpm):
            beat = 60 / take.bpm
            beats, unit = (int(one) for one in take.meter.split("/"))
            length = beats * beat * 4 / unit
            off = float(fit.beat[0]) - bar_1
            phase.append(abs((off / beat + 0.5) % 1 - 0.5) * beat <= 0.025)
            bars.append(abs((off / length + 0.5) % 1 - 0.5) * length <= 0.06)
    say("beat within 25 ms of the click     " + share(phase))
    say("bar start right (within 60 ms)     " + share(bars))
    wrong = [(t.style, t.bpm, round(f.bpm / t.bpm, 2)) for t, f, _, _ in found]
    say("wrong tempi: " + ", ".join(f"{s} {b:g} x{r}" for s, b, r in wrong if not near(r, 1)))
    named = [names(f, t) for t, f, _, _ in found if not near(f.bpm, t.bpm)]
    say("wrong, the right one in a doubt    " + share(named))
    right = [f for t, f, _, _ in found if near(f.bpm, t.bpm)]
    say("right, with a doubt of the tempo   " + share(bool(f.rivals) for f in right))
    say("right, with any doubt              " + share(bool(f.doubts) for f in right))


def names(fit: Fit, take: Labelled) -> bool:
    """Whether the doubts of a fit name the right tempo (they tell of two tempi at most)."""
    return any(near(bpm, take.bpm, 0.02) for bpm in fit.rivals[:2])


def follow_table() -> None:
    random = np.random.default_rng(20)
    for kind in ("wander", "steps"):
        scores: dict[str, list[float]] = defaultdict(list)
        for _ in range(20):
            onsets, beats = invented_wander(random, kind)
            bpm = 60 / float(np.median(np.diff(beats)))
            for name, hints in (("free", Hints()), ("--near", Hints(near=bpm))):
                path = follow(onsets, hints, 4.0).path
                whole = np.arange(np.ceil(path.beat[0] - 0.3), np.floor(path.beat[-1] + 0.3) + 1)
                found = path.seconds_at(whole)
                scores[name].append(mir_eval.beat.f_measure(beats, found, 0.03))
        for name, values in scores.items():
            say(
                f"follow, {kind:6} {name:7} F mean {np.mean(values):.3f}, "
                f"at least 0.98 in {share(value >= 0.98 for value in values)}"
            )


def family(take: Labelled) -> str:
    if take.meter == "6/8":
        return "6/8"
    if "shuffle" in take.style:
        return "shuffle"
    if "swing" in take.style or take.style in ("jazz", "jazz/mediumfast", "jazz/fast"):
        return "swing"
    return "straight"


def grid_table(takes: list[Labelled]) -> None:
    table: dict[str, Counter[str]] = defaultdict(Counter)
    for take in takes:
        ground = prepare(take.take, Recipe(sections="none"))
        choice = ground.layout.choices[0]
        name = choice.grid or "none"
        table[family(take)][name + (" swung" if choice.swing > 50 else "")] += 1
    for name, counts in sorted(table.items()):
        say(f"  {name:9}" + ", ".join(f"{grid} {n}" for grid, n in counts.most_common()))


def invented_grids() -> None:
    random = np.random.default_rng(7)
    right: dict[str, list[bool]] = defaultdict(list)
    off: list[float] = []
    for grid in PATTERNS:
        swings = (50.0, 58.0, 62.0, 66.7) if grid in ("1/8", "1/16") else (50.0,)
        for swing in swings:
            for _ in range(25):
                # So fast that lines are 75 ms apart at the least: nearer, 20 ms of spread blur.
                lines = {"1/8": 2, "1/8T": 3, "1/16": 4, "1/16T": 6, "1/32": 8}[grid]
                fastest = min(180.0, 60000 / (lines * 75))
                bpm = random.uniform(min(70.0, fastest - 10), fastest)
                if swing > 50:
                    bpm = random.uniform(60, 150 if grid == "1/8" else 100)
                places = invented_places(random, grid, swing, 16, 60000 / bpm)
                choice = choose_grid(places % 4, 60000 / bpm)
                same = choice.grid == grid and (choice.swing > 50) == (swing > 50)
                # Triplets without their middle are swung eighths, and the other way round.
                right[f"{grid} {swing:g} %" if swing > 50 else grid].append(same)
                if same and swing > 50:
                    off.append(abs(choice.swing - swing))
    for name, values in right.items():
        say(f"  {name:12}" + share(values))
    say("  all         " + share(value for values in right.values() for value in values))
    say(
        f"  swing within 2 percent points {share(one <= 2 for one in off)}, "
        f"median {np.median(off):.2f}"
    )


def swing_table(takes: list[Labelled]) -> None:
    say("  bpm  ratio  short ms  pairs  take")
    for take in sorted(takes, key=lambda one: one.bpm):
        if not take.beat or not take.style.startswith("jazz"):
            continue
        ground = prepare(take.take, Recipe(sections="none"))
        keeper = ground.hits.role == "timekeeper"
        grid = ground.layout.choices[0].lines
        ms = take.take.tempo.to_ms(ground.tick)
        swing = find_swing(ground.tick, ms, keeper, Grid(8), take.take.meter)
        if swing and (grid is None or grid.triplet or grid.swing > 50):
            say(
                f"  {take.bpm:3g}  {swing.ratio:4.2f}:1  {swing.short_ms:5.0f}  {swing.pairs:7d}  "
                f"{take.style}"
            )


def sections_table(takes: list[Labelled], excerpts: bool) -> None:
    random = np.random.default_rng(3)
    tables = []
    for take in takes:
        if take.beat and take.meter == "4/4":
            tick = take.hits.tick.astype(np.float64)
            _, rows, _ = patterns_of_bars(tick, take.hits, take.take.meter, 10**9)
            played = np.flatnonzero(rows.any(axis=1))
            rows = rows[played[0] : played[-1] + 1]
            if len(rows) >= 10:
                tables.append(rows)
    scores = []
    if len(tables) < 4:
        return
    for _ in range(60):
        parts = []
        for index in random.choice(len(tables), 4, replace=False):
            rows = tables[index]
            if excerpts:
                bars = min(len(rows), int(random.integers(8, 33)))
                begin = int(random.integers(0, len(rows) - bars + 1))
                rows = rows[begin : begin + bars]
            parts.append(rows)
        truth = np.cumsum([len(part) for part in parts])[:-1]
        joined = np.concatenate(parts)
        scores.append(boundary_f(truth, np.array(divide(joined)[1:])))
    mean = np.mean(scores, axis=0)
    what = "excerpts of 8 to 32 bars" if excerpts else "whole takes"
    say(f"  {what:25} F {mean[0]:.3f} (precision {mean[1]:.3f}, recall {mean[2]:.3f})")


def boundary_f(truth: np.ndarray, found: np.ndarray) -> tuple[float, float, float]:
    if not len(found):
        return 0.0, 0.0, 0.0
    one = truth.astype(float)
    matching = mir_eval.util.match_events(one, found.astype(float), 1.0)
    precision, recall = len(matching) / len(found), len(matching) / len(truth)
    total = precision + recall
    return (2 * precision * recall / total if total else 0.0), precision, recall


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("folder", type=Path)
    options.add_argument("--skip-pretty-midi", action="store_true")
    given = options.parse_args()
    takes = read_takes(given.folder)
    for part in ("tuning", "testing"):
        mine = [take for take in takes if take.tuning == (part == "tuning")]
        beats = [take for take in mine if take.beat]
        say(f"== {part}: {len(mine)} takes, {len(beats)} of them labelled beat")
        tempo_table(beats, not given.skip_pretty_midi)
        say("grid by style")
        grid_table(beats)
        say("sections of takes joined end to end, boundaries within a bar")
        sections_table(mine, True)
        sections_table(mine, False)
        say()
    say("== invented takes")
    follow_table()
    say("grid and swing at 20 ms spread")
    invented_grids()
    say("== swing of the jazz takes (Friberg & Sundström 2002: short note near 100 ms)")
    swing_table(takes)


if __name__ == "__main__":
    main()
