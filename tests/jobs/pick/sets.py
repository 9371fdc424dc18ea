"""Invented takes of one song with everything known: who plays what, when, and with which faults."""

import io
from dataclasses import dataclass, field

import mido
import numpy as np
from tests.build import CRASH, HAT, KICK, RIM, SNARE, TOM, timed

from evenhand import Take

DIVISION, BPM = 480, 112
PEDAL = 4
#: Bars of each section; each has a pattern of its own.
SECTIONS = (("verse", 8), ("chorus", 8), ("verse 2", 8), ("bridge", 4), ("chorus 2", 8))
_PATTERNS = {
    "verse": {KICK: "K......kK.......", SNARE: "....S.......S..g", HAT: "H.h.H.h.H.h.H.h."},
    "chorus": {KICK: "K.....k.K.k.....", RIM: "....S.......S...", CRASH: "C...c...c...c..."},
    "bridge": {KICK: "K.......K.......", TOM: "..T...T...T...T.", HAT: "H...H...H...H..."},
}
_LOUD = {"K": 100, "k": 84, "S": 106, "g": 28, "H": 84, "h": 60, "C": 98, "c": 74, "T": 92, "f": 18}
MS_PER_TICK = 60_000 / BPM / DIVISION


@dataclass(frozen=True)
class Faults:
    """What is wrong with a take in a section.

    Attributes
    ----------
    scatter : float
        Spread of every hit, ms.
    slips : int
        Kicks and snares that are 45 to 70 ms off.
    pushed : int
        Bars that run 35 ms ahead.
    missing, wrong : int
        Strokes left out; kicks where none belongs.
    """

    scatter: float = 7.0
    slips: int = 0
    pushed: int = 0
    missing: int = 0
    wrong: int = 0


@dataclass
class Played:
    """One hit: its number in the song's pattern (None: it has none), and what is played."""

    number: int | None
    tick: float
    note: int
    velocity: int
    bar: int
    off: float = field(default=0.0)


def pattern() -> list[tuple[int, int, str]]:
    """Every stroke of the song: tick, note, letter."""
    strokes, bar = [], 0
    for name, bars in SECTIONS:
        for _ in range(bars):
            for note, letters in _PATTERNS[name.split()[0]].items():
                strokes += [
                    (1920 * bar + 120 * step, note, letter)
                    for step, letter in enumerate(letters)
                    if letter != "."
                ]
            bar += 1
    # A flam on the first beat of every section: its grace lies before the bar line.
    for bar in first_bars()[1:]:
        strokes += [(1920 * (bar - 1) - 27, SNARE, "f"), (1920 * (bar - 1), SNARE, "S")]
    return strokes


def first_bars() -> list[int]:
    """The first bar of each section, from 1."""
    return [1 + sum(bars for _, bars in SECTIONS[:index]) for index in range(len(SECTIONS))]


def play(
    chance: np.random.Generator, faults: list[Faults], loud: float = 0.0, lean: float = 0.0
) -> list[Played]:
    """A take, with the faults of each section."""
    starts = first_bars()
    played: list[Played] = []
    ms = 0.0
    for number, (tick, note, letter) in enumerate(pattern()):
        bar = (tick + 60) // 1920 + 1
        section = int(np.searchsorted(starts, bar, side="right")) - 1
        if letter != "S" or played[-1].velocity > 50:
            ms = lean + chance.normal(0, faults[section].scatter)
        velocity = int(np.clip(_LOUD[letter] + loud + chance.normal(0, 5), 1, 127))
        played.append(Played(number, tick, note, velocity, bar, ms))
    for section, fault in enumerate(faults):
        bars = range(starts[section], starts[section] + SECTIONS[section][1])
        anchors = [
            one for one in played if one.bar in bars and one.note in (KICK, SNARE, RIM)
            and one.velocity > 50
        ]  # fmt: skip
        chosen = chance.permutation(len(anchors))
        for index in chosen[: fault.slips]:
            anchors[index].off += float(chance.choice([-1, 1]) * chance.uniform(45, 70))
        for bar in chance.permutation(np.array(bars))[: fault.pushed]:
            for one in played:
                one.off -= 35 * (one.bar == bar)
        gone = [anchors[index] for index in chosen[fault.slips : fault.slips + fault.missing]]
        played = [one for one in played if all(one is not other for other in gone)]
        for bar in chance.permutation(np.array(bars))[: fault.wrong]:
            played.append(Played(None, 1920 * (bar - 1) + 120 * 5, KICK, 90, int(bar)))
    return played


