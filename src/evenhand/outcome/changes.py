"""What happened to every hit, and why: the columns of the change log."""

from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np

from evenhand.carry import (
    AFTER,
    ALONG,
    BEFORE,
    BETWEEN,
    CUT_AS_ONE,
    LIMITED,
    LIMITED_OUT,
    NO_ANCHORS,
    NUDGED,
    OWN_TIME,
    Carry,
    go_before_start,
    written,
)
from evenhand.columns import Brief, Column, Floats, Ints, Phrases, Words, among, indices
from evenhand.ground import Ground
from evenhand.habit import NAMES
from evenhand.kit import ROLL
from evenhand.outcome.log import log_csv
from evenhand.plan import (
    BEYOND_MOST,
    DOUBTFUL_LINE,
    FILL_AS_PLAYED,
    HELD,
    IN_FILL,
    IN_HOLD,
    IN_TIME,
    INSIDE,
    INSIDE_FILL,
    KEPT,
    LANDING_AS_PLAYED,
    LESS_EVEN,
    LINE_TAKEN,
    MOVED,
    NO_GRID,
    NO_STRENGTH,
    NO_STRENGTH_LEFT,
    OFF_GRID,
    OFF_THE_GRID,
    OTHER_TEMPO,
    OUTSIDE,
    STANDS_OUT,
    STAYING,
    STOPPED,
    SYNCOPATED,
    TAKEN,
    USUAL,
    WITH_FILL,
    WITH_HABIT,
    WITH_PART,
    WITH_PUSH,
    WITH_RUN,
    WITH_SPAN,
    Plan,
)
from evenhand.take import Hits, check_outputs, write_files

CARRIED = "carried"

#: Reasons of hits that go with others, or can't go on.
WITH_STROKE, WITH_MAIN, IN_ROLL = "with its stroke", "with its main hit", "inside a roll"
AT_START = "limited at the start of the file"

#: Every action with the reasons it can have; docs/reasons.md explains each.
REASONS: dict[str, tuple[str, ...]] = {
    MOVED: (
        *(STANDS_OUT, WITH_RUN, LIMITED_OUT, STOPPED, WITH_PUSH),
        *(OUTSIDE, LIMITED, WITH_STROKE, WITH_SPAN, WITH_FILL),
        *(WITH_PART, WITH_HABIT, NUDGED, CUT_AS_ONE, AT_START),
    ),
    KEPT: (
        *(USUAL, DOUBTFUL_LINE, TAKEN, BEYOND_MOST, LESS_EVEN),
        *(INSIDE, SYNCOPATED, IN_TIME, NO_STRENGTH_LEFT, NO_STRENGTH, WITH_STROKE),
        CUT_AS_ONE,
    ),
    CARRIED: (
        *(BETWEEN, BEFORE, AFTER, NO_ANCHORS),
        *(OWN_TIME, ALONG, WITH_HABIT),
        *(OFF_THE_GRID, TAKEN, INSIDE_FILL),
        *(WITH_MAIN, IN_ROLL, CUT_AS_ONE, AT_START),
    ),
    HELD: (IN_HOLD, NO_GRID, OTHER_TEMPO, FILL_AS_PLAYED, LANDING_AS_PLAYED),
}

#: Ticks that a hit that stays may seem to move by: noise of floating point.
_SAME = 1e-6

#: Fates of strokes that decide nothing and are carried.
_LEFT = (OFF_GRID, LINE_TAKEN, IN_FILL)


