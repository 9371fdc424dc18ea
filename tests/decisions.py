"""All decisions on some invented takes, in few lines: a net behind the tests with worked numbers.

What is recorded says only that nothing has changed, not that it is right.
`EVENHAND_REFRESH=1 pytest tests/test_decisions.py` records anew.
"""

import hashlib
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

import mido
import numpy as np
from tests.build import HAT, KICK, SNARE, Note, track
from tests.docs.gallery_takes import KINDS
from tests.syncopated_takes import syncopated

from evenhand import Recipe, Result, Take, tighten
from evenhand.jobs.demo_take import demo_take

_TAKES: dict[str, Callable[[], Take]] = {
    "demo": lambda: Take.from_bytes(demo_take(), "demo"),
    "syncopated": lambda: syncopated(96, 7, 16, 4).take,
    "triplets": lambda: syncopated(132, 6, 12, 5, triplets=True).take,
    **{kind.name: kind.make for kind in KINDS if kind.name != "song"},
}
_WINDOW = {"window": 12.5, "reach": 40}

#: A take and the settings of each case.
CASES: dict[str, tuple[str, dict[str, Any]]] = {
    **{name: (name, {}) for name in (*_TAKES, "patchwork")},
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
    "loose, strict": ("loose", {"habit": 0, "lean": 0, "strength": 100, "notice": 0}),
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


def results(names: Iterable[str] = CASES) -> dict[str, Result]:
    """The cases, tightened."""
    made = {take: make() for take, make in _TAKES.items()}
    return {name: tighten(made[CASES[name][0]], Recipe(**CASES[name][1])) for name in names}


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
            for name in ("line", "deviation", "usual", "early", "late", "excess", "off", "fate")
        }
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
