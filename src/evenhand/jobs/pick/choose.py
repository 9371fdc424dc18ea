"""Which take serves best in each section, and why."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints
from evenhand.jobs.pick.standing import Standing

#: What each figure counts, in ms of spread: a slip, a pushed bar, a wrong or a missing stroke in
#: each bar. Common practice; a choice file may say otherwise.
WEIGHTS = {"spread": 1.0, "slips": 20.0, "pushes": 15.0, "wrong": 40.0, "missing": 40.0}
#: What a seam costs, ms of spread over a section: itself, each step of velocity and each ms that
#: the two takes differ there.
SEAM, PER_VELOCITY, PER_MS = 0.5, 0.05, 0.1

BY_HAND = "as you said"


@dataclass(frozen=True)
class PickedBar:
    """What was chosen for a section.

    Attributes
    ----------
    take : int
        From 0.
    reason : str
    """

    take: int
    reason: str


def costs(standing: Standing, weights: Mapping[str, float]) -> Floats:
    """What speaks against each take in each section, in ms of spread; inf where it is silent.

    Shape (t, s). The figures that are counts are taken per bar.
    """
    total = standing.spread * weights["spread"]
    for name in ("slips", "pushes", "wrong", "missing"):
        total = total + weights[name] * getattr(standing, name) / np.maximum(standing.bars, 1)
    return np.where(np.isnan(total), np.inf, total)


def seam_costs(standing: Standing) -> Floats:
    """What it costs to go from one take to another at the end of each section but the last.

    Shape (s - 1, t, t).
    """
    loud, lean = np.nan_to_num(standing.loud), np.nan_to_num(standing.lean)
    step = np.abs(loud[:, None, :-1] - loud[None, :, 1:])
    # A take may play softer in the next section as well: that is no fault of a seam.
    usual = np.abs(loud[:, :-1] - loud[:, 1:])
    step = np.maximum(step - np.minimum(usual[:, None], usual[None, :]), 0)
    apart = np.abs(lean[:, None, :-1] - lean[None, :, 1:])
    price = SEAM + PER_VELOCITY * step + PER_MS * apart
    one = np.arange(len(loud))
    price[one, one] = 0.0
    return np.moveaxis(price, 2, 0)


def choose(
    standing: Standing,
    names: Sequence[str],
    weights: Mapping[str, float],
    by_hand: Mapping[int, int],
) -> tuple[PickedBar, ...]:
    """Choose a take for each section: the cheapest way through all of them, seams included.

    Parameters
    ----------
    standing : Standing
    names : sequence of str
        Of the takes, for the reasons.
    weights : mapping of str to float
        See `WEIGHTS`.
    by_hand : mapping of int to int
        The take that somebody wants for a section.
    """
    cost = costs(standing, weights)
    seam = seam_costs(standing)
    # Where every take is silent, none is better.
    cost = np.where(np.isinf(cost).all(axis=0), 0.0, cost)
    for section, take in by_hand.items():
        others = np.arange(len(cost)) != take
        cost[others, section] = np.inf
        cost[take, section] = 0.0
    path = _cheapest(cost, seam)
    return tuple(
        PickedBar(
            int(take),
            BY_HAND if section in by_hand else _reason(standing, names, cost, section, int(take)),
        )
        for section, take in enumerate(path.tolist())
    )


def _cheapest(cost: Floats, seam: Floats) -> Ints:
    """The cheapest path through the sections (Viterbi 1967, IEEE Trans. Inf. Theory 13(2))."""
    takes, sections = cost.shape
    total, came = cost[:, 0].copy(), np.zeros((sections, takes), np.int64)
    for section in range(1, sections):
        ways = total[:, None] + seam[section - 1]
        came[section] = ways.argmin(axis=0)
        total = ways.min(axis=0) + cost[:, section]
    path = np.zeros(sections, np.int64)
    path[-1] = int(total.argmin())
    for section in range(sections - 1, 0, -1):
        path[section - 1] = came[section, path[section]]
    return path


#: What is told first, and what it is called.
_WORDS = {"missing": "missing", "wrong": "wrong", "slips": "slips", "pushes": "pushed bars"}


def _reason(standing: Standing, names: Sequence[str], cost: Floats, section: int, take: int) -> str:
    """Why this take, against the best of the others."""
    if np.isnan(standing.spread[:, section]).all():
        return "no take plays here"
    others = [one for one in range(len(cost)) if one != take]
    rival = min(others, key=lambda one: cost[one, section])
    if np.isinf(cost[rival, section]):
        return "the only take that plays here"
    if cost[rival, section] < cost[take, section]:
        return f"joins its neighbours better than {names[rival]}"
    told = []
    for name, word in _WORDS.items():
        mine, theirs = (int(getattr(standing, name)[one, section]) for one in (take, rival))
        if mine < theirs:
            told.append(f"{mine} {word} against {theirs}")
    spread = standing.spread[take, section], standing.spread[rival, section]
    if spread[0] < spread[1]:
        told.append(f"spread {spread[0]:.1f} ms against {spread[1]:.1f}")
    if not told:
        return f"as good as {names[rival]}"
    return f"{', '.join(told[:2])} in {names[rival]}"
