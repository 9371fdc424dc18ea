"""The tables of the folder: hits.csv and removed.csv (docs/triggers.md describes each column)."""

from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from evenhand.columns import Ints
from evenhand.jobs.triggers.make_ready import Prepared
from evenhand.jobs.triggers.positions import exact_seconds
from evenhand.paper import csv_bytes

HIT_COLUMNS = ("piece", "zone", "bar", "beat", "seconds", "sample", "velocity", "note", "hit")
REMOVED_COLUMNS = (
    *("hit", "piece", "zone", "bar", "beat", "seconds", "velocity", "note", "reason"),
    *("because_of", "after_ms", "loudness_percent"),
)

_PLACES = 9


def hits_csv(prepared: Prepared) -> bytes:
    """All hits that are left, in time order.

    Parameters
    ----------
    prepared : Prepared

    Returns
    -------
    bytes
        UTF-8. Seconds have nine places, samples count from 0, hits are numbered as in the take.
    """
    sheet, score = prepared.sheet, prepared.score
    bar, beat = sheet.take.meter.place(sheet.hits.tick)
    rows = zip(
        sheet.hits.piece.tolist(),
        sheet.zone.tolist(),
        bar.tolist(),
        (f"{one:.3f}" for one in beat.tolist()),
        map(_decimal, exact_seconds(sheet.take.tempo, sheet.hits.tick)),
        prepared.sample.tolist(),
        score.velocity.tolist(),
        score.note.tolist(),
        sheet.number.tolist(),
        strict=True,
    )
    return csv_bytes(HIT_COLUMNS, rows)


def removed_csv(prepared: Prepared) -> bytes:
    """All hits that were removed, by number, each with its reason and the hit that caused it.

    Parameters
    ----------
    prepared : Prepared

    Returns
    -------
    bytes
        UTF-8. Times, velocities and notes are those of the take.
    """
    played, cleaned = prepared.played, prepared.cleaned
    gone, take = cleaned.hit, played.take
    hits = played.hits
    bar, beat = take.meter.place(hits.tick[gone])
    rows = zip(
        (gone + 1).tolist(),
        hits.piece[gone].tolist(),
        played.zone[gone].tolist(),
        bar.tolist(),
        (f"{one:.3f}" for one in beat.tolist()),
        map(_decimal, exact_seconds(take.tempo, hits.tick[gone])),
        hits.velocity[gone].tolist(),
        hits.note[gone].tolist(),
        cleaned.reason.tolist(),
        *_causes(prepared, gone),
        strict=True,
    )
    return csv_bytes(REMOVED_COLUMNS, rows)


def _causes(prepared: Prepared, gone: Ints) -> tuple[list[str], list[str], list[str]]:
    """Number of the hit that caused each, how long after it, and how loud beside it."""
    hits, of = prepared.played.hits, prepared.cleaned.of
    after = hits.ms[gone] - hits.ms[of]
    loudness = 100 * hits.velocity[gone] / hits.velocity[of]
    caused = of >= 0
    columns = ((of + 1, "d"), (after, ".3f"), (loudness, ".1f"))
    number, ms, percent = (
        [
            format(one, form) if known else ""
            for one, known in zip(column.tolist(), caused, strict=True)
        ]
        for column, form in columns
    )
    return number, ms, percent


def _decimal(seconds: Fraction) -> str:
    """A fraction as a decimal, rounded once."""
    whole, part = divmod(round(seconds * 10**_PLACES), 10**_PLACES)
    return f"{whole}.{part:0{_PLACES}d}"


def counts_by(reasons: Sequence[str], prepared: Prepared) -> dict[str, dict[str, int]]:
    """How many hits of each piece were removed for each reason."""
    cleaned, piece = prepared.cleaned, prepared.played.hits.piece
    table: dict[str, dict[str, int]] = {}
    for reason in reasons:
        names, counts = np.unique(piece[cleaned.hit[cleaned.reason == reason]], return_counts=True)
        table[reason] = dict(zip(names.tolist(), counts.tolist(), strict=True))
    return table
