"""Figures for conforming audio, on the demo take and on real takes: the table of the issue.

    python -m tests.evaluation.score_conform FOLDER_OF_TAKES [MOST_TAKES [SECONDS]]

Each take is recorded by twelve invented microphones (`tests/evaluation/microphones.py`), conformed
by the command's own job, and held against the truth: the tightened take in front of the same
microphones. Done with the default recipe, and with one that moves all it can (window 6 ms, strength
100), which makes the largest gains and losses; each as it is, and for audio (`--for-audio`). The
onset detector for attacks lost or doubled is librosa's; without it that line is left out.
"""

import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from importlib.util import find_spec
from itertools import groupby
from pathlib import Path

import numpy as np
from tests.evaluation.microphones import label_hits, place_kit, record, write
from tests.evaluation.onsets import lost_and_doubled, once_more
from tests.evaluation.residue import distances, floor_of, is_heard

from evenhand import Recipe, read_take, tighten
from evenhand.errors import EvenhandError
from evenhand.jobs.conform.clocks import Clock
from evenhand.jobs.conform.cut_plan import HOLD_S, ConformSettings, CutPlan, make_plan
from evenhand.jobs.conform.match import find_match
from evenhand.jobs.conform.microphone import common_size, open_microphones
from evenhand.jobs.conform.moves import Moves, moves_between
from evenhand.jobs.conform.rises import hear
from evenhand.jobs.conform.splices import Splice
from evenhand.jobs.conform.weave import stretches, write_conformed
from evenhand.jobs.demo_take import demo_take
from evenhand.kit import load_kit
from evenhand.take import Take

_RATE = 48_000
_RECIPES = {
    "default": Recipe(),
    "for audio": Recipe(for_audio="on"),
    "hardest": Recipe(window=6, strength=100),
    "hardest, for audio": Recipe(window=6, strength=100, for_audio="on"),
}
#: A close microphone for each piece that has one, by name.
_CLOSE = {"kick": 0, "snare": 2, "hat": 4, "tom": 5, "ride": 7}
#: Trials of offset and drift for each take, and the microphones that are heard in them.
_TRIALS, _EARS = 4, (0, 2, 4, 7, 10)
#: The recorder runs before the first hit, ms, so that it can be moved ahead as well.
_LEAD_MS = 500.0
#: So many of the attacks lost or doubled are listed.
_MOST_TOLD = 12
#: Attacks are not counted in the last seconds.
_END_S = 0.15
#: What places the microphones; and how far a moved attack is looked for, samples.
_NUMBER, _FURTHEST = 7, round(0.09 * _RATE)


@dataclass
class Tally:
    """What was counted over all takes."""

    onset_ms: list[float] = field(default_factory=list)
    anchor_ms: list[float] = field(default_factory=list)
    gone: int = 0
    copies: int = 0
    windows: int = 0
    broken: int = 0
    still: int = 0
    unequal: int = 0
    splices: int = 0
    heard: list[bool] = field(default_factory=list)
    heard_close: list[bool] = field(default_factory=list)
    plain: list[bool] = field(default_factory=list)
    plain_close: list[bool] = field(default_factory=list)
    change_ms: list[float] = field(default_factory=list)
    attacks: int = 0
    lost: int = 0
    doubled: int = 0
    plain_wrong: int = 0
    flicker: int = 0
    where: list[str] = field(default_factory=list)


def _plain_cuts(splices: tuple[Splice, ...]) -> list[Splice]:
    """The baseline: a plain cut with a crossfade of 5 ms at the same places."""
    cuts = []
    for _, some in groupby(splices, key=lambda one: one.block):
        turns = list(some)
        last, fade = turns[-1], round(0.005 * _RATE)
        at = last.at + last.fade // 2 - fade // 2
        cut = replace(turns[0], at=at, fade=fade, after=last.after, likeness=1.0)
        cuts.append(replace(cut, gains=(1.0, 1.0), until=at + fade, back=0))
    return cuts


