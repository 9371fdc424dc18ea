"""Learn the weights of lines and slips: `python -m tests.evaluation.learn_slips FOLDER`.

Slips of 25 to 60 ms are planted in 3 % of the strokes of real takes, of the strokes alone and with
everything struck with them. What is learnt is the line that a stroke belongs to (where it was
before it slipped) and whether it has slipped; nothing else is known of the takes. Half of them, by
the SHA-256 of their names, are learnt from; the figures are those of the other half.
"""

import hashlib
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from evenhand import Recipe, read_take
from evenhand.columns import Bools, Floats, Ints
from evenhand.ground import Ground, prepare
from evenhand.ground.strokes import find_strokes
from evenhand.habit import evidence, find_steps, slips, trust
from evenhand.habit.evidence import Belonging, find_lines
from evenhand.habit.near import near_lines
from evenhand.habit.slips import Marks, distance_marks, find_marks
from evenhand.habit.voices import find_voices
from evenhand.kit import ROLE_OF_PIECE, TIMEKEEPER

_SHARE, _LEAST_MS, _MOST_MS, _TOGETHER_MS = 0.03, 25.0, 60.0, 20.0
_FEWEST_STROKES, _COPIES = 8, 3
#: Ridge of both regressions.
_RIDGE = 3.0
_LINES = np.array(list(evidence.WEIGHTS.values()))


@dataclass(frozen=True, eq=False)
class Planted:
    """A take with slips: of which hits, ms; and the same take without."""

    clean: Ground
    slipped: Ground
    slip: Floats
    body: Bools


def in_tuning_half(name: str) -> bool:
    """Half of the takes, by name."""
    return hashlib.sha256(name.encode()).digest()[0] % 2 == 0


def plant(ground: Ground, seed: int) -> Planted:
    """Plant slips in a take; half of them take along what is struck with the stroke."""
    random = np.random.default_rng(seed)
    strokes, tempo = ground.strokes, ground.take.tempo
    ms = tempo.to_ms(ground.tick)
    many = max(round(_SHARE * len(strokes)), 1)
    slip, body = np.zeros(len(ms)), np.zeros(len(ms), np.bool_)
    for stroke in random.choice(len(strokes), many, replace=False):
        size = random.uniform(_LEAST_MS, _MOST_MS) * random.choice([-1, 1])
        mine = strokes.of_hit == stroke
        if whole := random.random() < 0.5:
            first, last = tempo.to_ms([strokes.first[stroke], strokes.last[stroke]])
            mine |= (ms >= first - _TOGETHER_MS) & (ms <= last + _TOGETHER_MS)
        slip[mine] = size
        body[mine] = whole
    return Planted(ground, retimed(ground, tempo.to_tick(np.maximum(ms + slip, 0.0))), slip, body)


def retimed(ground: Ground, tick: Floats) -> Ground:
    """The same take with its hits at other times."""
    ms, hits = ground.take.tempo.to_ms(tick), ground.hits
    strokes = find_strokes(tick, ms, hits, ground.strokes.anchor, _TOGETHER_MS, ground.strokes.bond)
    return replace(ground, tick=tick, strokes=strokes)


def without_keepers(ground: Ground) -> Ground:
    """What triggers on an acoustic kit send: no hats, rides and cymbals."""
    names = [one for one, role in ROLE_OF_PIECE.items() if role in (TIMEKEEPER, "accent")]
    left = np.flatnonzero(~np.isin(ground.hits.piece, names))
    bonds, anchor = ground.strokes.bond[left], ground.strokes.anchor[left]
    hits, tick = ground.hits.only(left), ground.tick[left]
    strokes = find_strokes(tick, ground.time.ms(tick), hits, anchor, _TOGETHER_MS, bonds)
    return replace(ground, hits=hits, tick=tick, strokes=strokes)


def look(ground: Ground) -> tuple[Belonging, Marks]:
    """Lines, habit and marks of a take."""
    hits = ground.hits
    voice = find_voices(hits)
    near = near_lines(ground.tick, ground.layout, ground.time)
    found = find_lines(near, voice)
    keeper = hits.role == TIMEKEEPER
    strokes = ground.strokes
    return found, find_marks(found, strokes.reference, keeper, strokes.anchor, hits.velocity, voice)


def planted_takes(folder: Path, tuning: bool) -> Iterator[Planted]:
    """Takes of one half with slips, with and without hats."""
    for path in sorted(folder.glob("*.mid")):
        if in_tuning_half(path.name) != tuning:
            continue
        whole = prepare(read_take(path), Recipe())
        seed = int(hashlib.sha256(path.name.encode()).hexdigest()[:8], 16)
        for ground in (whole, without_keepers(whole)):
            if len(ground.strokes) >= _FEWEST_STROKES:
                for copy in range(_COPIES):
                    yield plant(ground, seed + copy)


@dataclass(frozen=True, eq=False)
class Cases:
    """All strokes of some takes: what is to be known of them, and the marks that tell it."""

    lines: Floats
    right_line: Ints
    slip: Floats
    off: Floats
    marks: Floats
    body: Bools
    trust: Floats
    between: Bools


def collect(takes: Iterator[Planted]) -> Cases:
    """Look at every take, and say where each stroke was before it slipped."""
    rows = []
    for take in takes:
        found, marks = look(take.slipped)
        clean = look(take.clean)[0]
        which = take.slipped.strokes.reference
        away = np.abs(found.near.ms - clean.line_ms[:, None])[which]
        right = np.where(away.min(axis=1) < _TOGETHER_MS, np.argmin(away, axis=1), -1)
        own = np.where((marks.off < 0)[:, None], marks.side[0], marks.side[1])
        all_marks = np.hstack([distance_marks(np.abs(marks.off), marks.spread), own])
        told, between = between_lines(take.slipped, found, marks)
        slip, body = take.slip[which], take.body[which]
        by_line = np.moveaxis(found.marks, 0, 2)[which]
        rows.append((by_line, right, slip, marks.off, all_marks, body, told, between))
    return Cases(*(np.concatenate(column) for column in zip(*rows, strict=True)))


