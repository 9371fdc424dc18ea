"""What is tried on one take, and what came of it."""

import hashlib
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from tests.build import drum_take
from tests.evaluation.score_judgement import measures
from tests.evaluation.score_judgement.heard import evener_as_heard
from tests.evaluation.score_judgement.measures import Share
from tests.evaluation.score_judgement.plant import (
    USUAL_MS,
    plant_pushes,
    plant_slips,
    scatter,
    without_time_hand,
)
from tests.evaluation.score_judgement.playing import Playing, see
from tests.evaluation.score_judgement.rewrite import (
    Rewritten,
    under_tempo,
    warped,
    with_hits_at,
    without,
)
from tests.evaluation.score_judgement.told import offset_told, tempo_told

from evenhand import Result, Take, tighten
from evenhand.columns import Bools, Floats
from evenhand.take.hits import Hits

#: Shifts of the whole take, ms: two are drawn for each take. From `FAR_MS` on, lean included, a
#: shift is more than a lean, and is to be told, right to `TOLD_MS`.
SHIFTS_MS = (-64, -51, -38, -27, 27, 38, 47, 59, 71)
FAR_MS, TOLD_MS = 32.0, 12.0
#: The wrong tempi: what a file says that nobody set, and how far off a rounded one is.
DEFAULT_BPM, TEMPO_OFF = 120.0, 0.002
#: Scatter of a loose player, ms.
LOOSE_MS = 20.0
#: Fewest strokes of a take to be judged, and seconds: of any, for a tempo that is far off, for one
#: that is a little off, for that to ruin a take.
FEWEST_STROKES, SHORTEST_S, SHORT_S, LONG_S = 16, 10.0, 60.0, 120.0

# Tempi with lines in common with 120 bpm: the same pulse, counted otherwise.
_ALIKE = (30, 40, 60, 120, 240)


@dataclass
class Tally:
    """What was counted: shares (how many, of how many) and figures of single takes."""

    shares: dict[str, Counter[str]] = field(default_factory=dict)
    figures: dict[str, list[float]] = field(default_factory=dict)
    notes: dict[str, list[str]] = field(default_factory=dict)

    def add(self, name: str, share: Share) -> None:
        """Count a share."""
        self.shares.setdefault(name, Counter()).update(good=share[0], of=share[1])

    def put(self, name: str, value: float) -> None:
        """Put down the figure of one take."""
        self.figures.setdefault(name, []).append(value)

    def note(self, name: str, take: str) -> None:
        """Put down the name of a take."""
        self.notes.setdefault(name, []).append(take)

    def share(self, name: str) -> float:
        """One share; NaN where nothing was counted."""
        one = self.shares.get(name, Counter())
        return one["good"] / one["of"] if one["of"] else float("nan")


def generator(name: str, seed: int, what: str) -> np.random.Generator:
    """Draws that depend on the take's name, the seed and what they are for."""
    digest = hashlib.sha256(f"{what} {seed} {name}".encode()).digest()
    return np.random.default_rng(list(digest[:16]))


@dataclass(frozen=True, eq=False)
class Judged:
    """A take as it is, as the measure sees it, and what a pass with defaults made of it."""

    name: str
    take: Take
    hits: Hits
    playing: Playing
    after: Floats
    result: Result

    @property
    def seconds(self) -> float:
        """From the first hit to the last."""
        return float(np.ptp(self.playing.ms) / 1000)


def judge(path: Path, take: Take) -> Judged:
    """Run a take as it is."""
    result = tighten(take)
    hits = result.changes.hits
    playing = see(hits, take.tempo, take.meter)
    return Judged(path.name, take, hits, playing, result.changes.ms_after, result)


def enough(one: Judged) -> bool:
    """Whether there is enough in a take to judge by."""
    return len(one.playing.reference) >= FEWEST_STROKES and one.seconds >= SHORTEST_S


def _run(rewritten: Rewritten, count: int) -> tuple[Result, Floats]:
    """Tighten a take; when each of the old hits sounds afterwards (NaN where it is left out)."""
    result = tighten(rewritten.take)
    after = np.full(count, np.nan)
    after[rewritten.hit] = result.changes.ms_after
    return result, after


