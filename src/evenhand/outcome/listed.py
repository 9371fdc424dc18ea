"""The listening list: of all flags as many as can be listened to, what changed most first."""

import numpy as np

#: Flags a minute that are listened to; what is not to be missed is listed beyond that.
A_MINUTE = 1.8

#: Of that, so much at the most for what was left alone.
_FOR_LEFT = 0.34

#: The largest moves of a take are always listed: so many, above so many ms (common practice: from
#: there on a move is heard as a change of feel).
LARGEST, LARGE_MS = 3, 25.0

#: A bar in which nothing moved further than this is not listened to, ms.
_SMALL_MS = 12.0


def choose(
    rank: list[int], never_missed: list[bool], largest: list[float], minutes: float
) -> list[bool]:
    """Choose what is on the list.

    Parameters
    ----------
    rank : list of int
        0 for what was changed, more for what was left, in order.
    never_missed : list of bool
        What is listed in any case.
    largest : list of float
        The largest move in each, ms.
    minutes : float
        How long the take is.

    Returns
    -------
    list of bool
    """
    listed = list(never_missed)
    moves = sorted(range(len(rank)), key=lambda at: -largest[at])
    for at in moves[:LARGEST]:
        listed[at] = listed[at] or largest[at] > LARGE_MS
    room = max(1, round(A_MINUTE * minutes)) - sum(listed)
    changed = [
        at for at, one in enumerate(rank) if one == 0 and largest[at] > _SMALL_MS and not listed[at]
    ]
    left = [at for at, one in enumerate(rank) if one > 0 and not listed[at]]
    for_left = min(len(left), int(np.ceil(_FOR_LEFT * room)) if room > 1 else 0)
    some = changed[: max(room - for_left, 0)]
    for at in (*some, *left[: max(room - len(some), 0)]):
        listed[at] = True
    return listed
