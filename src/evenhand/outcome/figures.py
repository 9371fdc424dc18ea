"""The figures of a pass: what was found, what was done, how tight the anchors were and are."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Brief, Ints, Words, indices, median
from evenhand.ground import Ground
from evenhand.outcome.changes import CARRIED, Changes
from evenhand.plan import FATES, HELD, KEPT, MOVED, OFF_GRID, Plan


@dataclass(frozen=True)
class Tightness:
    """How the anchor hits that were decided on stand to their lines and targets.

    Attributes
    ----------
    hits : int
        How many have their line for themselves, outside fills.
    mean_before, mean_after : float
        Mean deviation, ms; minus is early. NaN without hits.
    spread_before, spread_after : float
        Standard deviation of the deviation, ms. NaN without hits.
    inside_before, inside_after : float
        Share of hits inside the window around their target, percent. NaN without hits.
    """

    hits: int
    mean_before: float
    mean_after: float
    spread_before: float
    spread_after: float
    inside_before: float
    inside_after: float


@dataclass(frozen=True)
class Figures(Brief):
    """The figures of a pass.

    Attributes
    ----------
    hits : int
    pieces, roles : dict of str to int
        Hits per piece and per role, most first.
    strokes : dict of str to int
        Strokes per fate.
    actions : dict of str to int
        Hits per action.
    largest_move, median_move : float
        Of the moved hits, ms, regardless of direction; 0 if none moved.
    tightness : dict of str to Tightness
        `all`, then per piece.
    window_least, window_most : float
        The window in ms, where it is narrowest and widest; NaN without strokes.
    grids : dict of str to float
        Share of the strokes that belong to a line under each grid, percent; empty without strokes.
    off_grid_share : float
        Share of the strokes that are further from every line than the reach, percent, whether a
        habit explains them or not; 0 without strokes.
    """

    hits: int
    pieces: dict[str, int]
    roles: dict[str, int]
    strokes: dict[str, int]
    actions: dict[str, int]
    largest_move: float
    median_move: float
    tightness: dict[str, Tightness]
    window_least: float
    window_most: float
    grids: dict[str, float]
    off_grid_share: float


def take_figures(changes: Changes, ground: Ground, plan: Plan, grids: dict[str, float]) -> Figures:
    """Sum up a pass.

    Parameters
    ----------
    changes : Changes
    ground : Ground
    plan : Plan
    grids : dict of str to float
        Share of the strokes that each grid has a line for, percent.
    """
    hits, strokes, half = changes.hits, ground.strokes, plan.admissible.half
    moves = np.abs(changes.shift_ms[changes.action == MOVED])
    off = (plan.fate == OFF_GRID) | (plan.by_habit & ~plan.measured.lined[strokes.reference])
    return Figures(
        hits=len(hits),
        pieces=_count(hits.piece),
        roles=_count(hits.role),
        strokes={fate: int((plan.fate == fate).sum()) for fate in FATES},
        actions={
            action: int((changes.action == action).sum()) for action in (MOVED, KEPT, CARRIED, HELD)
        },
        largest_move=float(moves.max()) if len(moves) else 0.0,
        median_move=median(moves) if len(moves) else 0.0,
        tightness=_tightness(changes, ground, plan),
        window_least=float(half.min()) if len(strokes) else float("nan"),
        window_most=float(half.max()) if len(strokes) else float("nan"),
        grids=grids,
        off_grid_share=float(100 * off.mean()) if len(strokes) else 0.0,
    )


def _count(words: Words) -> dict[str, int]:
    # There are few words; to sort all of them would take longer.
    counts: dict[str, int] = {}
    while len(words):
        same = words == words[0]
        counts[str(words[0])] = int(np.count_nonzero(same))
        words = words[~same]
    return dict(sorted(counts.items(), key=lambda pair: (-pair[1], pair[0])))


def _tightness(changes: Changes, ground: Ground, plan: Plan) -> dict[str, Tightness]:
    lined = indices(~np.isnan(changes.line))
    piece = changes.hits.piece[lined]
    stroke = ground.strokes.of_hit[lined]
    groups = {"all": np.ones(len(lined), np.bool_)}
    groups |= {name: piece == name for name in _count(piece)}
    return {
        name: _tight(changes, lined[which], stroke[which], plan) for name, which in groups.items()
    }


def _tight(changes: Changes, hits: Ints, stroke: Ints, plan: Plan) -> Tightness:
    if not len(hits):
        return Tightness(0, *[float("nan")] * 6)
    before, after = changes.deviation_before[hits], changes.deviation_after[hits]
    lean, admissible = plan.lean[stroke], plan.admissible.at(stroke)
    inside = [admissible.contains(one - lean) for one in (before, after)]
    return Tightness(
        hits=len(hits),
        mean_before=float(before.mean()),
        mean_after=float(after.mean()),
        spread_before=float(before.std()),
        spread_after=float(after.std()),
        inside_before=float(100 * inside[0].mean()),
        inside_after=float(100 * inside[1].mean()),
    )
