"""Invented snare and tom playing with known ornaments, for tests and for the evaluation."""

from dataclasses import dataclass, field

import numpy as np

KINDS = ("flam", "drag", "ruff", "buzz", "roll")


@dataclass
class Played:
    """Hits in the order they were thought of, each with the kind of ornament it belongs to."""

    bpm: float
    ms: list[float] = field(default_factory=list)
    velocity: list[int] = field(default_factory=list)
    piece: list[str] = field(default_factory=list)
    kind: list[str] = field(default_factory=list)

    def add(self, ms: float, velocity: float, piece: str, kind: str = "") -> None:
        self.ms.append(float(ms))
        self.velocity.append(int(np.clip(round(velocity), 1, 127)))
        self.piece.append(piece)
        self.kind.append(kind)

    @property
    def sixteenth(self) -> float:
        return 15_000 / self.bpm


def ornamented(bpm: float, seed: int, scatter: float = 8.0) -> Played:
    """Sixteen bars of 4/4: backbeats, ghosted sixteenths, sixteenth runs, and ornaments.

    Graces are played 12 to 45 ms apart, bounces 16 to 38 ms, rolls at 46 to 140 ms and faster
    than 0.7 of a sixteenth. Every hit has its own scatter (standard deviation, ms); the graces of
    an ornament go with its main hit, with 2 ms of their own.
    """
    dice = np.random.default_rng([seed, round(10 * bpm)])
    played = Played(bpm)
    step = played.sixteenth
    for bar in range(16):
        start = 1000 + bar * 16 * step
        run = dice.random() < 0.2
        ornament_at = int(dice.choice([4, 12]))
        kind = str(dice.choice(KINDS))
        busy = _ornament(played, dice, start + ornament_at * step, kind, scatter)
        for at in range(16):
            place = start + at * step + dice.normal(0, scatter)
            if at % 2 == 0:
                played.add(place + dice.normal(0, 5), dice.normal(70, 8), "hat")
            if at in (0, 8) or (at % 2 == 0 and dice.random() < 0.2):
                played.add(start + at * step + dice.normal(0, scatter), dice.normal(98, 8), "kick")
            # What the ornament takes up is not played on as well.
            if busy[0] < start + (at + 0.7) * step and start + (at - 0.7) * step < busy[1]:
                continue
            if run and at >= 8:
                piece = "snare" if at < 12 else f"tom {1 + (at - 12) // 2}"
                played.add(place, dice.normal(90, 14), piece)
            elif at in (4, 12):
                played.add(place, dice.normal(100, 8), "snare")
            elif dice.random() < 0.3:
                played.add(place, dice.normal(28, 6), "snare")
    return played


def _ornament(
    played: Played, dice: np.random.Generator, at: float, kind: str, scatter: float
) -> tuple[float, float]:
    """Play one; the stretch that it takes up."""
    main = at + dice.normal(0, scatter)
    piece = str(dice.choice(["snare", "snare", "tom 1", "tom 3"]))
    loud = dice.normal(102, 8)
    if kind in ("flam", "drag", "ruff"):
        graces = {"flam": 1, "drag": 2, "ruff": 3}[kind]
        most = min(45.0, 0.5 * played.sixteenth)
        gap = dice.uniform(12 if kind == "flam" else 20, most)
        for number in range(1, graces + 1):
            soft = loud * dice.uniform(0.25, 0.65)
            played.add(main - number * gap + dice.normal(0, 2), soft, piece, kind)
        played.add(main, loud, piece)
        return main - graces * gap, main
    if kind == "buzz":
        bounces, gap = (
            int(dice.integers(5, 8)),
            dice.uniform(16, min(34.0, 0.45 * played.sixteenth)),
        )
        leads = dice.random() < 0.5
        for number in range(1, bounces + 1):
            soft = loud * (0.7 - 0.07 * number) * dice.uniform(0.85, 1.1)
            away = number * gap + dice.normal(0, 2)
            played.add(main - away if leads else main + away, soft, piece, kind)
        played.add(main, loud, piece)
        ends = (main - bounces * gap, main) if leads else (main, main + bounces * gap)
        return min(ends), max(ends)
    gap = dice.uniform(
        max(47.0, 0.35 * played.sixteenth), max(48.0, min(140.0, 0.68 * played.sixteenth))
    )
    hits = int(dice.integers(7, 14))
    for number in range(hits):
        away = (hits - 1 - number) * gap + dice.normal(0, 0.05 * gap)
        inside = 0 < number < hits - 1
        soft = loud * dice.uniform(0.5, 0.8) if number < hits - 1 else loud
        played.add(main - away, soft, piece, kind if inside else "")
    return main - (hits - 1) * gap, main
