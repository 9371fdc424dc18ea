"""Doubts: what to listen to in the conformed files, worst first."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats
from evenhand.jobs.conform.cut_plan import CutPlan
from evenhand.take import Position, Take

#: The kinds, in the order in which equals are listed.
KINDS = (MISSING, TOGETHER, ROUGH, CROWDED, CUT) = (
    *("missing attack", "moved together", "rough splice", "crowded attack", "end"),
)

# Where a splice may be heard: the two sounds differ, and are no quieter than this beside the whole
# (dB). What is moved otherwise than in the MIDI counts from where two onsets can be told apart as
# a flam, ms. Common practice, both.
_UNLIKE, _LOUD_DB, _FLAM_MS = 0.5, -12.0, 5.0


@dataclass(frozen=True)
class Doubt:
    """One thing to listen to.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    place : Position
        Bar and beat in the take as played.
    seconds : float
        Where in the new files.
    text : str
        What is the matter, in a plain sentence.
    weight : float
        How bad: about ms of what is wrong.
    splice : int
        Index of the splice; -1 where there is none.
    """

    kind: str
    place: Position
    seconds: float
    text: str
    weight: float
    splice: int = -1


def find_doubts(plan: CutPlan, take: Take) -> tuple[Doubt, ...]:
    """Collect what to listen to.

    Parameters
    ----------
    plan : CutPlan
    take : Take
        The take as played.
    """
    found = [*_missing(plan), *_together(plan), *_rough(plan, take), *_crowded(plan, take)]
    found += _cut(plan, take)
    return tuple(sorted(found, key=lambda one: (-one.weight, one.seconds)))


def place_in_take(plan: CutPlan, take: Take, seconds: Floats) -> list[Position]:
    """Bar and beat of moments of the old files."""
    clock = plan.match.clock
    ms = 1000 * (seconds - clock.offset) / (1 + clock.drift * 1e-6)
    bar, beat = take.meter.place(np.maximum(take.tempo.to_tick(ms), 0))
    return [Position(*place) for place in zip(bar.tolist(), beat.tolist(), strict=True)]


def _place(plan: CutPlan, hit: int) -> Position:
    return Position(int(plan.moves.bar[hit]), float(plan.moves.beat[hit]))


def _missing(plan: CutPlan) -> Iterator[Doubt]:
    """Hits that move, and have no attack where they should be."""
    rate = plan.size.rate
    for unit, hit in enumerate(plan.units.hit.tolist()):
        shift = 1000 * plan.shift[unit] / rate
        if hit < 0 or plan.match.found[hit] or not shift:
            continue
        yield Doubt(
            MISSING,
            _place(plan, hit),
            float(plan.units.at[unit] / rate + shift / 1000),
            f"no attack of the {plan.moves.piece[hit]} is heard; it was moved by {shift:+.1f} ms",
            abs(shift),
        )


def _together(plan: CutPlan) -> Iterator[Doubt]:
    """Blocks in which a hit goes elsewhere than in the MIDI."""
    rate = plan.size.rate
    hits = plan.units.hit
    apart = audio_apart(plan)
    for block in np.unique(plan.blocks.of_unit[apart > _FLAM_MS]).tolist():
        mine = np.flatnonzero((plan.blocks.of_unit == block) & (hits >= 0))
        worst = int(mine[np.argmax(apart[mine])])
        pieces = ", ".join(dict.fromkeys(plan.moves.piece[hits[mine]].tolist()))
        yield Doubt(
            TOGETHER,
            _place(plan, int(hits[worst])),
            float((plan.units.at[worst] + plan.shift[worst]) / rate),
            f"{len(mine)} hits too close to be cut apart ({pieces}) move as one; the "
            f"{plan.moves.piece[hits[worst]]} is up to {apart[worst]:.1f} ms beside its MIDI",
            float(apart[worst]),
        )


def audio_apart(plan: CutPlan) -> Floats:
    """How far each attack goes from where the MIDI has it, ms; 0 for what the take lacks."""
    hit = plan.units.hit
    wanted = np.where(hit >= 0, plan.moves.shift_ms[hit], np.nan)
    return np.nan_to_num(np.abs(1000 * plan.shift / plan.size.rate - wanted), nan=0.0)


def is_rough(likeness: float, level_db: float) -> bool:
    """Whether a splice may be heard."""
    return likeness < _UNLIKE and level_db > _LOUD_DB


def _rough(plan: CutPlan, take: Take) -> Iterator[Doubt]:
    rough = [
        (index, one)
        for index, one in enumerate(plan.splices)
        if is_rough(one.likeness, one.level_db)
    ]
    middles = np.array([one.at - one.before + one.fade // 2 for _, one in rough])
    places = place_in_take(plan, take, middles / plan.size.rate)
    for (index, one), place in zip(rough, places, strict=True):
        ms = 1000 * one.change / plan.size.rate
        weight = (1 - one.likeness) * abs(ms) * 10 ** (min(one.level_db, 0) / 20)
        yield Doubt(
            ROUGH,
            place,
            one.at / plan.size.rate,
            f"{ms:+.1f} ms in a sound that is still loud ({one.level_db:.0f} dB) and unlike itself "
            f"there ({one.likeness:.2f})",
            float(weight),
            index,
        )


def _crowded(plan: CutPlan, take: Take) -> Iterator[Doubt]:
    """Splices that start before the ring of a kick or tom had its time."""
    blocks, rate = plan.blocks, plan.size.rate
    for index, one in enumerate(plan.splices):
        short = blocks.until[one.block - 1] - (one.at - one.before)
        if short <= 0 or not is_rough(one.likeness - 0.2, one.level_db):
            continue
        place = place_in_take(plan, take, np.array([(one.at - one.before) / rate]))[0]
        yield Doubt(
            CROWDED,
            place,
            one.at / rate,
            f"the next attack is so near that the one before is cut {1000 * short / rate:.0f} ms "
            "earlier than it should be",
            1000 * float(short) / rate / 10,
            index,
        )


def _cut(plan: CutPlan, take: Take) -> Iterator[Doubt]:
    """The end of the files, where no room was left to come back to the old time."""
    rest = plan.splices[-1].after if plan.splices else 0
    if not rest:
        return
    rate, seconds = plan.size.rate, plan.size.frames / plan.size.rate
    what = "are cut off" if rest > 0 else "are silence"
    yield Doubt(
        CUT,
        place_in_take(plan, take, np.array([seconds]))[0],
        seconds - abs(rest) / rate,
        f"the last hit is so near to the end that the last {1000 * abs(rest) / rate:.1f} ms {what}",
        1000 * abs(rest) / rate,
    )
