"""Takes and recipes that lead into every branch of the core, beside those of decisions.py."""

from collections.abc import Callable
from functools import partial
from typing import Any

import mido
import numpy as np
from tests.build import HAT, KICK, SNARE, Note, drum_take, midi_bytes, track

from evenhand import Take

_RIDE, _PEDAL, _CRASH = 51, 44, 49
_TOMS = (48, 47, 45, 43)


def fill(seed: int, landing: float = 28.0, bars: int = 2) -> Take:
    """A take that is one fill: runs over snare and toms on no grid, and lands late on a beat."""
    dice = np.random.default_rng(seed)
    notes: list[Note] = []
    tick = 1920.0
    while tick < 1920 * (1 + bars) - 90:
        notes.append((round(tick), int(dice.choice([SNARE, *_TOMS])), int(dice.integers(50, 120))))
        tick += float(dice.choice([97, 131, 160, 213])) * dice.uniform(0.9, 1.1)
    # The beats themselves are struck, and run ahead more and more.
    beats = range(4 * bars)
    notes += [(round(1920 + 475 * one + 4 * dice.normal()), KICK, 100) for one in beats]
    end = 1920 * (1 + bars)
    notes.append((round(end + landing * 0.96), _CRASH, 110))
    return drum_take(sorted(notes), bpm=120)