def as_take(played: list[Played], name: str, pedal: int = 80, division: int = DIVISION) -> Take:
    """The bytes of a take: hits with releases, the pedal before each hat, chokes of crashes."""
    events: list[tuple[int, mido.Message | mido.MetaMessage]] = []
    scale = division / DIVISION
    for one in sorted(played, key=lambda one: (one.tick, one.note)):
        tick = max(round((one.tick + one.off / MS_PER_TICK) * scale), 0)
        if one.note == HAT:
            control = mido.Message("control_change", channel=9, control=PEDAL, value=pedal)
            events.append((max(tick - 5, 0), control))
        on = mido.Message("note_on", channel=9, note=one.note, velocity=one.velocity)
        events.append((tick, on))
        # A grace ends before its main hit begins.
        ticks = 300 if one.note == CRASH else 20 if one.velocity < 50 else 60
        long = round(ticks * scale)
        events.append((tick + long, mido.Message("note_off", channel=9, note=one.note)))
        if one.note == CRASH:
            choke = mido.Message("polytouch", channel=9, note=CRASH, value=one.velocity)
            events.append((tick + long - 20, choke))
    midi = mido.MidiFile(type=1, ticks_per_beat=division)
    guide = [
        mido.MetaMessage("track_name", name=name),
        mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(BPM)),
        mido.MetaMessage("time_signature", numerator=4, denominator=4),
    ]
    now = 0
    for (label, _), bar in zip(SECTIONS, first_bars(), strict=True):
        at = round((bar - 1) * 1920 * scale)
        guide.append(mido.MetaMessage("marker", text=label, time=at - now))
        now = at
    midi.tracks.append(mido.MidiTrack(guide))
    messages, now = mido.MidiTrack(), 0
    for tick, message in sorted(events, key=lambda event: event[0]):
        messages.append(timed(message, tick - now))
        now = tick
    midi.tracks.append(messages)
    buffer = io.BytesIO()
    midi.save(file=buffer)
    return Take.from_bytes(buffer.getvalue(), name)


def numbers(played: list[Played]) -> list[int | None]:
    """The number in the pattern of each hit, in the order of the file that `as_take` writes."""
    in_order = sorted(played, key=lambda one: (one.tick, one.note))
    ticks = [max(round(one.tick + one.off / MS_PER_TICK), 0) for one in in_order]
    order = sorted(range(len(ticks)), key=ticks.__getitem__)
    return [in_order[index].number for index in order]


def four_takes(chance: np.random.Generator) -> tuple[list[Take], list[int]]:
    """Four takes with planted faults, and which is without in each section."""
    best = [int(chance.integers(4)) for _ in SECTIONS]
    takes = []
    for number in range(4):
        faults = []
        for section in range(len(SECTIONS)):
            if best[section] == number:
                faults.append(Faults(scatter=float(chance.uniform(6, 8))))
                continue
            kind = int(chance.integers(5))
            many = int(chance.integers(2, 4))
            faults.append(
                Faults(
                    scatter=float(chance.uniform(13, 18) if kind == 0 else chance.uniform(6, 8)),
                    slips=many if kind == 1 else 0,
                    pushed=many if kind == 2 else 0,
                    missing=many if kind == 3 else 0,
                    wrong=many if kind == 4 else 0,
                )
            )
        played = play(chance, faults, float(chance.uniform(-6, 6)), float(chance.uniform(-8, 8)))
        takes.append(as_take(played, f"take-{number + 1}.mid", pedal=60 + 10 * number))
    return takes, best
