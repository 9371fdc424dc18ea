"""What was done, in words and as JSON."""

from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np

from evenhand.jobs.conform.apart_csv import TOLD_MS
from evenhand.jobs.conform.cut_plan import CutPlan
from evenhand.jobs.conform.doubts import Doubt, audio_apart
from evenhand.jobs.conform.match import TOLD_PPM
from evenhand.jobs.conform.microphone import Microphone
from evenhand.paper import Facts, Page, Table, many

#: Rows of each list on a terminal.
_MOST = 12
#: A piece that is late by less than this, ms, is not told; nor a file that is ahead by less.
_LATE_MS, _FIRST_MS = 1.0, 5.0


def late_by_piece(plan: CutPlan) -> dict[str, tuple[float, int, int]]:
    """For each piece: middle difference of its attacks from the clock, ms; found; all of them."""
    found, piece = plan.match.found, plan.moves.piece
    told = {}
    for name in sorted(set(piece.tolist())):
        mine = piece == name
        late = 1000 * plan.match.late[mine & found]
        middle = float(np.median(late)) if len(late) else float("nan")
        told[name] = (middle, int((mine & found).sum()), int(mine.sum()))
    return told


def as_json(
    plan: CutPlan,
    doubts: tuple[Doubt, ...],
    microphones: list[Microphone],
    output: Path | None,
    written: list[str],
) -> dict[str, Any]:
    """The report for machines."""
    clock = plan.match.clock
    rate = plan.size.rate
    hits = plan.units.hit >= 0
    apart = audio_apart(plan)[hits]
    return {
        "output": str(output) if output else None,
        "files": written,
        "rate": rate,
        "seconds": round(plan.size.frames / rate, 3),
        "offset_ms": round(1000 * clock.offset, 3),
        "drift_ppm": round(clock.drift, 2),
        "matched_percent": round(100 * plan.match.share, 1),
        "hits": len(plan.moves),
        "hits_in_audio": int(hits.sum()),
        "hits_moved": int(np.count_nonzero(plan.shift[hits])),
        "unlisted_attacks": int((~hits).sum()),
        "blocks": len(plan.blocks.first) - 2,
        "splices": len(plan.splices),
        "apart_from_midi": {
            "hits": int((apart > TOLD_MS).sum()),
            "largest_ms": round(float(apart.max(initial=0)), 3),
        },
        "late_by_piece": {
            name: {"ms": None if np.isnan(ms) else round(ms, 2), "found": found, "hits": count}
            for name, (ms, found, count) in late_by_piece(plan).items()
        },
        "heard_first": {
            name: {
                "file": microphones[one.file].path.name,
                "ms_earlier": round(1000 * one.earlier, 2),
                "agree_percent": round(100 * one.agree, 1),
                "placed_there": one.sure,
            }
            for name, one in plan.match.first.items()
        },
        "clipped": {
            one.path.name: int(count)
            for one, count in zip(microphones, plan.heard.clipped, strict=True)
            if count
        },
        "silent": [
            one.path.name
            for one, silent in zip(microphones, plan.heard.silent, strict=True)
            if silent
        ],
        "doubts": [
            {
                "kind": one.kind,
                "place": str(one.place),
                "seconds": round(one.seconds, 4),
                "text": one.text,
            }
            for one in doubts
        ],
    }


def page(
    name: str,
    plan: CutPlan,
    doubts: tuple[Doubt, ...],
    microphones: list[Microphone],
    written: list[str],
) -> Page:
    """The report for a terminal."""
    rate = plan.size.rate
    hits = plan.units.hit >= 0
    moved = int(np.count_nonzero(plan.shift[hits]))
    parts: list[Facts | Table] = [Facts("audio", _audio(plan, microphones))]
    parts.append(Facts("lies", _lies(plan)))
    late = [*_late(plan), *_first(plan, microphones)]
    if late:
        parts.append(Facts("late", late))
    changes = np.array([one.change for one in plan.splices])
    lines = [
        f"{moved} of {many(int(hits.sum()), 'hit')} in the audio moved; "
        f"{many(len(plan.splices), 'splice')}"
    ]
    if len(changes):
        gained, lost = changes[changes > 0], -changes[changes < 0]
        lines.append(
            f"gained {1000 * gained.sum() / rate:.0f} ms and lost {1000 * lost.sum() / rate:.0f} "
            f"ms in all; the largest {1000 * np.abs(changes).max() / rate:.1f} ms"
        )
    others = int((~hits).sum())
    if others:
        lines.append(f"{many(others, 'attack')} that the take does not list, carried in proportion")
    parts.append(Facts("cut", lines))
    beside = _apart(plan)
    if beside:
        parts.append(Facts("apart", beside))
    parts.append(_listen_to(doubts))
    parts.append(Facts("written", written))
    return Page(name, parts)


