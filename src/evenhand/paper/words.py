"""Small helpers for numbers and lists in sentences."""

from collections.abc import Mapping

from evenhand.take import MeterMap, TempoMap


def counted(counts: Mapping[str, int]) -> str:
    """`hat 612, snare 388`; what does not occur is left out."""
    return ", ".join(f"{name} {count}" for name, count in counts.items() if count) or "none"


def many(count: int, one: str, several: str = "") -> str:
    """`1 hit`, `2 hits`."""
    return f"{count} {one if count == 1 else several or one + 's'}"


def tempo_words(tempo: TempoMap) -> str:
    """`120 bpm`, or the range and the number of changes."""
    bpm = tempo.bpm
    low, high = f"{bpm.min():.4g}", f"{bpm.max():.4g}"
    if low == high:
        return f"{low} bpm"
    return f"{low} to {high} bpm ({many(len(bpm) - 1, 'change')})"


def meter_words(meter: MeterMap) -> str:
    """`4/4`, or each change with its bar."""
    words: list[str] = []
    before = ""
    for beats, unit, bar in zip(meter.beats, meter.unit, meter.bar, strict=True):
        name = f"{beats}/{unit}"
        if name != before:
            words.append(name if not words else f"{name} from bar {bar}")
        before = name
    return ", ".join(words)