@dataclass(frozen=True, eq=False)
class Changes(Brief):
    """One entry per hit, in file order; times in ticks of the output and in ms.

    Attributes
    ----------
    hits : Hits
        The hits as read.
    bar, beat : int64 and float64 arrays
        Where the hit was.
    tick_after : int64 array
    ms_after, shift_ms : float64 arrays
    line : float64 array
        The line of the hit's stroke in ticks, moved by what the whole take lies beside its lines;
        NaN where the hit anchors nothing.
    deviation_before, deviation_after : float64 arrays
        From that line, ms, the latency taken out before; NaN where the hit anchors nothing.
    action, reason : str arrays
        See `REASONS`.
    span : int64 array
        Number of the span that the hit's stroke moves with, from 1; 0 for none.
    limb : str array
        The limb that plays the hit; empty for none.
    usual, early, late : float64 arrays
        Where the target of the hit's stroke lies, ms from its line, and how far ahead of it and
        behind it the stroke may be; NaN where the hit anchors nothing.
    """

    hits: Hits
    bar: Ints
    beat: Floats
    tick_after: Ints
    ms_after: Floats
    shift_ms: Floats
    line: Floats
    deviation_before: Floats
    deviation_after: Floats
    action: Words
    reason: Phrases
    span: Ints
    limb: Words
    usual: Floats
    early: Floats
    late: Floats

    def __len__(self) -> int:
        return len(self.hits)

    def __repr__(self) -> str:
        actions, counts = np.unique(self.action.astype(str), return_counts=True)
        found = ", ".join(f"{n} {name}" for n, name in zip(counts, actions, strict=True))
        return f"Changes({len(self)} hits: {found})" if len(self) else "Changes(0 hits)"

    def to_dict(self) -> dict[str, Column]:
        """Give all columns by name: those of the change log, counted and named as there.

        Returns
        -------
        dict of str to array
            Hits, tracks and channels from 1, times in ticks and ms; where the change log leaves
            an entry empty there is NaN, or 0 for `span`.

        Examples
        --------
        >>> columns = tighten(read_take("kettle-weather.mid")).changes.to_dict()
        >>> list(columns)[:7]
        ['hit', 'track', 'channel', 'note', 'velocity', 'piece', 'role']
        >>> len(columns["shift_ms"])
        888
        """
        hits = self.hits
        return {
            "hit": np.arange(1, len(hits) + 1),
            "track": hits.track + 1,
            "channel": hits.channel + 1,
            "note": hits.note,
            "velocity": hits.velocity,
            "piece": hits.piece,
            "role": hits.role,
            "bar": self.bar,
            "beat": self.beat,
            "tick_before": hits.tick,
            "tick_after": self.tick_after,
            "ms_before": hits.ms,
            "ms_after": self.ms_after,
            "shift_ms": self.shift_ms,
            "line_tick": self.line,
            "deviation_before_ms": self.deviation_before,
            "deviation_after_ms": self.deviation_after,
            "action": self.action,
            "reason": self.reason,
            "span": self.span,
            "limb": self.limb,
            "usual_ms": self.usual,
            "early_ms": self.early,
            "late_ms": self.late,
        }

    def to_csv(self, path: str | Path | None = None, overwrite: bool = False) -> bytes:
        """Write the change log.

        Parameters
        ----------
        path : str or Path, optional
            Where it goes; if not given, no file is written.
        overwrite : bool
            Whether a file that exists is replaced.

        Returns
        -------
        bytes
            The log as CSV in UTF-8, whether it goes to a file or not.

        Raises
        ------
        DiskError
            If the file exists (without `overwrite`) or can't be written.

        Examples
        --------
        >>> log = tighten(read_take("kettle-weather.mid")).changes.to_csv()
        >>> log.splitlines()[0][:31]
        b'hit,track,channel,note,velocity'
        """
        log = log_csv(self.to_dict())
        if path is not None:
            check_outputs([Path(path)], [], overwrite)
            write_files({Path(path): log}, overwrite)
        return log

    def only(self, which: Ints) -> "Changes":
        """Choose some of the hits.

        Parameters
        ----------
        which : int64 array
            Their indices, from 0.

        Returns
        -------
        Changes

        Examples
        --------
        >>> changes = tighten(read_take("kettle-weather.mid")).changes
        >>> moved = changes.only(np.flatnonzero(changes.action == "moved"))
        >>> set(moved.action.tolist())
        {'moved'}
        """
        rest = {one.name: getattr(self, one.name)[which] for one in fields(self)[1:]}
        return Changes(self.hits.only(which), **rest)