def _cut_plainly(old: np.ndarray, cuts: list[Splice]) -> np.ndarray:
    """The old files cut at some places by a method of this script's own."""
    place = np.arange(old.shape[1])
    shift = np.zeros(len(place), np.int64)
    for cut in cuts:
        shift[cut.at :] = cut.after
    new = _read(old, place - shift)
    for cut in cuts:
        span = np.arange(cut.at, cut.at + cut.fade)
        turn = (np.arange(cut.fade) + 0.5) / cut.fade
        new[:, span] = (1 - turn) * _read(old, span - cut.before) + turn * _read(
            old, span - cut.after
        )
    return new


def _read(old: np.ndarray, place: np.ndarray) -> np.ndarray:
    inside = (place >= 0) & (place < old.shape[1])
    return np.where(inside, old[:, np.clip(place, 0, old.shape[1] - 1)], 0)


def _sound(paths: list[Path]) -> np.ndarray:
    import soundfile

    return np.stack([soundfile.read(path, dtype="int32")[0] >> 8 for path in paths])


def _count_bits(plan: CutPlan, old: np.ndarray, new: np.ndarray, tally: Tally) -> None:
    """Promises that hold bit by bit: attacks whole in every file alike, and what does not move."""
    lead, hold = round(0.004 * _RATE), round(HOLD_S * _RATE)
    for at, shift in zip(plan.units.at.tolist(), plan.shift.tolist(), strict=True):
        first, last = max(at - lead, 0), min(at + hold, old.shape[1] - max(shift, 0))
        if shift and first + shift >= 0:
            tally.windows += len(old)
            differs = old[:, first:last] != new[:, first + shift : last + shift]
            tally.broken += int(differs.any(axis=1).sum())
    for at, length, shift in stretches(plan.splices, old.shape[1]):
        if not shift:
            tally.still += old[:, at : at + length].size
            tally.unequal += int((old[:, at : at + length] != new[:, at : at + length]).sum())


def _measure_onsets(
    plan: CutPlan, moves: Moves, sounds: tuple[np.ndarray, np.ndarray], tally: Tally
) -> None:
    """How far each moved hit is from the truth.

    Where the attack was recorded is known, and so is where the truth has it. In the close
    microphone its samples, from 1 ms ahead to 10 ms behind, are looked for in the new file, bit by
    bit, near where the truth has them and where they were; attacks that are not found again are
    counted by themselves.
    """
    old, new = sounds
    sources = sorted(set(moves.piece.tolist()))
    delay = place_kit(sources, _NUMBER, _RATE).delay
    before, after = round(0.001 * _RATE), round(0.01 * _RATE)
    for hit in plan.units.hit.tolist():
        wanted = 0 if hit < 0 else round(float(moves.shift_ms[hit]) * _RATE / 1000)
        if not wanted:
            continue
        piece = str(moves.piece[hit])
        mic = next((mic for name, mic in _CLOSE.items() if piece.startswith(name)), 8)
        at = round((float(moves.ms[hit]) + _LEAD_MS) * _RATE / 1000) + int(
            delay[mic, sources.index(piece)]
        )
        one = old[mic, at - before : at + after]
        start = at - before - _FURTHEST
        other = new[mic, max(start, 0) : at + after + _FURTHEST]
        if at < before or at + max(wanted, 0) + after > old.shape[1]:
            continue
        found = _same(one, other) + max(start, 0) - (at - before)
        if not len(found):
            tally.gone += 1
            continue
        tally.onset_ms.append(float(np.abs(found - wanted).min()) * 1000 / _RATE)
        tally.copies += len(found) - 1
        if moves.anchor[hit]:
            tally.anchor_ms.append(tally.onset_ms[-1])


