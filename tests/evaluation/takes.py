"""Labelled takes for the evaluation, and invented ones with everything known."""

import csv
import hashlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from evenhand.kit.maps import load_kit
from evenhand.kit.roles import label
from evenhand.pulse.recurrence import Onsets, onsets_of
from evenhand.recipe import Recipe
from evenhand.take import Take, read_take
from evenhand.take.hits import Hits


@dataclass(frozen=True, eq=False)
class Labelled:
    """A take with what is known about it."""

    name: str
    style: str
    bpm: float
    meter: str
    beat: bool
    take: Take
    hits: Hits

    @property
    def tuning(self) -> bool:
        """Two takes of three, by the first byte of the SHA-256 of the file's name."""
        return hashlib.sha256(self.name.encode()).digest()[0] % 3 != 0


def read_takes(folder: Path) -> list[Labelled]:
    """Read the takes that `takes.csv` in a folder names."""
    takes = []
    with (folder / "takes.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            take = read_take(folder / row["file"])
            hits, _ = label(take.hits(), load_kit("ekit"), Recipe().anchor)
            takes.append(
                Labelled(
                    row["file"],
                    row["style"],
                    float(row["bpm"]),
                    row["time_signature"].replace("-", "/"),
                    row["beat_type"] == "beat",
                    take,
                    hits,
                )
            )
    return takes


def shifted(take: Labelled) -> tuple[Onsets, float]:
    """The bare onsets behind a silence of up to 3 s that the name decides, and where bar 1 lies.

    Nothing but times, velocities and pieces is left: no tick, no tempo, and the start of the file
    says nothing either.
    """
    onsets = onsets_of(take.hits)
    silence = hashlib.sha256(("silence" + take.name).encode()).digest()[0] / 255 * 3
    return onsets.at(onsets.s + silence), silence


# What is played in each beat of four, by piece: an invented vocabulary.
_EIGHTHS = tuple(np.arange(0, 4, 0.5))
PATTERNS = {
    "1/8": {"kick": (0, 2, 2.5), "snare": (1, 3), "hat": _EIGHTHS},
    "1/8T": {
        "kick": (0, 2, 8 / 3),
        "snare": (1, 3),
        "hat": tuple(np.arange(12) / 3),
    },
    "1/16": {"kick": (0, 1.75, 2.5), "snare": (1, 3), "hat": tuple(np.arange(16) / 4)},
    "1/16T": {"kick": (0, 2.5), "snare": (1, 3), "hat": tuple(np.arange(24) / 6)},
    "1/32": {"kick": (0, 2.5), "snare": (1, 3), "hat": tuple(np.arange(32) / 8)},
}


def invented_places(
    random: np.random.Generator, grid: str, swing: float, bars: int, quarter_ms: float
) -> np.ndarray:
    """Places in quarters of an invented take with 20 ms spread and a lean of up to 15 ms."""
    triplet = grid.endswith("T")
    pair = 8 / int(grid.removeprefix("1/").rstrip("T"))
    places = []
    for hits in PATTERNS[grid].values():
        for place in hits:
            second = not triplet and round(place / (pair / 2)) % 2
            here = place + second * (swing / 50 - 1) * pair / 2 + 4 * np.arange(bars)
            places.append(here[random.random(bars) > 0.08])
    flat = np.concatenate(places)
    lean = random.uniform(-15, 15)
    return flat + (random.normal(0, 20, len(flat)) + lean) / quarter_ms


def invented_wander(
    random: np.random.Generator, kind: str, bars: int = 64
) -> tuple[Onsets, np.ndarray]:
    """Onsets of an invented take whose tempo wanders by 8 % or steps, and its beats in seconds."""
    bpm = random.uniform(80, 160)
    beat = np.arange(4 * bars + 1)
    rate = np.full(len(beat), bpm)
    if kind == "wander":
        turn = random.uniform(48, 120)
        rate = bpm * (1 + 0.08 * np.sin(2 * np.pi * beat / turn + random.uniform(0, 6)))
    else:
        for at in random.choice(np.arange(16, 4 * bars - 16, 4), 2, replace=False):
            rate[at:] *= random.choice([0.92, 0.95, 1.05, 1.08])
    time = random.uniform(0, 2) + np.concatenate([[0], np.cumsum(60 / rate[:-1])])
    grid = str(random.choice(["1/8", "1/16", "1/8T"]))
    rows = []
    for piece, places in PATTERNS[grid].items():
        for place in places:
            played = np.arange(bars)[random.random(bars) > 0.06]
            s = np.interp(4 * played + place, beat, time) + random.normal(0, 0.01, len(played))
            accent = 25 if piece != "hat" or place % 1 == 0 else 10 * (place % 0.5 == 0)
            velocity = random.integers(60, 85, len(played)) + accent
            rows += [(one, loud, piece) for one, loud in zip(s, velocity, strict=True)]
    rows.sort()
    piece = np.array([row[2] for row in rows])
    onsets = Onsets(
        s=np.array([row[0] for row in rows]),
        weight=np.sqrt(np.array([row[1] for row in rows]) / 127),
        kick=piece == "kick",
        snare=piece == "snare",
        keeper=piece == "hat",
        crash=piece == "crash",
        piece=piece,
    )
    return onsets, time[:-1]