def list_changes(ground: Ground, plan: Plan, carry: Carry) -> Changes:
    """Say what happened to each hit.

    Parameters
    ----------
    ground : Ground
    plan : Plan
    carry : Carry
    """
    hits, strokes, time = ground.hits, ground.strokes, ground.time
    shift = carry.at(ground.tick)
    tick_after = written(ground, ground.tick, shift)
    ms_after = time.ms(tick_after)
    line = strokes.of_anchors(np.where(plan.claims, plan.line, np.nan), np.nan)
    judged_ms = time.ms(ground.tick) - time.ms(line)
    line = ground.written(line)
    action, reason = _account(ground, plan, carry, shift)
    bar, beat = time.place(hits.tick)
    return Changes(
        hits=hits,
        bar=bar,
        beat=beat,
        tick_after=tick_after,
        ms_after=ms_after,
        shift_ms=ms_after - hits.ms,
        line=line,
        deviation_before=judged_ms,
        deviation_after=ms_after - time.ms(line),
        action=action,
        reason=reason,
        span=strokes.of_anchors(plan.span, 0),
        limb=np.array(NAMES)[carry.limb],
        **{
            name: strokes.of_anchors(np.where(plan.claims, column, np.nan), np.nan)
            for name, column in (
                ("usual", plan.lean),
                ("early", plan.admissible.low),
                ("late", plan.admissible.high),
            )
        },
    )


def _account(ground: Ground, plan: Plan, carry: Carry, shift: Floats) -> tuple[Words, Phrases]:
    """Action and reason of each hit: of its stroke, or of what it goes with."""
    strokes, tick = ground.strokes, ground.tick
    # Words are compared once for each stroke.
    moved, stays, left, weak = (
        strokes.of_anchors(which, False)
        for which in (
            plan.fate == MOVED,
            among(plan.fate, STAYING),
            among(plan.fate, _LEFT),
            among(carry.why, (NO_STRENGTH, NO_STRENGTH_LEFT)),
        )
    )
    limited = go_before_start(ground, tick, shift)
    still = np.zeros(len(tick), np.bool_)
    if carry.leaned.any():
        # What would stay, and goes towards another habit with all of its kind.
        still = (stays | weak) & (carry.leaned != 0)
        still &= ~strokes.of_anchors(plan.fate == HELD, False)
        moved, weak = moved | still, weak & ~still
    settled = moved | stays
    follows = np.ones(len(tick), np.bool_)
    follows[strokes.reference] = False
    bound = (strokes.bond >= 0) & ~strokes.anchor
    # Each hit has one reason: the last of these that holds.
    reason = carry.where(tick)
    said = strokes.spread(carry.why, "")
    for which, why in (
        (carry.beside != "", carry.beside),
        (ground.hits.role == ROLL, IN_ROLL),
        (bound, WITH_MAIN),
        (limited, AT_START),
        (settled | left, said),
        (still, WITH_HABIT),
        (settled & follows, WITH_STROKE),
        (moved & limited, AT_START),
        (carry.cut, CUT_AS_ONE),
        (plan.held.hit, plan.held.why),
        (carry.nudged, NUDGED),
    ):
        at = indices(which)
        reason[at] = why if isinstance(why, str) else why[at]
    action = np.where(moved & ~weak, MOVED, np.where(settled, KEPT, CARRIED))
    # What audio can't be cut apart from moves or stays like its neighbour.
    cut = indices(carry.cut & settled)
    action[cut] = np.where(np.abs(shift[cut]) > _SAME, MOVED, KEPT)
    action[plan.held.hit] = HELD
    action[carry.nudged] = MOVED
    return action, reason
