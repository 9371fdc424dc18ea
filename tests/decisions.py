"""All decisions on some invented takes, in few lines: a net behind the tests with worked numbers.

What is recorded says only that nothing has changed, not that it is right.
`EVENHAND_REFRESH=1 pytest tests/test_decisions.py` records anew.
"""

import hashlib
import itertools
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from functools import cache, partial
from pathlib import Path
from typing import Any

import mido
import numpy as np
from tests.build import HAT, KICK, SNARE, Note, drum_take, midi_bytes, track
from tests.docs.gallery_takes import KINDS
from tests.stage_takes import CASES as MORE_CASES
from tests.stage_takes import TAKES as MORE_TAKES
from tests.syncopated_takes import syncopated

from evenhand import Recipe, Result, Take, tighten
from evenhand.ground import prepare
from evenhand.jobs.demo_take import demo_take
from evenhand.profile import find_profile, profile_toml

_TAKES: dict[str, Callable[[], Take]] = {
    "demo": lambda: Take.from_bytes(demo_take(), "demo"),
    "syncopated": lambda: syncopated(96, 7, 16, 4).take,
    "triplets": lambda: syncopated(132, 6, 12, 5, triplets=True).take,
    **{kind.name: kind.make for kind in KINDS if kind.name != "song"},
}
_WINDOW = {"window": 12.5, "reach": 40}

#: A take and the settings of each case.
CASES: dict[str, tuple[str, dict[str, Any]]] = {
    **{name: (name, {}) for name in (*_TAKES, "patchwork", "comping", "crowd", "ran")},
    **{name: (name, {}) for name in ("ran, 24.0 ms loose", "ran, 25.5 ms loose")},
    "demo, window": ("demo", {**_WINDOW, "lean": 50, "fills": "tight"}),
    "demo, spans": ("demo", {"plan": "spans", "lean_follow": 2, "strength": 100}),
    "demo, audio": ("demo", {"for_audio": "on", "strength": 100, "notice": 0}),
    "demo, dials": ("demo", {"habit": 40, "lean": 30, "most": 35, "notice": 20, "latency": 4}),
    "demo, sections": (
        "demo",
        {
            "section": (
                {"bars": "10-17", "window": 15, "strength": 90},
                {"bars": "20-25", "habit": 0, "carry": "together", "fills": "as-played"},
            ),
            "hold": ("5:1-6:2.5", "30"),
            "nudge": ({"at": "33:1", "ms": -9}, {"at": "34:3", "ms": 7, "together": True}),
        },
    ),
    "syncopated, window": ("syncopated", {**_WINDOW, "syncopation": "stay", "grid": "1/16"}),
    "patchwork, window": ("patchwork", {**_WINDOW, "fill_landing": "as-played"}),
    "patchwork, toms": ("patchwork", {"anchor": ("+toms",), "carry": "together", "notice": 0}),
    "demo, another habit": ("demo", {"habit_from": True, "strength": 60}),
    "laid-back, another habit": ("laid-back", {"habit_from": True, "carry": "together"}),
    "ghosted, another habit": ("ghosted", {"habit_from": True, "strength": 100, "most": 12}),
    "crowd, another habit": ("crowd", {"habit_from": True, "grid": "1/16", "notice": 0}),
    "demo, another habit in part": (
        "demo",
        {"habit_from": True, "section": ({"bars": "20-30", "window": 10},), "hold": ("41",)},
    ),
    "crowd, by habit": ("crowd", {"grid": "1/16", "notice": 0, "most": "off", "lean": 0}),
    "crowd, audio and hand": (
        "crowd",
        {
            "grid": "1/16",
            "for_audio": "on",
            "hold": ("4:1-4:3",),
            "nudge": tuple({"hit": hit, "ms": 90 - hit} for hit in range(11, 240, 23)),
        },
    ),
    "ran, spans twice": (
        "ran",
        {
            "section": ({"bars": "3-10", "plan": "spans"}, {"bars": "18-27", "plan": "spans"}),
            "grid": "1/16",
            "hold": ("29:2.9-29:2.95",),
        },
    ),
    "ran, half of it": ("ran", {"strength": 50, "lean": 40, "habit": 70, "notice": 10}),
    "demo, bass": ("demo", {"against": True, "share": 50}),
    "patchwork, bass": ("patchwork", {"against": True, "share": 100, **_WINDOW}),
    "crowd, to the line": (
        "crowd",
        {**_WINDOW, "grid": "1/16", "window": 0, "reach": 50, "strength": 100, "lean": 0},
    ),
    "crowd, swung": (
        "crowd",
        {"grid": "1/16", "swing": 66.7, "window": 0, "reach": 100, "strength": 100, "plan": "hits"},
    ),
    "crowd, spans": ("crowd", {"grid": "1/16", "plan": "spans", "span_cost": 5, "lean_follow": 1}),
    "crowd, audio": ("crowd", {"grid": "1/16", "for_audio": "on", "notice": 0, "most": "off"}),
    "comping, nudged": (
        "comping",
        {
            "notice": 0,
            "lean": 20,
            "nudge": tuple({"hit": hit, "ms": ms} for hit, ms in ((20, 14), (57, -30), (90, 8))),
        },
    ),
    "ghosted, nudged": (
        "ghosted",
        {
            "ornaments": "on",
            "hold": ("6:1-6:4",),
            "nudge": tuple(
                {"hit": hit, "ms": 6 * (-1) ** hit, "together": hit % 3 == 0}
                for hit in range(15, 300, 19)
            ),
        },
    ),
    "loose, strict": ("loose", {"habit": 0, "lean": 0, "strength": 100, "notice": 0}),
    **MORE_CASES,
}