def between_lines(ground: Ground, found: Belonging, marks: Marks) -> tuple[Floats, Bools]:
    """What speaks for strokes that stand out between lines, and which those are."""
    which = ground.strokes.reference
    early, late = marks.bounds()
    outside = (marks.off < -early) | (marks.off > late)
    share = trust.gap_share(found)
    change = find_steps(found, which, found.off).change(np.where(outside, -marks.off, 0.0))
    steps = change / np.maximum(2 * np.abs(marks.off), 1e-9)
    told = trust.find_trust(found, which, ground.strokes.anchor, share, steps)
    between = (share[which] > trust.BETWEEN) | (trust.nearer_by(found, which) > 0)
    return told, outside & between


def learn_trust(cases: Cases) -> Floats:
    """Weights of what speaks for a slip between lines, and for its line."""
    found = cases.between
    right = (cases.slip != 0) & (np.argmax(cases.lines @ _LINES, axis=1) == cases.right_line)
    return solve(cases.trust[found], right[found], _RIDGE)


def learn_lines(cases: Cases) -> Floats:
    """Weights of what speaks for a line, by Newton's method; slips count as much as all others."""
    known = cases.right_line >= 0
    marks, right = cases.lines[known], cases.right_line[known]
    slipped = cases.slip[known] != 0
    share = np.where(slipped, 1.0, slipped.sum() / max((~slipped).sum(), 1))
    weight = np.zeros(marks.shape[2])
    for _ in range(40):
        score = marks @ weight
        chance = np.exp(score - score.max(axis=1, keepdims=True))
        chance /= chance.sum(axis=1, keepdims=True)
        mean = (chance[:, :, None] * marks).sum(axis=1)
        pull = (share[:, None] * (marks[np.arange(len(right)), right] - mean)).sum(axis=0)
        around = marks - mean[:, None, :]
        bend = np.einsum("n,nk,nki,nkj->ij", share, chance, around, around)
        step = np.linalg.solve(bend + _RIDGE * np.eye(len(weight)), pull - _RIDGE * weight)
        weight = weight + step
        if np.abs(step).max() < 1e-6:
            break
    return weight


def learn_slips(cases: Cases) -> Floats:
    """Weights of the marks of a slip."""
    return solve(cases.marks, cases.slip != 0, _RIDGE)


def solve(marks: Floats, which: Bools, ridge: float) -> Floats:
    """Logistic regression with a ridge on scaled marks, by Newton's method."""
    scale = marks.std(axis=0)
    scale[scale == 0] = 1.0
    marks, wanted = marks / scale, which.astype(np.float64)
    weight = np.zeros(marks.shape[1])
    for _ in range(40):
        chance = 1 / (1 + np.exp(-np.clip(marks @ weight, -30, 30)))
        bend = (marks * (chance * (1 - chance))[:, None]).T @ marks + ridge * np.eye(len(weight))
        step = np.linalg.solve(bend, marks.T @ (wanted - chance) - ridge * weight)
        weight = weight + step
        if np.abs(step).max() < 1e-6:
            break
    return np.asarray(weight / scale)


def tell(cases: Cases, lines: Floats, weight: Floats) -> None:
    """Print how much the weights find."""
    slipped = cases.slip != 0
    right = np.argmax(cases.lines @ lines, axis=1) == cases.right_line
    sys.stdout.write(
        f"  line of slips right {right[slipped].mean():.3f}, of others "
        f"{right[~slipped].mean():.3f}\n"
    )
    score = cases.marks @ weight
    size = np.abs(cases.slip[slipped])
    for share in (0.03, 0.05, 0.08, 0.10):
        limit = np.quantile(score[~slipped], 1 - share)
        moved = np.where(score > limit, cases.off, 0.0)
        left = np.abs(cases.slip - 0.75 * moved)[slipped]
        sys.stdout.write(
            f"  others moved {share:.2f} (limit {limit:.2f}): found "
            f"{(score > limit)[slipped].mean():.3f}, repaired by 40 % or to 12 ms "
            f"{(left <= np.maximum(0.6 * size, 12)).mean():.3f}, by 60 % "
            f"{(left <= np.maximum(0.4 * size, 12)).mean():.3f}\n"
        )


def main(folder: str) -> None:
    """Learn both tables and try them on the other half."""
    halves = [collect(planted_takes(Path(folder), half)) for half in (True, False)]
    lines, weight = learn_lines(halves[0]), learn_slips(halves[0])
    in_use = {**slips.DISTANCE_WEIGHTS, **slips.WEIGHTS}
    for title, table, learnt in (
        ("lines", evidence.WEIGHTS, lines),
        ("slips", in_use, weight),
        ("trust", trust.WEIGHTS, learn_trust(halves[0])),
    ):
        sys.stdout.write(f"{title}\n")
        for (mark, used), value in zip(table.items(), learnt, strict=True):
            sys.stdout.write(f"  {mark:20} {value:7.2f}   in use {used:7.2f}\n")
    for name, cases in zip(("learnt from", "the other half"), halves, strict=True):
        sys.stdout.write(f"{name}: {len(cases.slip)} strokes, {(cases.slip != 0).sum()} slips\n")
        tell(cases, lines, weight)


if __name__ == "__main__":
    main(*sys.argv[1:])
