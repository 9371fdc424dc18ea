"""A take leaned towards a habit: every hit moves by what its place has elsewhere.

At each place of each piece the take has a habit of its own. All its hits move by the difference to
the other habit, so what one hit does and another doesn't (a push, a slip, a fill that drags) stays.
Nothing is random: a programmed part gets the habit, and no scatter.
"""

import numpy as np

from evenhand.columns import Floats
from evenhand.errors import SettingError
from evenhand.ground import Ground
from evenhand.profile.find import Profile, find_profile, meter_of, placed_hits, voices
from evenhand.take import Take, channel_events, exchange, owners


def lean_towards(ground: Ground, profile: Profile, percent: float = 100.0) -> Take:
    """Lean a take towards a habit.

    Parameters
    ----------
    ground : Ground
        Of the take. It is not changed.
    profile : Profile
    percent : float
        How far, 0 to 100.

    Raises
    ------
    MidiFileError
        If too few hits of the take lie on lines.
    SettingError
        If the habit is one of another meter.
    """
    beats, unit = meter_of(ground)
    if profile.meter != f"{beats}/{unit}":
        raise SettingError(
            f"the habit is one of {profile.meter}, and {ground.take.name} is in {beats}/{unit}: "
            "places in the bar can't be compared"
        )
    take, channel = ground.take, int(ground.hits.channel[0])
    ms = ground.hits.ms + percent / 100 * _differences(ground, profile)
    tick = _in_order(ground, np.maximum(take.tempo.to_tick(ms), 0.0))
    rows = channel_events(take, channel)
    shift = tick - ground.hits.tick
    of_hit = owners(rows)
    order = np.argsort(ground.hits.tick, kind="stable")
    # What belongs to no hit goes with the hits around it.
    at = np.array([row[0] for row in rows], np.float64)
    around = np.interp(at, ground.hits.tick[order], shift[order])
    moved = np.where(of_hit >= 0, np.append(shift, 0.0)[of_hit], around)
    new = np.maximum(np.rint(at + moved), 0).astype(np.int64)
    events = [(int(one), data) for one, (_, data) in zip(new, rows, strict=True)]
    # A release never comes before its hit.
    return exchange(take, channel, events)


def _differences(ground: Ground, profile: Profile) -> Floats:
    """How far each hit has to go, ms."""
    own, placed = find_profile([ground]), placed_hits(ground)
    piece = voices(ground)
    away = np.array([profile.of_piece(str(one)) - own.of_piece(str(one)) for one in piece])
    difference = profile.at(placed.piece, placed.beat) - own.at(placed.piece, placed.beat)
    away[placed.hit] = difference
    # Graces keep their distance from their main hit.
    main = ground.ornaments.main
    return np.where(main >= 0, away[main], away)


def _in_order(ground: Ground, tick: Floats) -> Floats:
    """Hits on one note keep their order."""
    tick = tick.copy()
    for note in np.unique(ground.hits.note):
        mine = np.flatnonzero(ground.hits.note == note)
        mine = mine[np.argsort(ground.hits.tick[mine], kind="stable")]
        tick[mine] = np.maximum.accumulate(tick[mine])
    return tick
