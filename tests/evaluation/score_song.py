"""How well takes are placed in songs: `python -m tests.evaluation.score_song WHAT FOLDER`.

habit: real takes (FOLDER) of over two minutes: what half of one tells of the other half; and takes
leaned towards each other's habit.
misfit: real takes (FOLDER) on a song of their own labelled tempo, and beside it.
against: invented basses with known offsets under an invented take; real takes (FOLDER) against the
snare of another drummer.
pick: invented sets of four takes with planted faults, 1,000 random joins, and joins of real takes
(FOLDER) with copies of them that are played a little otherwise.
watch: 200 invented files written slowly, renamed into place, or completed late, into a new FOLDER.
"""

import argparse
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
from tests.build import drum_take, midi_bytes, track
from tests.jobs.batch.few import small_take
from tests.jobs.pick.sets import SECTIONS as PARTS
from tests.jobs.pick.sets import Faults, as_take, four_takes, numbers, play
from tests.part.bass import bass, drums
from tests.profile.test_profile import ONE, habit_take

from evenhand import Recipe, Take, assess, fit, read_take, tighten
from evenhand.errors import EvenhandError
from evenhand.ground import Ground, prepare
from evenhand.jobs.batch import BatchSettings
from evenhand.jobs.pick import ByHand, PickWishes, pick
from evenhand.jobs.watch import Arrived, wake_ups, watch
from evenhand.jobs.workers import Workers
from evenhand.part import read_part
from evenhand.plan.towards import LEAST_MOST_MS
from evenhand.profile import Compared, Profile, compare_profiles, find_profile, profile_toml
from evenhand.profile.find import find_cells, placed_hits
from evenhand.song.misfit import compare_beats
from evenhand.take import Song, exchange
from evenhand.tightener import Result


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")


def song_of(tempo: int, meter: tuple[int, int]) -> Take:
    """A song of one tempo, µs per quarter."""
    import mido

    events = [
        (0, mido.MetaMessage("set_tempo", tempo=tempo)),
        (0, mido.MetaMessage("time_signature", numerator=meter[0], denominator=meter[1])),
    ]
    return Take.from_bytes(midi_bytes(track(events)), "song")


def score_misfit(folder: Path, each: int) -> None:
    """Alarms on takes that lie on their song, and on takes that don't."""
    random = np.random.default_rng(18)
    count = told = 0
    caught = {"offset": [0, 0, 0], "tempo": [0, 0, 0]}
    for path in sorted(folder.glob("*.mid"))[::each]:
        take = read_take(path)
        tempo = int(take.tempo.tempo[-1])
        meter = int(take.meter.beats[-1]), int(take.meter.unit[-1])
        try:
            found = fit(take).fit
        except EvenhandError:
            continue
        hits = take.hits().ms / 1000
        ends = float(hits.min()), float(hits.max())
        song = song_of(tempo, meter)
        first = compare_beats(found, Song(song), *ends)
        count += 1
        if first:
            told += 1
            _say(f"  {path.stem}: {first.text}")
            continue
        quarter = tempo / 1000
        shift = float(random.uniform(0.2, 0.35) * quarter * random.choice([-1, 1]))
        moved = compare_beats(found, Song(song, shift), *ends)
        caught["offset"][0] += 1
        if moved and moved.at_s is not None:
            caught["offset"][1] += 1
            caught["offset"][2] += abs(1000 * moved.at_s) < 0.12 * quarter
        factor = float(random.choice([0.9, 0.95, 1.05, 1.1]))
        other = compare_beats(found, Song(song_of(round(tempo * factor), meter)), *ends)
        caught["tempo"][0] += 1
        if other and other.bpm is not None:
            caught["tempo"][1] += 1
            caught["tempo"][2] += abs(other.bpm / (6e7 / tempo) - 1) < 0.01
    _say(f"{count} takes that tell a tempo; told although on their song: {told}")
    for name, (many, seen, right) in caught.items():
        _say(f"wrong {name}: told {seen} of {many}, what would fit is right in {right}")


