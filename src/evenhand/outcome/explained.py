"""A stroke explained in a phrase: where it usually lies, where it was, how far it moved."""

from evenhand.columns import SLACK_MS
from evenhand.ground import Strokes
from evenhand.outcome.changes import Changes
from evenhand.plan import DOUBTFUL, LINE_TAKEN, OFF_GRID, Plan


def explain(changes: Changes, plan: Plan, strokes: Strokes, stroke: int) -> str:
    """Say what is to be said of one stroke: `kick usually +4 ms here, was +47, moved -32`."""
    hit = int(strokes.reference[stroke])
    piece = str(changes.hits.piece[hit])
    moved = float(changes.shift_ms[hit])
    was, usual = float(plan.deviation[stroke]), float(plan.lean[stroke])
    if plan.fate[stroke] in (DOUBTFUL, LINE_TAKEN, OFF_GRID):
        text = f"{piece} at {was:+z.0f} ms"
    elif plan.by_habit[stroke]:
        text = f"{piece} usually {usual:+z.0f} ms here, was {was:+z.0f}"
    else:
        text = f"{piece} was {was:+z.0f} ms"
    return text + (f", moved {moved:+z.0f}" if abs(moved) > SLACK_MS else "")