def _same(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Where a row of numbers stands in another one."""
    starts = np.flatnonzero(other[: len(other) - len(one) + 1] == one[0])
    return np.array([at for at in starts if np.array_equal(other[at : at + len(one)], one)], int)


def _listen_for_residue(
    plan: CutPlan, sounds: tuple[np.ndarray, np.ndarray, np.ndarray], tally: Tally
) -> None:
    """Splices that are heard: in all files together, and in each close microphone."""
    new, plain, truth = sounds
    weight = 1 / plan.heard.loudness
    mixes = [weight @ one for one in sounds]
    floor = floor_of(mixes[2])
    floors = [floor_of(truth[mic]) for mic in _CLOSE.values()]
    for one in plan.splices:
        middle = one.at + one.fade // 2
        wide = max(one.fade // 2 + _RATE // 100, 3 * _RATE // 100)
        stop = int(plan.blocks.first[one.block]) + one.after - round(0.004 * _RATE)
        span = middle - wide, max(min(middle + wide, stop), one.at + one.fade), _RATE
        tally.change_ms.append(abs(one.change) * 1000 / _RATE)
        tally.heard.append(is_heard(distances(mixes[0], mixes[2], *span, floor)))
        tally.plain.append(is_heard(distances(mixes[1], mixes[2], *span, floor)))
        for mic, low in zip(_CLOSE.values(), floors, strict=True):
            tally.heard_close.append(is_heard(distances(new[mic], truth[mic], *span, low)))
            tally.plain_close.append(is_heard(distances(plain[mic], truth[mic], *span, low)))


def _count_attacks(
    name: str, sounds: tuple[np.ndarray, np.ndarray, np.ndarray], tally: Tally
) -> None:
    """Attacks lost and doubled in close microphones; also by plain cuts, and in the truth itself.

    See `tests/evaluation/onsets.py`. The very end is left out: what is struck behind the end of the
    recording can't be moved into it.
    """
    if not find_spec("librosa"):
        return
    new, plain, truth = (one[:, : -round(_END_S * _RATE)] for one in sounds)
    for number, mic in enumerate(_CLOSE.values()):
        lost, doubled = lost_and_doubled(truth[mic], new[mic], _RATE)
        tally.attacks += len(lost.attacks)
        tally.lost += len(lost.lacking)
        tally.doubled += len(doubled.lacking)
        by_plain = lost_and_doubled(truth[mic], plain[mic], _RATE)
        tally.plain_wrong += sum(len(one.lacking) for one in by_plain)
        itself = lost_and_doubled(truth[mic], once_more(truth[mic], _RATE, number), _RATE)
        tally.flicker += sum(len(one.lacking) for one in itself)
        for kind, one in (("lost", lost), ("doubled", doubled)):
            for at in (one.lacking / _RATE).tolist():
                where = f"{list(_CLOSE)[number]}, {at:.3f} s of {Path(name).name}"
                tally.where.append(f"{kind}: {where}")


def _score(take: Take, recipe: Recipe, frames: int, tally: Tally) -> str:
    """Record, conform and measure one take."""
    hits = label_hits(take)
    tight = tighten(take, recipe).take
    moves = moves_between(take, tight, load_kit("ekit"), anchors=Recipe().anchor)
    played = record(hits, hits.ms + _LEAD_MS, _NUMBER, _RATE, frames)
    truth = np.rint(record(hits, tight.hits().ms + _LEAD_MS, _NUMBER, _RATE, frames) * 2**23)
    with tempfile.TemporaryDirectory() as scratch:
        paths = write(Path(scratch), played, _RATE)
        made = [path.with_suffix(".new.wav") for path in paths]
        with open_microphones(paths) as files, ThreadPoolExecutor(2) as pool:
            try:
                plan = make_plan(files, moves, ConformSettings(), pool, lambda _: None)
            except EvenhandError as error:
                return f"refused: {error}"
            for one, path in zip(files, made, strict=True):
                write_conformed(one, plan.splices, path)
        old, new = _sound(paths), _sound(made)
    tally.splices += len(plan.splices)
    _count_bits(plan, old, new, tally)
    _measure_onsets(plan, moves, (old, new), tally)
    plain = _cut_plainly(old.astype(float), _plain_cuts(plan.splices))
    sounds = (new.astype(float), plain, truth)
    _listen_for_residue(plan, sounds, tally)
    _count_attacks(take.name, sounds, tally)
    return f"{len(plan.splices)} splices"


def _score_clock(take: Take, frames: int, number: int) -> list[tuple[float, float]]:
    """Error of offset (ms) and drift (millionths) in trials that a number decides."""
    hits = label_hits(take)
    random = np.random.default_rng(number)
    moves = moves_between(take, take, load_kit("ekit"), anchors=Recipe().anchor)
    errors = []
    for _ in range(_TRIALS):
        offset, drift = random.uniform(-2000, 2000), random.uniform(-100, 100)
        ms = hits.ms * (1 + drift * 1e-6) + offset
        mine = np.flatnonzero(ms >= 0)
        sound = record(hits.only(mine), ms[mine], number, _RATE, frames, _EARS)
        with tempfile.TemporaryDirectory() as scratch:
            paths = write(Path(scratch), sound, _RATE)
            with open_microphones(paths) as files, ThreadPoolExecutor(2) as pool:
                heard = hear(files, common_size(files), pool, lambda _: None)
        try:
            clock = find_match(moves, heard, None, drift=False).clock
        except EvenhandError:
            clock = Clock(np.inf, np.inf)
        errors.append((abs(1000 * clock.offset - offset), abs(clock.drift - drift)))
    return errors


def _print(name: str, tally: Tally) -> None:
    def share(some: list[bool]) -> str:
        return f"{100 * np.mean(some):.2f} %" if some else "-"

    onset = np.percentile(tally.onset_ms, [50, 95, 99]) if tally.onset_ms else [np.nan] * 3
    anchor = np.percentile(tally.anchor_ms, [50, 95, 99]) if tally.anchor_ms else [np.nan] * 3
    change = np.percentile(tally.change_ms, [50, 95, 100]) if tally.change_ms else [0] * 3
    sys.stdout.write(
        f"\nrecipe: {name}; {tally.splices} splices, change (ms) in the middle {change[0]:.1f}, "
        f"95th percentile {change[1]:.1f}, most {change[2]:.1f}\n"
        f"  onset of {len(tally.onset_ms)} moved hits against the truth, ms: middle "
        f"{onset[0]:.3f}, 95th percentile {onset[1]:.3f}, 99th {onset[2]:.3f}\n"
        f"  kick and snare alone: {anchor[0]:.3f}, {anchor[1]:.3f}, {anchor[2]:.3f}; "
        f"{tally.gone} attacks not found again, {tally.copies} found twice\n"
        f"  attacks not moved whole and alike: {tally.broken} of {tally.windows} "
        "(attacks times microphones)\n"
        f"  samples unequal where nothing moves: {tally.unequal} of {tally.still}\n"
        f"  attacks (librosa, close microphones): {tally.lost} lost, {tally.doubled} doubled of "
        f"{tally.attacks}; by plain cuts both: {tally.plain_wrong}; the truth against itself: "
        f"{tally.flicker}\n"
        + "".join(f"    {one}\n" for one in tally.where[:_MOST_TOLD])
        + f"  splices heard: {share(tally.heard)} in all files together, "
        f"{share(tally.heard_close)} in a close microphone\n"
        f"  plain cut of 5 ms there: {share(tally.plain)}, {share(tally.plain_close)}\n"
    )


def main() -> None:
    """Print the figures."""
    folder = Path(sys.argv[1])
    most = int(sys.argv[2]) if len(sys.argv) > 2 else 10
    seconds = float(sys.argv[3]) if len(sys.argv) > 3 else 45.0
    paths = sorted(folder.glob("*.mid"))
    takes = [read_take(path) for path in paths]
    long = [take for take in takes if take.hits().ms.max() > 20_000]
    chosen = [Take.from_bytes(demo_take(), "demo")]
    chosen += [long[index] for index in np.linspace(0, len(long) - 1, most).astype(int)]
    tallies = {name: Tally() for name in _RECIPES}
    clocks: list[tuple[float, float]] = []
    for number, take in enumerate(chosen):
        length = min(float(label_hits(take).ms.max()) / 1000 + 2, seconds)
        for name, recipe in _RECIPES.items():
            told = _score(take, recipe, int(length * _RATE), tallies[name])
            sys.stdout.write(f"{Path(take.name).name}, {length:.0f} s, {name}: {told}\n")
            sys.stdout.flush()
        whole = min(float(label_hits(take).ms.max()) / 1000 + 4, 120)
        if whole > 60:
            clocks += _score_clock(take, int(whole * _RATE), number)
    for name, tally in tallies.items():
        _print(name, tally)
    if clocks:
        offset, drift = np.array(clocks).T
        sys.stdout.write(
            f"\noffset within 1 ms: {100 * np.mean(offset < 1):.1f} %, drift within 5 millionths: "
            f"{100 * np.mean(drift < 5):.1f} %, of {len(clocks)} trials of over a minute\n"
            f"  worst: {offset.max():.2f} ms, {drift.max():.2f} millionths\n"
        )


if __name__ == "__main__":
    main()
