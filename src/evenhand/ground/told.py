"""What is told of a take as a whole, in plain sentences."""

import math
from collections.abc import Iterator

from evenhand.ground.whole import Whole
from evenhand.pulse import Beside, OtherTempo

#: The kinds of flag that speak of the whole take.
TEMPO, OFFSET = "another tempo", "offset"


def told_of_whole(whole: Whole) -> Iterator[tuple[str, str, float]]:
    """What there is to tell: kind, sentence, and by how many ms it matters (0: ms mean nothing).

    Parameters
    ----------
    whole : Whole
    """
    if whole.other:
        away = whole.other.away_ms
        yield TEMPO, say_tempo(whole.other), 0.0 if math.isnan(away) else abs(away)
    if whole.beside and whole.offset:
        yield OFFSET, say_offset(whole.beside), abs(whole.offset)


def say_offset(beside: Beside) -> str:
    """Say where a take lies."""
    text = f"the whole take lies {_place(beside.ms)} its lines: nothing was moved for it"
    if beside.rival is not None:
        text += f"; it could lie {_place(beside.rival)} them as well"
    if beside.may_lean:
        text += "; it may as well be how the drummer leans"
    return f"{text}; --latency auto takes it out"


def _place(ms: float) -> str:
    return f"{abs(ms):.0f} ms {'behind' if ms > 0 else 'ahead of'}"


def say_tempo(other: OtherTempo) -> str:
    """Say which tempo the hits have, and what to do about it.

    Parameters
    ----------
    other : OtherTempo
    """
    hits = f"{bpm_text(other.bpm)} bpm (give or take {other.doubt:.1g})"
    if other.rivals:
        hits += " or " + " or ".join(bpm_text(bpm) for bpm in other.rivals)
    if not math.isnan(other.away_ms):
        side = "behind" if other.away_ms > 0 else "ahead"
        hits += f", {abs(other.away_ms):.0f} ms {side} at the end"
    return (
        f"the file says {bpm_text(other.filed)} bpm, the hits say {hits}: nothing was moved; "
        "lay bars and beats where they were played with --fit, or insist with --tempo-as-filed"
    )


def bpm_text(bpm: float) -> str:
    """`96`, `96.2` or `96.19`."""
    return f"{bpm:.2f}".rstrip("0").rstrip(".")