def _audio(plan: CutPlan, microphones: list[Microphone]) -> list[str]:
    kinds = dict.fromkeys(f"{one.layout.kind} {one.layout.encoding.words}" for one in microphones)
    lines = [
        f"{many(len(microphones), 'file')}, {plan.size.frames / plan.size.rate:.1f} s at "
        f"{plan.size.rate} Hz, {', '.join(kinds)}"
    ]
    for one, clipped, silent in zip(
        microphones, plan.heard.clipped, plan.heard.silent, strict=True
    ):
        if silent:
            lines.append(f"{one.path.name} is silent; it is cut like the others")
        elif clipped:
            lines.append(f"{one.path.name} is clipped at {many(int(clipped), 'sample')}")
    return lines


def _lies(plan: CutPlan) -> list[str]:
    clock, match = plan.match.clock, plan.match
    lines = [
        f"{abs(1000 * clock.offset):.1f} ms {'behind' if clock.offset >= 0 else 'ahead of'} the "
        f"take; {match.share:.0%} of the hits have their attack where it belongs"
    ]
    if abs(clock.drift) > TOLD_PPM:
        lines.append(
            f"the clocks run apart by {clock.drift:+.1f} millionths "
            f"({clock.drift * 0.06:+.2f} ms a minute), give or take {match.error_ppm:.1f}"
        )
    outside = len(plan.moves) - int((plan.units.hit >= 0).sum())
    if outside:
        lines.append(f"{many(outside, 'hit')} of the take lie outside the audio")
    return lines


def _late(plan: CutPlan) -> list[str]:
    told = [
        f"{name} {ms:+.1f} ms"
        for name, (ms, found, _) in late_by_piece(plan).items()
        if found and abs(ms) >= _LATE_MS
    ]
    return [f"attacks against their hits, in the middle: {', '.join(told)}"] if told else []


def _first(plan: CutPlan, microphones: list[Microphone]) -> list[str]:
    """Pieces that one file hears much earlier than most."""
    lines = []
    for name, one in plan.match.first.items():
        path, ms = microphones[one.file].path, 1000 * one.earlier
        if one.sure and ms >= _FIRST_MS:
            lines.append(f"{name} is heard first in {path.name}, {ms:.1f} ms ahead of most files")
        elif not one.sure:
            lines.append(
                f"{name} may begin {ms:.1f} ms earlier, in {path.name}, but only {one.agree:.0%} "
                "of its hits say so: it is cut where most files have it; listen to it"
            )
    return lines


def _apart(plan: CutPlan) -> list[str]:
    """Where audio and MIDI differ, and by how much."""
    apart = audio_apart(plan)
    far = apart[apart > TOLD_MS]
    if not len(far):
        return []
    pieces = Counter(plan.moves.piece[plan.units.hit[apart > TOLD_MS]].tolist())
    told = ", ".join(f"{count} {piece}" for piece, count in pieces.most_common())
    return [
        f"{many(len(far), 'hit')} more than {TOLD_MS:g} ms beside the MIDI ({told}): "
        f"{np.median(far):.1f} ms in the middle, {far.max():.1f} at most; all in apart.csv",
        "tighten with --for-audio, and the MIDI moves as microphones can",
    ]


def _listen_to(doubts: tuple[Doubt, ...]) -> Facts | Table:
    if not doubts:
        return Facts("listen to", ["nothing in doubt"])
    rows = [[str(one.place), f"{one.seconds:.2f}", one.kind, one.text] for one in doubts[:_MOST]]
    if len(doubts) > _MOST:
        rows.append(["", "", "", f"and {len(doubts) - _MOST} more (all in conform.html)"])
    return Table("listen to", ["place", "s", "doubt", "what"], rows, ["place", "doubt", "what"])