def patchwork() -> Take:
    """Seven parts in a row: straight, swung, 3/4, 7/8, slower, a run of toms; slips and a drift."""
    dice = np.random.default_rng(15)
    guide: list[tuple[int, Any]] = []
    notes: list[Note] = []
    begin = 0

    def part(
        bars: int, beats: tuple[int, int], bpm: float, steps: dict[int, str], late: float = 0
    ) -> None:
        nonlocal begin
        length = 1920 * beats[0] // beats[1]
        guide.append((begin, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm))))
        meter = mido.MetaMessage("time_signature", numerator=beats[0], denominator=beats[1])
        guide.append((begin, meter))
        for bar in range(bars):
            for note, letters in steps.items():
                for step, letter in enumerate(letters):
                    if letter == ".":
                        continue
                    at = begin + bar * length + step * length / len(letters)
                    slip = 45.0 * dice.choice((-1, 1)) if dice.random() < 0.03 else 0.0
                    ms = late + 6 * dice.normal() + 2.0 * bar * (note != HAT) + slip
                    loud = {"X": 105, "x": 78, "o": 30}[letter] + round(5 * dice.normal())
                    tick = max(0, round(at + ms * 480 * bpm / 60_000))
                    notes.append((tick, note, int(np.clip(loud, 1, 127))))
        begin += bars * length

    straight = {KICK: "X.....x.X.x.....", SNARE: "....X..o.o..X..o", HAT: "x.x.x.x.x.x.x.x."}
    swung = {KICK: "X....xX.....", SNARE: "...X.....X..", 51: "x.xx.xx.xx.x"}
    part(8, (4, 4), 112, straight)
    part(8, (4, 4), 112, swung, late=9)
    part(6, (3, 4), 112, {KICK: "X.....", SNARE: "..X.X.", HAT: "xxxxxx"})
    part(6, (7, 8), 112, {KICK: "X...x..", SNARE: "..X..X.", HAT: "xxxxxxx"}, late=-6)
    part(
        1, (4, 4), 112, {SNARE: "XxXxX...........", 48: "....xXxX........", 45: "........XxXxXxXx"}
    )
    part(8, (4, 4), 84, {**straight, 49: "X..............."})
    # Bars that ran, and a piece that changes its mind.
    part(2, (4, 4), 84, straight, late=28)
    part(6, (4, 4), 84, {**straight, SNARE: "....X.......X.xX"})
    drums = []
    for tick, note, loud in sorted(notes):
        on = mido.Message("note_on", channel=9, note=note, velocity=loud)
        drums += [(tick, on), (tick + 40, mido.Message("note_off", channel=9, note=note))]
        if note == HAT:
            pedal = mido.Message("control_change", channel=9, control=4, value=loud)
            drums.append((max(0, tick - 2), pedal))
    midi = mido.MidiFile(type=1, ticks_per_beat=480)
    midi.tracks.extend([track(guide), track(drums)])
    return Take.from_mido(midi)