def score_watch(folder: Path, each: int) -> None:
    """200 files that come in three ways: how often each was tightened, and from which bytes."""
    del each
    (folder / "in").mkdir(parents=True)
    takes = {f"take-{number:03}.mid": small_take(number) for number in range(200)}
    writer = threading.Thread(target=_arrive, args=(folder, takes))
    stop = threading.Event()
    settings = BatchSettings(folder / "out")
    times: Counter[str] = Counter()
    waited = 0
    begin = time.monotonic()
    writer.start()
    quiet_since = begin
    wakes = wake_ups(folder / "in", stop)

    def until_quiet() -> Iterator[bool]:
        nonlocal quiet_since
        for wake in wakes:
            if writer.is_alive() or wake:
                quiet_since = time.monotonic()
            if time.monotonic() - quiet_since > 5:
                return
            yield wake

    for event in watch(folder / "in", settings, Workers(1), until_quiet()):
        if isinstance(event, Arrived) and event.outcome.state == "done":
            times[str(event.outcome.row["take"])] += 1
        else:
            waited += 1
    writer.join()
    right = sum(
        (folder / "out" / f"{name[:-4]}-tight.mid").read_bytes()
        == tighten(Take.from_bytes(data)).take.to_bytes()
        for name, data in takes.items()
    )
    once = sum(times[name] == 1 for name in takes)
    _say(
        f"{len(takes)} files in {time.monotonic() - begin:.0f} s: {once} tightened once, "
        f"{len(times) - once} more than once, {right} from the whole bytes; "
        f"{waited} times half a file was told as waiting"
    )


