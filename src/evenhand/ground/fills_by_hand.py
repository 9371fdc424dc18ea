"""Fills and grooves that the recipe names: the hand knows better than the ear."""

import numpy as np

from evenhand.columns import Bools, Floats
from evenhand.errors import SettingError
from evenhand.recipe import Recipe
from evenhand.take import Take


def overrule(found: Floats, recipe: Recipe, take: Take) -> Floats:
    """Put fills where the recipe has them, and none where it has a groove.

    A fill that was found and overlaps what the hand says is dropped as a whole.

    Parameters
    ----------
    found : float64 array, shape (f, 2)
        Where each fill begins and where the groove comes back, ticks, in order.
    recipe : Recipe
    take : Take

    Returns
    -------
    float64 array, shape (g, 2)
        In order; no two overlap.

    Raises
    ------
    SettingError
        If a stretch does not fit the take, or is named as both.
    """
    given, groove = (_read(recipe, name, take) for name in ("fill", "groove"))
    if _overlap(given, groove).any():
        raise SettingError("fill: a stretch is named as fill and as groove")
    free = ~_overlap(found, given) & ~_overlap(found, groove)
    fills = np.concatenate([found[free], _joined(given)])
    return fills[np.argsort(fills[:, 0], kind="stable")]


def _read(recipe: Recipe, name: str, take: Take) -> Floats:
    """The stretches of one name, each to the beat behind its last place."""
    ends: list[tuple[float, float]] = []
    for stretch in recipe.stretches(name):
        try:
            begin, end = stretch.beats(take.meter)
        except SettingError as error:
            raise SettingError(f"{name}: {error}") from None
        if begin > take.end:
            last = take.meter.position(take.end)
            raise SettingError(
                f"{name}: {stretch.first} lies behind the end of {take.name} ({last})"
            )
        ends.append((begin, end))
    return np.array(sorted(ends), np.float64).reshape(-1, 2)


def _overlap(some: Floats, others: Floats) -> Bools:
    meets = (some[:, None, 0] < others[None, :, 1]) & (some[:, None, 1] > others[None, :, 0])
    return np.asarray(meets.any(axis=1))


def _joined(stretches: Floats) -> Floats:
    """Those that overlap as one."""
    if not len(stretches):
        return stretches
    reached = np.maximum.accumulate(stretches[:, 1])
    first = np.append(True, stretches[1:, 0] >= reached[:-1])
    last = np.append(np.flatnonzero(first)[1:] - 1, len(first) - 1)
    return np.stack([stretches[first, 0], reached[last]], axis=1)