_TAKES["patchwork"] = patchwork


@cache
def _take(name: str) -> Take:
    return _TAKES[name]()


def result_of(name: str, folder: Path) -> Result:
    """One case, tightened; files that it needs are put into a folder."""
    take, settings = CASES[name]
    given = dict(settings)
    if "habit_from" in given:
        path = folder / "habit.toml"
        ground = prepare(_take(take), Recipe(grid=given.get("grid", "auto")))
        path.write_bytes(profile_toml(find_profile([ground])))
        _pulled(path)
        given["habit_from"] = str(path)
    if "against" in given:
        path = folder / "bass.mid"
        path.write_bytes(_bass_of(_take(take)))
        given["against"] = str(path)
    return tighten(_take(take), Recipe(**given))


def _pulled(path: Path) -> None:
    """The habit in a file, with its places pulled apart: some later, others earlier."""
    lines, turn = [], itertools.cycle((9.0, -4.0, -7.0))
    for line in path.read_text("utf-8").splitlines():
        found = re.search(r"ms = (-?[0-9.]+), spread", line)
        new = f"ms = {float(found[1]) + next(turn):.2f}, spread" if found else ""
        lines.append(line.replace(found[0], new) if found else line)
    path.write_text("\n".join(lines) + "\n", "utf-8")


def _bass_of(take: Take) -> bytes:
    """A bass that plays with every kick, 11 ms behind it and a little loose; some notes alone."""
    dice = np.random.default_rng(8)
    tempo = mido.MetaMessage("set_tempo", tempo=int(take.tempo.tempo[0]))
    events: list[tuple[int, Any]] = [(0, mido.MetaMessage("track_name", name="Bass")), (0, tempo)]
    hits = take.hits()
    for tick in np.unique(hits.tick[hits.piece == "kick"]).tolist():
        at = max(0, tick + 11 + round(6 * dice.normal()) + 240 * bool(dice.random() < 0.1))
        events.append((at, mido.Message("note_on", channel=0, note=40, velocity=90)))
        events.append((at + 100, mido.Message("note_off", channel=0, note=40)))
    return midi_bytes(track(events), division=take.division)


def comping() -> Take:
    """A ride with swung eighths, over which kick and snare comment; pushed bars, a roll, flams."""
    dice = np.random.default_rng(77)
    notes: list[Note] = []
    for bar in range(1, 25):
        push = 420 * (bar in (9, 10)) / 10
        for beat in range(4):
            for off in (0, 1280 / 4) if beat % 2 else (0,):
                at = 1920 * bar + 480 * beat + off + push + 7 * dice.normal()
                notes.append((round(at), 51, 70 + int(20 * dice.random())))
            if beat % 2:
                notes.append((round(1920 * bar + 480 * beat + push + 5 * dice.normal()), 44, 60))
        for _ in range(int(dice.integers(1, 4))):
            place = dice.choice([0, 320, 480, 800, 960, 1280, 1440, 1760])
            at = 1920 * bar + place + push + 12 * dice.normal()
            note, loud = (KICK, 74) if dice.random() < 0.4 else (SNARE, int(dice.integers(30, 95)))
            notes.append((round(at), note, loud))
        if bar % 6 == 0:
            notes += [(1920 * bar + 1440 + 40 * step, SNARE, 60 + step) for step in range(8)]
        if bar % 5 == 0:
            notes += [(1920 * bar + 930, SNARE, 30), (1920 * bar + 964, SNARE, 104)]
    return drum_take(sorted(notes), bpm=152)


def crowd() -> Take:
    """Kicks, flams and hats on neighbouring lines, far early or far late: in each other's way."""
    dice = np.random.default_rng(5)
    notes: list[Note] = []
    for line in range(4, 164):
        if dice.random() < 0.3:
            continue
        tick = line * 120 + int(dice.choice([-52, -45, -30, -8, 0, 5, 30, 44, 52]))
        notes.append((tick, int(dice.choice([KICK, KICK, SNARE, 48])), int(dice.integers(60, 120))))
        if dice.random() < 0.4:
            notes.append((tick + int(dice.integers(0, 16)), SNARE, 90))
        if dice.random() < 0.5:
            notes.append((tick + int(dice.integers(0, 120)), HAT, 60))
        if dice.random() < 0.2:
            notes.append((tick + int(dice.integers(1, 30)), 51, 75))
    return drum_take(sorted(notes))


