"""The fit: a take and hints in, the same take with bars and beats where they were played out."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Brief
from evenhand.errors import MidiFileError
from evenhand.kit import label
from evenhand.pulse import (
    AUTO,
    FEWEST,
    FOLLOW,
    Fit,
    fit_beats,
    no_pulse,
    onsets_of,
    why_unfollowed,
    why_untold,
)
from evenhand.recipe import OFF, Recipe, need_recipe
from evenhand.take import BarsAndBeats, Take, need_take, regrid

#: Time that hits must span to tell a tempo from, at least and at most, ms.
_SHORTEST_MS, _LONGEST_MS = 1500.0, 4 * 3.6e6


@dataclass(frozen=True, eq=False)
class Fitted(Brief):
    """What came of a fit.

    Attributes
    ----------
    before, take : Take
        As it was given, and with the new bars and beats; what sounds is the same.
    fit : Fit
        The tempo, the meter and the beats that were found.
    """

    before: Take
    take: Take
    fit: Fit


def fit(take: Take, recipe: Recipe | None = None) -> Fitted:
    """Find the real tempo of a take and lay bars and beats under it.

    Parameters
    ----------
    take : Take
        Not changed.
    recipe : Recipe, optional
        Its kit, channel, anchors and ghost limit are used, and what it says of the fit; its
        `fit` "off" means `auto` here.

    Returns
    -------
    Fitted
        `take` is the new one, `fit` says what was found.

    Raises
    ------
    MidiFileError
        If the take has no drums, or its hits can't tell a tempo; those that share no pulse or are
        one even run still can with a hint (`near`).
    ArgumentError
        If `take` is no take, such as a path, or `recipe` no recipe.

    Examples
    --------
    >>> fitted = fit(read_take("kettle-weather.mid"))
    >>> len(fitted.take.hits()) == len(fitted.before.hits())
    True
    """
    need_take(take, "fit")
    recipe = need_recipe(recipe, "fit")
    hits, _ = label(
        take.struck(recipe.channel), recipe.load_kit(), recipe.anchor, recipe.ghost_limit
    )
    if len(hits) < FEWEST:
        raise MidiFileError(
            f"{take.name}: can't tell the tempo, because there are only {len(hits)} hits "
            f"(it takes {FEWEST})"
        )
    if np.ptp(hits.ms) < _SHORTEST_MS:
        raise MidiFileError(
            f"{take.name}: can't tell the tempo, because all hits lie within "
            f"{np.ptp(hits.ms):.0f} ms (it takes {_SHORTEST_MS:.0f})"
        )
    if np.ptp(hits.ms) > _LONGEST_MS:
        raise MidiFileError(
            f"{take.name}: can't tell the tempo, because the hits spread over "
            f"{np.ptp(hits.ms) / 3.6e6:.0f} hours (it takes {_LONGEST_MS / 3.6e6:.0f} at the most)"
        )
    onsets = onsets_of(hits)
    if why := why_untold(onsets, hinted=recipe.near is not None):
        raise MidiFileError(f"{take.name}: can't tell the tempo, because {why}")
    mode = AUTO if recipe.fit == OFF else recipe.fit
    if mode == FOLLOW and (why := why_unfollowed(onsets)):
        raise MidiFileError(f"{take.name}: can't follow the tempo, because {why}; see --steady")
    found = fit_beats(onsets, recipe.hints, mode, recipe.smooth)
    if recipe.near is None and no_pulse(onsets, found.coherence, found.steady):
        raise MidiFileError(
            f"{take.name}: can't tell the tempo, because the hits share no pulse; "
            "if you know about how fast it is, say so with --near"
        )
    score = BarsAndBeats(1000 * found.beat, found.beats, found.unit)
    return Fitted(take, regrid(take, score), found)
