"""What the playing was taken for, in words: roles by what hits do, and fills."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from evenhand.ground import Ground, loose_fills
from evenhand.kit import COMMENT, FEATHERED, PATTERN, TICKING, Use
from evenhand.paper.terminal import Facts
from evenhand.paper.words import many

if TYPE_CHECKING:
    from evenhand.tightener import Result

#: Fills shown in a summary; the rest is counted (and all are in the JSON).
SHOWN_FILLS = 8

#: What is said of hits, by what they were taken for: `where`, their number, the share it rests on.
_SAID: dict[str, Callable[[Use, str, int, str], str]] = {
    TICKING: lambda use, where, hits, share: (
        f"{where}the {use.voice} {_verb(use, 'keep')} time (on {share} of the lines): "
        f"{many(hits, 'hit')} for it, accents are anchors"
    ),
    COMMENT: lambda use, where, hits, share: (
        f"{where}{use.voice} comment on what keeps time ({share} are where they usually are): "
        f"{many(hits, 'hit')} carried"
    ),
    PATTERN: lambda use, where, hits, share: (
        f"{where}the {use.voice} carry a pattern ({share} are where they usually are): "
        f"{many(hits, 'hit')} are anchors"
    ),
    FEATHERED: lambda use, _, hits, __: (
        f"{many(hits, 'kick')} below velocity {use.share:.0f} "
        f"{'is a ghost' if hits == 1 else 'are ghosts'}: far softer than the others"
    ),
}


def uses_part(ground: Ground) -> list[Facts]:
    """What was taken for something else than its piece says, and why, a line each."""
    groups: dict[tuple[str, str], list[Use]] = {}
    for use in ground.uses:
        groups.setdefault((use.voice, use.taken), []).append(use)
    lines = [_say(uses, ground) for uses in groups.values()]
    return [Facts("taken for", lines)] if lines else []


def _say(uses: list[Use], ground: Ground) -> str:
    sections = ground.layout.sections
    labels = [sections.labels[one.section] for one in uses if one.section >= 0]
    where = "" if len(labels) == len(sections) or not labels else f"in {', '.join(labels)} "
    low, high = (end(round(one.share) for one in uses) for end in (min, max))
    share = f"{low} %" if low == high else f"{low} to {high} %"
    return _SAID[uses[0].taken](uses[0], where, sum(one.hits for one in uses), share)


def _verb(use: Use, word: str) -> str:
    return word if use.voice.endswith("s") else f"{word}s"


def uses_json(ground: Ground) -> list[dict[str, Any]]:
    """The same as plain values; the section is empty for the whole take."""
    labels = ground.layout.sections.labels
    return [
        {
            "section": labels[one.section] if one.section >= 0 else "",
            "voice": one.voice,
            "taken_for": one.taken,
            "hits": one.hits,
            **(
                {"below_velocity": round(one.share)}
                if one.taken == FEATHERED
                else {"share": round(one.share, 1)}
            ),
        }
        for one in ground.uses
    ]


def fills_json(result: Result) -> list[dict[str, Any]]:
    """Each fill: from where to where, its hits, whether it was held, how far it went as a whole."""
    ground, changes = result.ground, result.changes
    fills, meter = ground.fills, result.before.meter
    if ground.lone_fill:
        bars = meter.bars_at(np.array([ground.tick.min(), ground.tick.max()]))
        fills = loose_fills(np.array([[bars.start[0], bars.stop[1]]]))
    of = fills.of(ground.lines_at(ground.tick).tick)
    moved = changes.shift_ms + ground.latency
    rows = []
    for one, (begin, end) in enumerate(zip(fills.begin, fills.end, strict=True)):
        mine = of == one
        rows.append(
            {
                "from": str(meter.position(begin)),
                "to": str(meter.position(end)),
                "hits": int(mine.sum()),
                "as_played": bool(fills.as_played[one]),
                "ms": round(float(np.median(moved[mine])), 3) if mine.any() else 0.0,
            }
        )
    return rows


def fills_part(result: Result) -> list[Facts]:
    """The fills in words; nothing where there are none."""
    rows = fills_json(result)
    if result.ground.lone_fill:
        return [Facts("fills", ["the take is one fill: its shape is kept, its run eased"])]
    lines = [
        f"{row['from']} to {row['to']}: {many(row['hits'], 'hit')}, "
        + ("held" if row["as_played"] else f"{row['ms']:+.0f} ms")
        for row in rows[:SHOWN_FILLS]
    ]
    if len(rows) > SHOWN_FILLS:
        lines.append(f"and {len(rows) - SHOWN_FILLS} more (all with --json)")
    return [Facts("fills", lines)] if lines else []