def _arrive(folder: Path, takes: dict[str, bytes]) -> None:
    """A third written slowly, a third renamed into place, a third left half for a while."""
    late: list[tuple[float, Path, bytes]] = []
    for number, (name, data) in enumerate(takes.items()):
        path = folder / "in" / name
        if number % 3 == 0:
            with path.open("wb") as file:
                for piece in range(0, len(data), 200):
                    file.write(data[piece : piece + 200])
                    file.flush()
                    time.sleep(0.02)
        elif number % 3 == 1:
            (folder / name).write_bytes(data)
            (folder / name).replace(path)
        else:
            path.write_bytes(data[: len(data) * (number % 7 + 1) // 9])
            late.append((time.monotonic() + 1 + number % 5, path, data))
        time.sleep(0.05)
        due = [one for one in late if one[0] < time.monotonic()]
        for one in due:
            one[1].write_bytes(one[2])
            late.remove(one)
    for at, path, data in late:
        time.sleep(max(at - time.monotonic(), 0))
        path.write_bytes(data)


def score_against(folder: Path, each: int) -> None:
    """How far kick and bass, or two snares, are apart before and after."""
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "part.mid"
        far = []
        for offset in range(-20, 21, 2):
            for seed in range(3):
                chance = np.random.default_rng(1000 * seed + offset + 50)
                lean = float(chance.uniform(-8, 8))
                bass(chance, offset).save(path, overwrite=True)
                after = tighten(drums(chance, lean=lean), Recipe(against=str(path))).take
                far.append(abs(_kick_and_bass(after, path)))
        _say(
            f"{len(far)} invented basses, -20 to +20 ms: kick and bass apart by "
            f"{np.median(far):.1f} ms in the median case, {max(far):.1f} in the worst"
        )
        _real_snares(folder, each, path)


def _kick_and_bass(take: Take, path: Path) -> float:
    """Middle of kick minus the nearest bass note, ms."""
    hits = take.hits()
    kicks, notes = hits.ms[hits.note == 36], read_part(read_take(path)).ms
    return float(np.median(kicks - notes[np.abs(kicks[:, None] - notes).argmin(axis=1)]))


def _real_snares(folder: Path, each: int, path: Path) -> None:
    """Each take against the snare of the next take of the same meter, laid on its tempo."""
    takes = [read_take(one) for one in sorted(folder.glob("*.mid"))[::each]]
    rows = []
    for one, other in pairwise(takes):
        if (one.meter.beats[-1], one.meter.unit[-1]) != (4, 4):
            continue
        # The other drummer's places, at this take's tempo.
        played = other.hits()
        tick = np.rint(played.tick * one.division / other.division).astype(np.int64)
        notes = [
            (int(at), int(note), int(loud))
            for at, note, loud in zip(tick, played.note, played.velocity, strict=True)
        ]
        part = drum_take(notes, bpm=float(one.tempo.bpm[-1]), division=one.division)
        part.save(path, overwrite=True)
        try:
            recipe = Recipe(against=f"{path}:snare")
            before = assess(one, recipe).together
            after = assess(tighten(one, recipe).take, recipe).together
        except EvenhandError:
            continue
        if before and after and "snare" in before.pieces and "snare" in after.pieces:
            pair = before.pieces["snare"], after.pieces["snare"]
            if pair[0].pairs >= 16:
                rows.append([abs(pair[0].ms), abs(pair[1].ms), pair[0].spread, pair[1].spread])
    table = np.array(rows)
    middle = np.median(table, axis=0)
    _say(
        f"{len(table)} real takes against another drummer's snare (16 shared lines or more): "
        f"snares {middle[0]:.1f} ms apart before, {middle[1]:.1f} after (median of takes; worst "
        f"{table[:, 1].max():.1f}); spread {middle[2]:.1f} ms before, {middle[3]:.1f} after"
    )


def score_habit(folder: Path, each: int) -> None:
    """Whether a profile of one half predicts the other half better than its lean alone."""
    gains, grounds = [], []
    for path in sorted(folder.glob("*.mid"))[::each]:
        take = read_take(path)
        ms = take.hits().ms
        if np.ptp(ms) < 120_000:
            continue
        ground = prepare(take, Recipe())
        try:
            whole = find_profile([ground])
        except EvenhandError:
            continue
        grounds.append((ground, whole))
        placed = placed_hits(ground)
        # Every second stretch of four bars, so that both halves have all sections.
        bar = ground.time.bars_at(ground.tick[placed.hit]).number
        one = (bar // 4) % 2 == 0
        if min(one.sum(), (~one).sum()) < 64:
            continue
        errors = []
        for half in (one, ~one):
            cells = find_cells(placed.piece[half], placed.beat[half], placed.off[half])
            part = replace(whole, whole=float(np.median(placed.off[half])), **vars(cells))
            rest = ~half
            told = part.at(placed.piece[rest], placed.beat[rest])
            errors.append(
                (
                    float(np.abs(placed.off[rest] - told).mean()),
                    float(np.abs(placed.off[rest] - part.whole).mean()),
                )
            )
        profile, lean = np.mean(errors, axis=0)
        gains.append((lean, profile))
    table = np.array(gains)
    better = int((table[:, 1] < table[:, 0]).sum())
    _say(
        f"{len(table)} takes of over two minutes: the habit of one half predicts the other half "
        f"better than the lean alone in {better}; mean absolute error {table[:, 0].mean():.2f} ms "
        f"by the lean, {table[:, 1].mean():.2f} ms by the habit "
        f"({100 * np.median(1 - table[:, 1] / table[:, 0]):.0f} % less in the median take)"
    )
    _towards_others(grounds)
    _towards_invented()


def _towards_others(grounds: list[tuple[Ground, Profile]]) -> None:
    """Each take towards the habit of the next one."""
    alike, near, before, short, same = [], [], [], [], 0
    for (ground, own), (_, wanted) in pairwise(grounds):
        try:
            before.append(compare_profiles(wanted, own, ("wanted", "before")).alike)
            result = _towards(ground.source, wanted)
        except EvenhandError as error:
            _say(f"  {ground.take.name}: {error}")
            continue
        found = _after(result, wanted)
        alike.append(found.alike)
        # What the habits have further apart than this is carried.
        close = np.abs(wanted.at(found.piece, found.beat) - own.at(found.piece, found.beat))
        near.append(_correlation(found, close <= LEAST_MOST_MS))
        way = result.plan.habit.towards.hit
        went = ground.time.between(ground.tick, ground.tick + result.carry.leaned)
        short.append(float((np.abs(went - way) > 3).mean()))
        kept = (ground.take.hits(), result.take.hits())
        kinds = [sorted(zip(h.note.tolist(), h.velocity.tolist(), strict=True)) for h in kept]
        same += kinds[0] == kinds[1]
    _say(
        f"{len(alike)} takes towards another's habit: correlation of cells {np.median(before):.3f} "
        f"before, {np.median(alike):.3f} after in the median, 0.9 or more in "
        f"{sum(one >= 0.9 for one in alike)}, least {min(alike):.2f}; cells whose habits are up to "
        f"{LEAST_MOST_MS:.0f} ms apart {np.median(near):.3f}, 0.9 or more in "
        f"{sum(one >= 0.9 for one in near)}, least {min(near):.2f}; "
        f"{100 * np.median(short):.1f} % of the hits more than 3 ms short in the median take; the "
        f"same hits in {same}"
    )


def _towards_invented() -> None:
    """Invented drummers, each towards the habit of another."""
    random = np.random.default_rng(18)
    recipe, alike = Recipe(grid="1/8"), []
    for seed in range(40):
        habits = [{key: float(random.uniform(-20, 20)) for key in ONE} for _ in range(2)]
        one, other = (habit_take(habit, 2 * seed + at, 6) for at, habit in enumerate(habits))
        wanted = find_profile([prepare(other, recipe)])
        alike.append(_after(_towards(one, wanted, recipe), wanted).alike)
    _say(
        f"{len(alike)} invented takes towards another's habit: correlation of cells "
        f"{np.median(alike):.3f} in the median, 0.9 or more in {sum(one >= 0.9 for one in alike)}, "
        f"least {min(alike):.2f}"
    )


def _towards(take: Take, wanted: Profile, recipe: Recipe | None = None) -> Result:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "wanted.habit.toml"
        path.write_bytes(profile_toml(wanted))
        settings = {"habit_from": str(path), "strength": 0.0}
        return tighten(take, (recipe or Recipe()).with_settings(settings))


def _after(result: Result, wanted: Profile) -> Compared:
    """The habit that came of it, against the same lines."""
    placed = placed_hits(result.ground)
    off = placed.off + result.changes.shift_ms[placed.hit]
    cells = find_cells(placed.piece, placed.beat, off)
    after = replace(wanted, whole=float(np.median(off)), **vars(cells))
    return compare_profiles(wanted, after, ("wanted", "after"))


def _correlation(found: Compared, which: np.ndarray) -> float:
    weight = np.minimum(*found.count)[which]
    both = [one[which] - np.average(one[which], weights=weight) for one in found.ms]
    return float(
        (weight * both[0] * both[1]).sum()
        / np.sqrt((weight * both[0] ** 2).sum() * (weight * both[1] ** 2).sum())
    )


def score_pick(folder: Path, each: int) -> None:
    """Whether the take without faults is chosen, and whether joins lose or double hits."""
    right = many = 0
    for seed in range(100):
        takes, best = four_takes(np.random.default_rng(seed))
        chosen = [one.take for one in pick(takes).choices]
        right += sum(one == other for one, other in zip(chosen, best, strict=True))
        many += len(best)
    _say(f"invented sets: the take without faults chosen in {right} of {many} sections")
    chance = np.random.default_rng(18)
    wrong = joins = hits = 0
    while joins < 1000:
        leans = chance.uniform(-15, 15, 3)
        played = [play(chance, [Faults()] * len(PARTS), lean=float(lean)) for lean in leans]
        takes = [as_take(one, f"t{number}") for number, one in enumerate(played)]
        known = [numbers(one) for one in played]
        for _ in range(50):
            lost, total = _lost(takes, known, chance, 36)
            wrong, hits, joins = wrong + lost, hits + total, joins + 1
    _say(f"{joins} random joins bar by bar: {wrong} of {hits} hits lost or doubled")
    wrong = hits = joins = 0
    for path in sorted(folder.glob("*.mid"))[::each]:
        take = read_take(path)
        copies = [_replayed(take, chance, f"copy {number}") for number in range(3)]
        bars = int(take.meter.bars_at(take.hits().tick.max()).number) + 1
        for _ in range(3):
            lost, total = _lost(
                [one for one, _ in copies], [one for _, one in copies], chance, bars
            )
            wrong, hits, joins = wrong + lost, hits + total, joins + 1
    _say(f"{joins} random joins of real takes and copies: {wrong} of {hits} hits lost or doubled")


def _lost(
    takes: list[Take], known: list[list[int | None]], chance: np.random.Generator, bars: int
) -> tuple[int, int]:
    """Join takes with each bar from one of them; how many hits are lost or doubled, of how many."""
    owners = {str(bar): int(chance.integers(1, len(takes) + 1)) for bar in range(1, bars + 1)}
    wishes = PickWishes(Recipe(sections="none"), by_hand=ByHand(take=owners))
    joined = pick(takes, wishes).joined
    got = Counter(known[take][hit] for take, hit in zip(joined.source, joined.hit, strict=True))
    wanted = Counter(known[0])
    return sum(((got - wanted) + (wanted - got)).values()), sum(wanted.values())


def _replayed(take: Take, chance: np.random.Generator, name: str) -> tuple[Take, list[int | None]]:
    """A take with every stroke a little elsewhere: 5 ms of scatter and a lean of up to 12 ms."""
    hits = take.hits()
    order = np.argsort(hits.tick, kind="stable")
    # Hits of one drum keep their order: a roll is a roll.
    ms = hits.ms + float(chance.uniform(-12, 12)) + chance.normal(0, 5, len(hits))
    for note in np.unique(hits.note):
        mine = order[hits.note[order] == note]
        ms[mine] = np.maximum.accumulate(ms[mine])
    tick = np.maximum(np.rint(take.tempo.to_tick(ms)), 0).astype(np.int64)
    events = [
        (int(at), bytes([0x99, int(note), int(loud)]))
        for at, note, loud in zip(tick[order], hits.note[order], hits.velocity[order], strict=True)
    ]
    after = np.argsort(tick[order], kind="stable")
    copy = exchange(take, int(hits.channel[0]), events)
    return Take(name, copy.smf), [int(one) for one in order[after]]


_SCORES = {
    "against": score_against,
    "habit": score_habit,
    "misfit": score_misfit,
    "pick": score_pick,
    "watch": score_watch,
}


def main() -> None:
    """Run one of the scores."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=[*_SCORES])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--each", type=int, default=1)
    given = parser.parse_args()
    _SCORES[given.what](given.folder, given.each)


if __name__ == "__main__":
    main()
