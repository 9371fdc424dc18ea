"""Two habits side by side."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Floats, Ints, Words
from evenhand.errors import SettingError
from evenhand.profile.find import PLACES, Profile


@dataclass(frozen=True, eq=False)
class Compared:
    """Two habits at the places that both have, c of them.

    Attributes
    ----------
    names : (str, str)
    piece : str array
    beat : float64 array
    ms, spread : (float64 array, float64 array)
    count : (int64 array, int64 array)
    alike : float
        Correlation of the ms, each place counting by the smaller of its counts; NaN with fewer than
        three places, or where one habit is the same everywhere.
    """

    names: tuple[str, str]
    piece: Words
    beat: Floats
    ms: tuple[Floats, Floats]
    spread: tuple[Floats, Floats]
    count: tuple[Ints, Ints]
    alike: float


def compare_profiles(one: Profile, other: Profile, names: tuple[str, str]) -> Compared:
    """Put two habits side by side.

    Parameters
    ----------
    one, other : Profile
    names : (str, str)
        What they are called.

    Raises
    ------
    SettingError
        If they are of different meters, or share no place.
    """
    if one.meter != other.meter:
        raise SettingError(
            f"{names[0]} is a habit of {one.meter} and {names[1]} of {other.meter}: "
            "places in the bar can't be compared"
        )
    keys = [
        {(name, round(beat * PLACES)): index for index, (name, beat) in enumerate(rows)}
        for rows in (zip(p.piece.tolist(), p.beat.tolist(), strict=True) for p in (one, other))
    ]
    both = sorted(keys[0].keys() & keys[1].keys())
    if not both:
        raise SettingError(f"{names[0]} and {names[1]} have no piece at one place in common")
    first = np.array([keys[0][key] for key in both])
    second = np.array([keys[1][key] for key in both])
    weight = np.minimum(one.count[first], other.count[second])
    return Compared(
        names=names,
        piece=one.piece[first],
        beat=one.beat[first],
        ms=(one.ms[first], other.ms[second]),
        spread=(one.spread[first], other.spread[second]),
        count=(one.count[first], other.count[second]),
        alike=_correlation(one.ms[first], other.ms[second], weight),
    )


def _correlation(one: Floats, other: Floats, weight: Ints) -> float:
    if len(one) < 3:
        return float("nan")
    a = one - np.average(one, weights=weight)
    b = other - np.average(other, weights=weight)
    scale = float(np.sqrt((weight * a**2).sum() * (weight * b**2).sum()))
    return float((weight * a * b).sum()) / scale if scale > 1e-9 else float("nan")