def ran(scatter: float = 7.0) -> Take:
    """Thirty bars in which some ran ahead and some behind, each by another amount; in two parts."""
    dice = np.random.default_rng(21)
    late = {6: 26.0, 7: 26.0, 13: -30.0, 20: 34.0, 21: 30.0, 26: -24.0}
    steps = {KICK: "K.....k.K.......", SNARE: "....S.......S..g", HAT: "h.h.h.h.h.h.h.h."}
    notes: list[Note] = []
    for bar in range(1, 31):
        for note, letters in steps.items():
            for step, letter in enumerate(letters):
                if letter == "." or (bar > 15 and note == KICK and step == 6):
                    continue
                ms = late.get(bar, 0.0) + scatter * dice.normal() - 9.0 * (note == SNARE)
                tick = round(1920 * bar + 120 * step + ms * 0.96)
                notes.append((tick, note, {"K": 100, "S": 104, "k": 84, "g": 28, "h": 66}[letter]))
    return drum_take(sorted(notes))


_TAKES |= {
    **MORE_TAKES,
    "comping": comping,
    "crowd": crowd,
    "ran": ran,
    **{f"ran, {loose} ms loose": partial(ran, loose) for loose in (24.0, 25.5)},
}


def decisions(result: Result) -> dict[str, Any]:
    """What was decided: what a reader can check in words and figures, all of it as digests."""
    changes, layout, plan = result.changes, result.ground.layout, result.plan
    reasons = Counter(zip(changes.action.tolist(), changes.reason.tolist(), strict=True))
    moved = np.flatnonzero(changes.action == "moved")
    told: dict[str, Any] = {
        "sections": [
            f"{one.name} {one.first_bar}-{one.last_bar} {one.grid} {one.swing:g} "
            f"lean {one.lean.before:.2f} {one.lean.after:.2f} "
            f"spread {one.spread.before:.2f} {one.spread.after:.2f}"
            for one in result.sections
        ],
        "why": {f"{action}: {why}": many for (action, why), many in sorted(reasons.items())},
        "moved": ", ".join(f"{i + 1} {changes.shift_ms[i]:+.1f}" for i in moved[:40].tolist()),
        "flags": dict(sorted(Counter(flag.kind for flag in result.noted).items())),
    }
    told["columns"] = {name: _digest(one) for name, one in changes.to_dict().items()}
    told["grids"] = _digest([_plain(replace(one)) for one in layout.choices])
    told["file"] = hashlib.sha256(result.take.to_bytes()).hexdigest()[:12]
    habit = plan.habit
    if habit is not None:
        judged = habit.verdict
        told["habit"] = {
            name: _digest(getattr(judged, name))
            for name in (
                *("line", "deviation", "usual", "early", "late", "excess", "off", "fate"),
                *("shift", "alone", "push_of_hit", "pushed"),
            )
        }
        told["habit"]["loose"] = f"{judged.looseness:.4f}"
        told["habit"]["ran"] = [
            f"{first}-{last} {ms:.2f}"
            for first, last, ms in zip(
                habit.pushed.first.tolist(),
                habit.pushed.last.tolist(),
                habit.pushed.ms,
                strict=True,
            )
        ]
    return told


def _plain(choice: Any) -> list[Any]:
    return [choice.grid, choice.swing, choice.explained, choice.swings, choice.places, choice.doubt]


def _digest(values: Any) -> str:
    """Twelve letters; what differs by less than rounding on another machine counts as the same."""
    if isinstance(values, np.ndarray):
        if values.dtype.kind == "f":
            # A little aside, so that no common fraction lies between two roundings.
            values = np.round(values + 3.1e-6, 4) + 0.0
        values = values.tolist()
    return hashlib.sha256(repr(values).encode()).hexdigest()[:12]
