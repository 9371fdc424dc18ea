"""Another habit in place of the take's own (`habit_from`): how far each hit goes for it.

The take's own habit is what is taken away: all hits of a piece at a place go by the difference of
the two habits, whatever single ones did there. What the profile does not know stays the take's own:
how its sections lean against each other, and its drift, both as far as `lean` keeps them.
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats
from evenhand.errors import SettingError
from evenhand.ground import Ground
from evenhand.habit import Belonging
from evenhand.measure import measure
from evenhand.plan.standing_out import DOUBT, DOUBTFUL, Verdict
from evenhand.profile import find_profile, meter_of, read_profile, voices

#: A smaller largest move than this does not stop a hit on its way to another habit, ms: `most` is
#: for slips. Habits further apart are of other lines, and their hits are carried.
LEAST_MOST_MS = 60.0


@dataclass(frozen=True, eq=False)
class Towards:
    """How far n hits and s strokes go towards another habit, ms.

    Attributes
    ----------
    hit : float64 array, shape (n,)
        NaN for those that are carried.
    stroke : float64 array, shape (s,)
        That of its reference; NaN for those that are carried.
    """

    hit: Floats
    stroke: Floats


def find_towards(ground: Ground, belonging: Belonging, verdict: Verdict) -> Towards | None:
    """Find how far each hit goes towards the habit that the recipe asks for; None without one.

    Parameters
    ----------
    ground : Ground
    belonging : Belonging
    verdict : Verdict
        By the take's own habit.

    Raises
    ------
    DiskError, SettingError
        If the habit can't be read, or is one of another meter.
    """
    if ground.recipe.habit_from is None:
        return None
    profile = read_profile(ground.recipe.habit_from)
    beats, unit = meter_of(ground)
    if profile.meter != f"{beats}/{unit}":
        raise SettingError(
            f"{ground.recipe.habit_from} is a habit of {profile.meter}, and {ground.take.name} is "
            f"in {beats}/{unit}: places in the bar can't be compared"
        )
    time, strokes, measured = ground.time, ground.strokes, measure(ground)
    # Both habits are of the lines that hits lie nearest to.
    line = np.where(measured.lined, measured.line, belonging.line)
    dials = ground.dials.at(ground.layout.sections.of(line))
    bars = time.bars_at(line)
    whole = np.isclose(bars.stop - bars.start, beats * 4 * time.division / unit)
    # Bars of another meter have none of its places.
    beat = np.where(whole, 1 + (line - bars.start) / bars.beat_ticks, 0.0)
    voice = voices(ground)
    away = dials.habit / 100 * profile.at(voice, beat) - find_profile([ground]).at(voice, beat)
    away -= (1 - dials.lean / 100) * _course(belonging, verdict)
    away = np.where(dials.by_habit, away, 0.0)

    limit = np.maximum(dials.most, LEAST_MOST_MS)
    near = np.abs(away) <= limit
    stroke = away[strokes.reference]
    carried = (verdict.fate == DOUBTFUL) | ~near[strokes.reference]
    known = near & (belonging.margin >= np.log(DOUBT)) & dials.limbs | ~dials.by_habit
    # The parts of a stroke are known by it.
    known = np.where(strokes.anchor, near & ~strokes.spread(carried, False), known)
    return Towards(
        hit=np.where(known, away, np.nan),
        stroke=np.where(carried, np.nan, stroke),
    )


def _course(belonging: Belonging, verdict: Verdict) -> Floats:
    """How far the playing around each hit lies behind the take as a whole, ms."""
    habit, cell = belonging.habit, belonging.cell
    deviation = belonging.deviation - verdict.pushed
    drift = deviation - habit.ms[cell] - verdict.off
    return np.asarray(habit.lean[cell] - np.median(deviation - drift) + drift)