def as_it_is(one: Judged, tally: Tally) -> None:
    """How much moves in a take with nothing planted, and what is said."""
    playing, changes = one.playing, one.result.changes
    acted = np.isin(playing.stroke[changes.action == "moved"], np.arange(len(playing.reference)))
    strokes = np.unique(playing.stroke[changes.action == "moved"][acted])
    tally.put("strokes moved", len(strokes) / len(playing.reference))
    tally.put("strokes moved 2 ms", float(measures.moved_strokes(playing, one.after).mean()))
    tally.put("flags a minute", len(one.result.flags) / one.seconds * 60)
    listed = [hit - 1 for flag in one.result.flags for hit in flag.hits]
    tally.add(
        "largest listed", measures.large_listed(playing, one.after, np.array(listed, np.int64))
    )
    tally.add("evener", measures.evener(playing, one.after))
    bar_ms = float(one.take.tempo.to_ms(one.take.meter.bars_at(0).stop))
    strokes_nearer, moves_nearer = evener_as_heard(playing, one.after, bar_ms)
    tally.add("evener as heard", strokes_nearer)
    tally.add("evener as heard, moves", moves_nearer)
    tally.add("thrown", measures.thrown(playing, one.after))
    _alarm("offset told in takes as they are", offset_told(one.result) != 0, one, tally)
    _alarm("tempo told in takes as they are", tempo_told(one.result) is not None, one, tally)


def _alarm(name: str, raised: bool, one: Judged, tally: Tally) -> None:
    tally.add(name, (int(raised), 1))
    if raised:
        tally.note(name, one.name)


def slips(one: Judged, tally: Tally, seed: int) -> None:
    """Slips in single strokes: in the take, in it without the time hand, in any strokes of it."""
    every = np.ones(len(one.playing), bool)
    for name, left, usual_ms in (
        ("", every, USUAL_MS),
        (", drums only", _drums(one), USUAL_MS),
        (", anywhere", every, np.inf),
    ):
        playing = one.playing.only(left)
        planted = plant_slips(playing, generator(one.name, seed, "slips"), usual_ms)
        ms = one.playing.ms.copy()
        ms[left] = planted.ms
        moved = with_hits_at(one.take, one.hits, ms)
        if not left.all():
            moved = _leave_out(moved, ~left)
        _, after = _run(moved, len(left))
        for what, share in measures.slips_mended(playing, planted, after[left]).items():
            tally.add(what + name, share)


def _leave_out(moved: Rewritten, gone: Bools) -> Rewritten:
    """Leave hits (as numbered before the move) out of a take that was rewritten."""
    fewer = without(moved.take, moved.take.hits(), gone[moved.hit])
    return Rewritten(fewer.take, moved.hit[fewer.hit])


def _drums(one: Judged) -> Bools:
    return without_time_hand(one.playing.piece)


def pushes(one: Judged, tally: Tally, seed: int) -> None:
    """Bars that are pushed as a whole."""
    meter, tempo = one.take.meter, one.take.tempo
    length = float(meter.bars_at(0).stop)
    bars = int(one.playing.bar.max())
    starts = tempo.to_ms(length * np.arange(bars + 1))
    strokes = one.playing.ms[one.playing.reference]
    planted = plant_pushes(starts, strokes, generator(one.name, seed, "pushes"))
    if len(planted.amount) and len(meter.tick) == 1:
        _, after = _run(warped(one.take, one.hits, planted.at), len(one.playing))
        for what, share in measures.pushes_eased(one.playing, planted, after).items():
            tally.add(what, share)


def shifts(one: Judged, tally: Tally, seed: int) -> None:
    """The whole take early or late; a bar is put before it, so that nothing falls off the file."""
    bar = float(one.take.tempo.to_ms(one.take.meter.bars_at(0).stop))
    _, before = _run(warped(one.take, one.hits, lambda ms: ms + bar), len(one.playing))
    usual = one.playing.ms - one.playing.nominal
    own = float(np.median(usual[one.playing.anchor | one.playing.keeper]))
    for shift in generator(one.name, seed, "shift").choice(SHIFTS_MS, 2, replace=False).tolist():
        moved = warped(one.take, one.hits, lambda ms, by=shift: ms + bar + by)
        result, after = _run(moved, len(one.playing))
        same = measures.same_decisions(
            one.playing, before - one.playing.ms - bar, after - one.playing.ms - bar - shift
        )
        tally.add("same when shifted", same)
        tally.add(f"same when shifted {'far' if abs(shift) >= 38 else 'a little'}", same)
        if abs(shift + own) >= FAR_MS:
            told = offset_told(result)
            tally.add("offset told", (int(abs(told - shift - own) <= TOLD_MS), 1))
            tally.add("offset told, own lean aside", (int(abs(told - shift) <= TOLD_MS), 1))
            if abs(told - shift - own) > TOLD_MS:
                tally.note("offset missed", f"{one.name} {shift:+} (own {own:+.0f}): {told:+.0f}")


