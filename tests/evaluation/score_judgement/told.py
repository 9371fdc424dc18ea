"""What a pass told about the whole take."""

from evenhand import Result


def offset_told(result: Result) -> float:
    """How far the whole take was said to lie behind its lines, ms; 0 if nothing was said."""
    return result.ground.offset


def tempo_told(result: Result) -> float | None:
    """The tempo of the hits, if another than the file's was told with a way out, in bpm."""
    other = result.ground.whole.other
    way_out = any("--fit" in flag.text for flag in result.flags if flag.kind == "another tempo")
    return other.bpm if other and way_out else None
