"""What a pass told about the whole take."""

from evenhand import Result


def offset_told(result: Result) -> float:
    """How far the whole take was said to lie behind its lines, ms; 0 if nothing was said."""
    return float(getattr(result, "offset_ms", 0.0))


def tempo_told(result: Result) -> float | None:
    """The tempo of the hits, if another than the file's was told with a way out, in bpm."""
    told: float | None = getattr(result, "tempo_told", None)
    return told