def groove(seed: int, bars: int = 28, division: int = 480) -> Take:
    """Changing patterns with a lean each; drift, bars that ran, slips, ghosts, flams, fills."""
    dice = np.random.default_rng(seed)
    bpm = float(dice.integers(84, 150))
    per_ms = division * bpm / 60_000
    steps = int(dice.choice([16, 16, 12]))
    sections = np.cumsum([0, *dice.integers(5, 10, 6)])
    patterns = [dice.random((3, steps)) for _ in range(3)]
    leans = dice.normal(0, 10, 3)
    pieces = (KICK, SNARE, HAT if seed % 2 else _RIDE)
    pushed = {int(bar): float(dice.choice([-34, 32])) for bar in dice.integers(2, bars, 2)}
    notes: list[Note] = []
    for bar in range(bars):
        kind = int(np.searchsorted(sections, bar, "right") - 1) % 3
        drift = 8 * np.sin(bar / 4) + pushed.get(bar, 0.0) + leans[kind]
        for row, note in enumerate(pieces):
            for step in range(steps):
                chance = patterns[kind][row][step] * (1.5 if row == 2 else 0.8)
                chance *= 1.0 if step % (steps // 4) == 0 else 0.85
                if chance < 0.55 or dice.random() < 0.06:
                    continue
                late = drift + 6 * dice.normal() + 5 * row
                late += float(dice.choice([-55, -38, 41, 70])) * (dice.random() < 0.04)
                at = (bar + step / steps) * 4 * division + late * per_ms
                loud = 32 if row == 1 and step % 4 == 3 else int(dice.integers(70, 118))
                notes.append((max(0, round(at)), note, loud))
                if row == 1 and dice.random() < 0.08:
                    notes.append((max(0, round(at - 28 * per_ms)), SNARE, 34))
        if bar % 8 == 7:
            for step in range(6):
                at = (bar + 0.6 + step / 16 - 0.004 * step) * 4 * division + drift * per_ms
                notes.append((round(at), _TOMS[step % 4], 96))
        if bar % 4 == 0:
            notes.append((max(0, round(bar * 4 * division + 3 * per_ms)), _CRASH, 112))
        if seed % 3 == 0 and bar % 2:
            notes.append((round((bar + 0.25) * 4 * division + drift * per_ms), _PEDAL, 60))
    return drum_take(sorted(notes), bpm=bpm, division=division)


_NAMES = (b"verse", b"chorus 2", b"verse", b"", b"caf\xe9")


def marked(names: tuple[bytes, ...] = _NAMES, meters: tuple[tuple[int, int], ...] = ()) -> Take:
    """A plain beat of twenty bars with a marker every fourth, from the third on; two tracks."""
    dice = np.random.default_rng(41)
    guide: list[tuple[int, Any]] = [(0, mido.MetaMessage("set_tempo", tempo=500_000))]
    for tick, beats in meters:
        meter = mido.MetaMessage("time_signature", numerator=beats, denominator=4)
        guide.append((tick, meter))
    drums: list[tuple[int, Any]] = []
    for place, name in enumerate(names):
        at = 1920 * 2 + 1920 * 20 * place // max(len(names), 5) + 30
        guide.append((at, mido.MetaMessage("marker", text=name.decode("latin-1"))))
    for line in range(8 * 22):
        notes = [HAT, *([KICK] if line % 4 == 0 else [SNARE] if line % 4 == 2 else [])]
        for note in notes:
            at = max(
                0,
                round(
                    240 * line + 9 * dice.normal() + 58 * (line % 29 == 3) - 52 * (line % 31 == 8)
                ),
            )
            drums.append((at, mido.Message("note_on", channel=9, note=note, velocity=90)))
            # A release so short that its hit may come to lie on it.
            drums.append((at + 1, mido.Message("note_off", channel=9, note=note)))
    return Take.from_bytes(midi_bytes(track(guide), track(drums)))


def short(count: int, gap: int = 480, loose: float = 9.0, seed: int = 3) -> Take:
    """A few hits on kick and snare alone, without a hand that keeps time."""
    dice = np.random.default_rng(seed)
    return drum_take(
        [
            (round(1920 + gap * one + loose * dice.normal()), (KICK, SNARE)[one % 2], 90)
            for one in range(count)
        ]
    )


def strewn(seed: int = 6, count: int = 160) -> Take:
    """Hits at random, which no grid explains; then a beat."""
    places = np.sort(np.random.default_rng(seed).integers(0, 1920 * 12, count))
    notes: list[Note] = [(int(tick), int(36 + 2 * (tick % 4)), 80) for tick in places]
    notes += [(1920 * 12 + 240 * line, (KICK, HAT)[line % 2], 90) for line in range(96)]
    return drum_take(sorted(notes))


def other_tempo() -> Take:
    """A beat of another tempo than its file says."""
    dice = np.random.default_rng(2)
    notes: list[Note] = []
    for line in range(200):
        tick = round(240 * 1.117 * line + 4 * dice.normal()) + 20
        notes.append((tick, (KICK, HAT, SNARE, HAT)[line % 4], 90))
    return drum_take(notes)


def apart() -> Take:
    """Two bars, a silence of many bars, and two bars more."""
    beat = [(480 * one, (KICK, SNARE)[one % 2]) for one in range(8)]
    return drum_take([*beat, *((tick + 1920 * 180, note) for tick, note in beat)])


def steady(bars: int = 20) -> Take:
    """One pattern all the way; hats ahead, snare behind, quintuplets at the end."""
    dice = np.random.default_rng(9)
    notes: list[Note] = []
    for bar in range(bars):
        parts = 10 if bar >= bars - 6 else 8
        for step in range(parts):
            tick = 1920 * bar + 1920 * step / parts + 4 * dice.normal() - 6
            notes.append((max(0, round(tick)), HAT, 70))
        for beat in range(4):
            tick = 1920 * bar + 480 * beat + 6 * dice.normal() + 11 * (beat % 2)
            notes.append((max(0, round(tick)), (KICK, SNARE)[beat % 2], 100))
    return drum_take(sorted(notes))


def all_pieces() -> Take:
    """Sections that differ by one piece alone: snare, stick, rim, toms, each cymbal, a pedal."""
    dice = np.random.default_rng(33)
    notes: list[Note] = []
    own = (SNARE, 37, 40, 45, 50, 46, _RIDE, 53, 55, 52, _PEDAL, 56)
    for bar in range(8 * len(own)):
        for step in range(8):
            tick = 1920 * bar + 240 * step + 5 * dice.normal()
            notes.append((max(0, round(tick)), (KICK, HAT)[step % 2], 84))
            if step in (2, 3, 6):
                notes.append((max(0, round(tick + 3)), own[bar // 8], 92))
    return drum_take(sorted(notes))


def fill_first(again: bool = True) -> Take:
    """A fill before anything else, late as a whole, then a beat; and once more at the end."""
    dice = np.random.default_rng(12)
    notes: list[Note] = []
    for begin in (0, 1920 * 12) if again else (0,):
        for step in range(16):
            tick = begin + 120 * step + 34 + 3 * dice.normal()
            notes.append((round(tick), (SNARE, *_TOMS)[step // 4], 96))
    for line in range(8, 8 * 12):
        late = 240 * line + round(5 * dice.normal())
        notes.append((late, HAT, 70))
        if line % 2 == 0:
            notes.append((late, (KICK, SNARE)[line // 2 % 2], 100))
    return drum_take(sorted(notes))


TAKES: dict[str, Callable[[], Take]] = {
    **{f"fill {seed}": partial(fill, seed) for seed in (1, 2)},
    "fill of a bar": partial(fill, 5, landing=2.0, bars=1),
    **{f"groove {seed}": partial(groove, seed) for seed in range(1, 9)},
    **{f"groove {seed}": partial(groove, seed, 16) for seed in (19, 20)},
    "groove, fine": partial(groove, 11, 20, 960),
    "marked": marked,
    "marked, meters": partial(
        marked, meters=((0, 4), (1920 * 5, 3), (1920 * 5 + 1440 * 6, 5), (1920 * 14 + 480, 2))
    ),
    "marked often": partial(marked, tuple(b"part %d" % one for one in range(170))),
    **{f"{count} hits": partial(short, count) for count in (1, 3, 11, 40)},
    "40 loose hits": partial(short, 40, 240, 60.0),
    "strewn": strewn,
    "other tempo": other_tempo,
    "apart": apart,
    "steady": steady,
    "fill first": fill_first,
    "all pieces": all_pieces,
    "one fill": partial(fill_first, False),
}

_TIGHT = {"window": 10, "reach": 45, "strength": 100}
_ALL = {"notice": 0, "most": "off", "strength": 100}
_SPANS = {"plan": "spans", "span_cost": 12}

CASES: dict[str, tuple[str, dict[str, Any]]] = {
    **{name: (name, {}) for name in TAKES},
    "fill 1, half": ("fill 1", {"strength": 50}),
    "fill 2, as played": ("fill 2", {"fills": "as-played"}),
    "groove 1, window": ("groove 1", {**_TIGHT, "lean": 40, "lean_follow": 3}),
    "groove 1, together": ("groove 1", {"carry": "together", "notice": 6, "habit": 60}),
    "groove 2, spans": ("groove 2", {**_SPANS, "lean": 80}),
    "groove 2, audio": ("groove 2", {"for_audio": "on", "strength": 90, "notice": 4}),
    "groove 3, as played": ("groove 3", {**_TIGHT, "fills": "as-played", "ornaments": "off"}),
    "groove 3, no habit": ("groove 3", {"habit": 0, "lean": 25, "most": "off"}),
    "groove 4, triplets": ("groove 4", {"grid": "1/8T", **_TIGHT}),
    "groove 4, quintuplets": ("groove 4", {"grid": "1/16Q", "notice": 3}),
    "groove 5, toms": ("groove 5", {"anchor": ("+toms", "-snare"), "notice": 8, "ghost_below": 60}),
    "groove 5, another habit": ("groove 5", {"habit_from": True, "lean": 0, "habit": 70}),
    "groove 6, bass": ("groove 6", {"against": True, "share": 70, "window": 8, "lean": 60}),
    "groove 6, another habit": (
        "groove 6",
        {"habit_from": True, "carry": "limbs", "strength": 80, "hold": ("9:1-10:2",)},
    ),
    "groove 7, stay": ("groove 7", {"syncopation": "stay", "grid": "1/16", **_TIGHT}),
    "groove 7, one section": ("groove 7", {"sections": "none", "swing": 58, "together": 12}),
    "groove 8, by hand": (
        "groove 8",
        {
            "hold": ("3:2-4:1", "12"),
            "notice": 5,
            "nudge": (
                {"hit": 40, "ms": 22},
                {"hit": 41, "ms": -35, "together": True},
                {"at": "9:1", "ms": 12, "piece": "crash"},
                {"at": "17:1", "ms": -60},
            ),
        },
    ),
    "groove 8, mixed": (
        "groove 8",
        {
            "section": (
                {"bars": "1-8", "window": 15, "plan": "spans", "lean_follow": 1},
                {"bars": "12-15", "strength": 0},
                {"bars": "16-20", "grid": "1/8T", "carry": "together"},
                {"bars": "21-24", "habit": 30, "most": 25, "syncopation": "move"},
            ),
        },
    ),
    "marked, by name": (
        "marked",
        {
            "section": (
                {"name": "verse 2", "window": 6, "strength": 100},
                {"name": "chorus 2", "notice": 0, "strength": 100, "lean": 10},
            ),
        },
    ),
    "marked, all moved": ("marked", {"notice": 0, "lean": 0, "habit": 0, "strength": 100}),
    "demo, no markers": ("demo", {"sections": "markers"}),
    "steady, strict": ("steady", {**_TIGHT, "window": 0, "lean": 0, "grid": "1/8"}),
    "steady, late": ("steady", {"latency": -7.5, "tempo_as_filed": "on", "notice": 2}),
    "40 hits, window": ("40 hits", {**_TIGHT, "lean": 50}),
    "40 loose hits, window": ("40 loose hits", {**_TIGHT, "lean": 50, "lean_follow": 2}),
    "strewn, window": ("strewn", {**_TIGHT, "reach": 30, "grid": "1/16"}),
    "groove 19, all moved": ("groove 19", {**_ALL, "together": 0}),
    "groove 20, all moved": ("groove 20", _ALL),
    "crowd, all moved": ("crowd", {**_ALL, "grid": "1/16", "habit": 0}),
    "marked, all moved alone": ("marked", {**_ALL, "together": 0, "lean": 0}),
    "crowd, nothing together": (
        "crowd",
        {"grid": "1/16", "together": 0, "notice": 0, "most": "off", "strength": 100},
    ),
    "crowd, another habit, nothing together": (
        "crowd",
        {"grid": "1/16", "together": 0, "habit_from": True, "notice": 0, "most": "off"},
    ),
    "comping, another habit": ("comping", {"habit_from": True, "notice": 0, "together": 5}),
    "fill first, window": ("fill first", {**_TIGHT, "grid": "1/16", "lean": 50}),
    "one fill, as played": (
        "one fill",
        {**_TIGHT, "grid": "1/16", "fills": "as-played"},
    ),
    "ran, no strength": ("ran", {"strength": 0, "notice": 0, "lean": 0}),
    "ran, half a push": ("ran", {"section": ({"bars": "7-8", "window": 10},), "grid": "1/16"}),
    "ran, as other limbs": ("ran", {"for_audio": "on", "habit": 10, "notice": 1, "lean": 0}),
}
