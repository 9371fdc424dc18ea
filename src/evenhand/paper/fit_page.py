"""What a fit found, for people and for machines."""

from typing import Any

from evenhand import __version__
from evenhand.fitter import Fitted
from evenhand.paper.terminal import Facts, Page
from evenhand.paper.words import many, meter_words, tempo_words


def fit_page(done: Fitted, written: str = "") -> Page:
    """Put a fit into words.

    Parameters
    ----------
    done : Fitted
    written : str
        Where the file went, if it was written.
    """
    fit, take = done.fit, done.take
    if fit.steady:
        tempo = f"{fit.bpm:.2f} bpm, steady"
    else:
        tempo = f"{fit.slowest:.1f} to {fit.fastest:.1f} bpm, middle {fit.bpm:.1f}"
    found = [
        tempo + (f": {fit.why}" if fit.why else ""),
        f"{fit.beats}/{fit.unit}, the first whole bar begins at {1000 * fit.beat[0]:.0f} ms, "
        f"bar {take.meter.position(round(float(take.tempo.to_tick(1000 * fit.beat[0])))).bar} "
        "of the new file",
    ]
    if fit.count_in:
        found.append(f"count-in: {many(fit.count_in.hits, 'hit')} on the {fit.count_in.piece}")
    before = (
        f"{meter_words(done.before.meter)}, {tempo_words(done.before.tempo)}, "
        f"{done.before.division} ticks per quarter"
    )
    after = (
        f"{meter_words(take.meter)}, {tempo_words(take.tempo)}, {take.division} ticks per quarter"
    )
    parts = [Facts("found", found), Facts("before", [before]), Facts("after", [after])]
    if fit.doubts:
        parts.append(Facts("doubt", [doubt[0].upper() + doubt[1:] + "." for doubt in fit.doubts]))
    if written:
        parts.append(Facts("written", [written]))
    return Page(done.before.name, parts)


def fit_json(done: Fitted, **files: str | bool | None) -> dict[str, Any]:
    """The same as plain values: ms and bpm."""
    fit = done.fit
    return {
        "evenhand": __version__,
        "input": done.before.name,
        **files,
        "bpm": fit.bpm,
        "slowest_bpm": fit.slowest,
        "fastest_bpm": fit.fastest,
        "steady": fit.steady,
        "why": fit.why,
        "meter": f"{fit.beats}/{fit.unit}",
        "first_bar_ms": 1000 * float(fit.beat[0]),
        "beats_ms": [round(1000 * float(beat), 3) for beat in fit.beat],
        "count_in": {"hits": fit.count_in.hits, "piece": fit.count_in.piece}
        if fit.count_in
        else None,
        "rivals_bpm": list(fit.rivals),
        "coherence": fit.coherence,
        "doubts": list(fit.doubts),
        "division": done.take.division,
    }
