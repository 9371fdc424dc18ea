"""`apart.csv`: hits that go elsewhere in the audio than in the MIDI."""

import numpy as np

from evenhand.jobs.conform.cut_plan import CutPlan
from evenhand.jobs.conform.doubts import audio_apart
from evenhand.paper import csv_bytes

COLUMNS = ("bar", "beat", "piece", "seconds", "midi_ms", "audio_ms", "apart_ms", "leader")

#: What is further apart than this is told, ms.
TOLD_MS = 1.0


def apart_csv(plan: CutPlan) -> bytes:
    """List the hits, the furthest apart first.

    Parameters
    ----------
    plan : CutPlan
    """
    rate, units, moves = plan.size.rate, plan.units, plan.moves
    apart = audio_apart(plan)
    found = np.flatnonzero(apart > TOLD_MS)
    rows = []
    for unit in found[np.argsort(-apart[found], kind="stable")].tolist():
        hit = units.hit[unit]
        audio = 1000 * plan.shift[unit] / rate
        rows.append(
            [
                int(moves.bar[hit]),
                f"{moves.beat[hit]:.3f}",
                str(moves.piece[hit]),
                f"{(units.at[unit] + plan.shift[unit]) / rate:.6f}",
                f"{moves.shift_ms[hit]:.3f}",
                f"{audio:.3f}",
                f"{audio - moves.shift_ms[hit]:.3f}",
                _leader(plan, unit),
            ]
        )
    return csv_bytes(COLUMNS, rows)


def _leader(plan: CutPlan, unit: int) -> str:
    """The piece that a hit went with."""
    mine = np.flatnonzero(plan.blocks.of_unit == plan.blocks.of_unit[unit])
    lead = int(plan.units.hit[mine[np.argmax(plan.units.weight[mine])]])
    return str(plan.moves.piece[lead]) if lead >= 0 else ""