def tempi(one: Judged, tally: Tally, seed: int) -> None:
    """The file says 120 bpm, or a little more or less than was played."""
    bpm = float(one.take.tempo.bpm[0])
    if len(one.take.tempo.tick) > 1:
        return
    if min(abs(bpm / other - 1) for other in _ALIKE) > 0.01:
        result = tighten(under_tempo(one.take, DEFAULT_BPM))
        _told("120 by default told", result, bpm, one, tally)
    if one.seconds < SHORT_S:
        return
    for name, rate in (("too fast", 1 + TEMPO_OFF), ("too slow", 1 - TEMPO_OFF)):
        result = tighten(under_tempo(one.take, bpm * rate))
        shift = np.abs(result.changes.shift_ms)[one.playing.anchor]
        _told("0.2 % off told", result, bpm, one, tally)
        if one.seconds >= LONG_S:
            _told("0.2 % off told, over two minutes", result, bpm, one, tally)
            tally.add(f"anchors moved, {name}", measures.count(shift > measures.MOVED_MS))


def _told(name: str, result: Result, bpm: float, one: Judged, tally: Tally) -> None:
    """Whether the tempo was told, right to half a per mille or as a simple multiple to 1 %."""
    told = tempo_told(result)
    near = told is not None and (
        abs(told / bpm - 1) < TEMPO_OFF / 2
        or min(abs(told / bpm / k - 1) for k in (1 / 3, 1 / 2, 2 / 3, 3 / 4, 4 / 3, 3 / 2, 2, 3))
        < 0.01
    )
    tally.add(name, (int(told is not None), 1))
    tally.add(f"{name}, right", (int(near), 1))
    if not near:
        tally.note(f"{name}: missed", f"{one.name} {bpm:.4g}: {told and round(told, 2)}")


def loose(one: Judged, tally: Tally, seed: int) -> None:
    """The take with scatter."""
    ms = scatter(one.playing, LOOSE_MS, generator(one.name, seed, "loose"))
    _, after = _run(with_hits_at(one.take, one.hits, ms), len(one.playing))
    tally.put("loose spread", measures.spread_ratio(one.playing, ms, after))


def late_kick(tally: Tally, seed: int) -> None:
    """An invented take: the kick on beat 3 is late in 15 of 16 bars, as a habit is."""
    random = generator("late kick", seed, "invented")
    late = random.uniform(28, 45)
    notes, kicks = [], []
    for bar in range(16):
        odd = bar == int(seed * 5 + 7) % 16
        rows = [(beat / 2, 42, 70 + 20 * (beat % 2 == 0)) for beat in range(8)]
        rows += [(0, 36, 105), (1, 38, 104), (2, 36, 100), (3, 38, 106)]
        for beat, note, velocity in rows:
            off = random.normal(0, 4) + (late if (beat, note) == (2, 36) and not odd else 0)
            tick = round((bar + 1) * 1920 + beat * 480 + off * 0.8)
            notes.append((tick, note, velocity))
            if (beat, note) == (2, 36) and not odd:
                kicks.append(tick)
    result = tighten(drum_take(notes, bpm=100))
    changes = result.changes
    mine = (changes.hits.note == 36) & np.isin(changes.hits.tick, kicks)
    moved = np.abs(changes.shift_ms)[mine] > measures.MOVED_MS
    tally.put("late kick moved", float(moved.sum()))


#: What is tried with planted faults, by name.
TRIALS: dict[str, Callable[[Judged, Tally, int], None]] = {
    "slips": slips,
    "pushes": pushes,
    "shifts": shifts,
    "tempi": tempi,
    "loose": loose,
}
