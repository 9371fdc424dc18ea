"""The page's data: each splice in doubt with its sound before and after."""

import base64
from collections.abc import Sequence
from typing import Any

import numpy as np

from evenhand.columns import Floats
from evenhand.jobs.conform.account import late_by_piece
from evenhand.jobs.conform.cut_plan import CutPlan
from evenhand.jobs.conform.doubts import Doubt
from evenhand.jobs.conform.microphone import Microphone
from evenhand.jobs.conform.splices import Splice
from evenhand.jobs.conform.weave import hear_conformed
from evenhand.paper import many
from evenhand.take import Position
from evenhand.web import one_file

#: Places that can be heard on the page, seconds of sound around each, and the least samples per
#: second that it is thinned out to.
_MOST, _AHEAD_S, _BEHIND_S, _RATE = 40, 0.5, 0.7, 22_000


def conform_page(
    name: str,
    plan: CutPlan,
    doubts: tuple[Doubt, ...],
    places: Sequence[Position],
    microphones: Sequence[Microphone],
) -> bytes:
    """Make the HTML file.

    Parameters
    ----------
    name : str
        Of the take.
    plan : CutPlan
    doubts : tuple of Doubt
    places : sequence of Position
        Of each splice, in the take as played.
    microphones : sequence of Microphone
        Open.
    """
    rate = plan.size.rate
    listed = [_of_doubt(one, plan) for one in doubts]
    told = {one.splice for one in doubts}
    # When doubts are few, the splices that differ most come behind them.
    rest = sorted(
        (index for index in range(len(plan.splices)) if index not in told),
        key=lambda index: -_unlike(plan.splices[index]),
    )
    listed += [_of_splice(index, plan, places[index]) for index in rest]
    heard = [one | _clip(one, plan, microphones) for one in listed[:_MOST]]
    clock = plan.match.clock
    data = {
        "places": heard,
        "rate": rate / _thinning(rate),
        "middle_s": _AHEAD_S,
        "more": max(0, len(doubts) - _MOST),
        "pieces": [
            [piece, None if np.isnan(ms) else round(ms, 2), found, count]
            for piece, (ms, found, count) in late_by_piece(plan).items()
        ],
    }
    words = {
        "name": name,
        "facts": f"{many(len(microphones), 'file')}, {plan.size.frames / rate:.1f} s; "
        f"{many(len(plan.splices), 'splice')}, {many(len(doubts), 'thing')} in doubt; the audio "
        f"lies {abs(1000 * clock.offset):.1f} ms {'behind' if clock.offset >= 0 else 'ahead of'} "
        "the take",
        "doubts": len(doubts),
    }
    return one_file("jobs/conform", data, words, charts=False)


def _unlike(splice: Splice) -> float:
    return (1 - splice.likeness) * 10 ** (splice.level_db / 20)


def _of_doubt(one: Doubt, plan: CutPlan) -> dict[str, Any]:
    middle = round(one.seconds * plan.size.rate)
    fade = plan.splices[one.splice].fade if one.splice >= 0 else 0
    return {
        "place": str(one.place),
        "kind": one.kind,
        "text": one.text,
        "at": middle + fade // 2,
        "fade_s": fade / plan.size.rate,
    }


def _of_splice(index: int, plan: CutPlan, place: Position) -> dict[str, Any]:
    one, rate = plan.splices[index], plan.size.rate
    return {
        "place": str(place),
        "kind": "splice",
        "text": f"{1000 * one.change / rate:+.1f} ms in {1000 * one.fade / rate:.0f} ms, likeness "
        f"{one.likeness:.2f}, {one.level_db:.0f} dB",
        "at": one.at + one.fade // 2,
        "fade_s": one.fade / rate,
    }


def _clip(one: dict[str, Any], plan: CutPlan, microphones: Sequence[Microphone]) -> dict[str, Any]:
    """The sound around a place, all files together, before and after."""
    rate = plan.size.rate
    start = one["at"] - round(_AHEAD_S * rate)
    count = round((_AHEAD_S + _BEHIND_S) * rate)
    sides: list[Floats] = [np.zeros(count), np.zeros(count)]
    for mic, loud in zip(microphones, plan.heard.loudness, strict=True):
        if loud > 0:
            full = mic.layout.encoding.full * loud
            sides[0] += mic.exact(start, count).sum(axis=1) / full
            sides[1] += hear_conformed(mic, plan.splices, start, count).sum(axis=1) / full
    peak = max(float(np.abs(side).max()) for side in sides) or 1.0
    names = ("before", "after")
    return {
        name: _pcm(_thinned(side / peak, _thinning(rate)))
        for name, side in zip(names, sides, strict=True)
    }


def _thinning(rate: int) -> int:
    """Every how many samples one is kept."""
    return max(1, rate // _RATE)


def _thinned(sound: Floats, step: int) -> Floats:
    """A sound at a lower rate: only the lower part of its spectrum is kept."""
    count = len(sound) // step
    spectrum = np.fft.rfft(sound[: count * step])[: count // 2 + 1]
    return np.asarray(np.fft.irfft(spectrum, count) / step)


def _pcm(sound: Floats) -> str:
    """A sound as 16-bit numbers in base64."""
    whole = np.rint(np.clip(sound, -1, 1) * 32767).astype("<i2")
    return base64.b64encode(whole.tobytes()).decode("ascii")
