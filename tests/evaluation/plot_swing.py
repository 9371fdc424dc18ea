"""Plot swing against tempo: `python -m tests.evaluation.plot_swing FOLDER > swing.svg`.

Two panels over the labelled tempo of the jazz takes in the folder (with `takes.csv`): the ratio of
the long note to the short one, and the length of the short note. Beside our points stands what
Friberg & Sundström 2002 (Music Perception 19(3), 333-349) found on the ride of jazz drummers: up to
3.5:1 at slow tempi, falling about linearly to 1:1 at fast ones, and a short note near 100 ms at
medium to fast tempi. From where to where their line runs (100 and 300 bpm) is from memory.
"""

import sys
from pathlib import Path

import numpy as np
from tests.evaluation.takes import Labelled, read_takes

from evenhand import Recipe
from evenhand.grid.lines import Grid
from evenhand.ground.prepare import prepare
from evenhand.kit.pieces import TIMEKEEPER
from evenhand.measure.feel import find_swing

# The palette of Okabe & Ito 2008, "Color Universal Design" (from memory).
_BLUE, _ORANGE = "#0072B2", "#D55E00"
_WIDE, _HIGH, _LEFT, _TOP = 380, 260, 60, 40
_BPM = (80, 320)

Point = tuple[float, float, float]


def measured(takes: list[Labelled]) -> list[Point]:
    """Tempo (bpm), ratio and short note (ms) of each take that swings."""
    points = []
    for take in takes:
        if not take.beat or not take.style.startswith("jazz"):
            continue
        ground = prepare(take.take, Recipe(sections="none"))
        grid = ground.layout.grids[0]
        keeper = ground.hits.role == TIMEKEEPER
        ms = take.take.tempo.to_ms(ground.tick)
        swing = find_swing(ground.tick, ms, keeper, Grid(8), take.take.meter)
        if swing and (grid is None or grid.triplet or grid.swing > 50):
            points.append((take.bpm, swing.ratio, swing.short_ms))
    return sorted(points)


def _panel(
    left: float, title: str, most: float, step: float, places: list[tuple[float, float]], line: str
) -> list[str]:
    """One panel: axes, what the paper found, our points."""

    def x(bpm: float) -> float:
        return left + (bpm - _BPM[0]) / (_BPM[1] - _BPM[0]) * _WIDE

    def y(value: float) -> float:
        return _TOP + _HIGH * (1 - value / most)

    drawn = [f'<text x="{left}" y="{_TOP - 14}" font-weight="bold">{title}</text>']
    drawn += [
        f'<path d="M{left} {y(value):.1f}h{_WIDE}" stroke="#ddd"/>'
        f'<text x="{left - 8}" y="{y(value) + 4:.1f}" text-anchor="end">{value:g}</text>'
        for value in np.arange(0, most + step / 2, step)
    ]
    drawn += [
        f'<text x="{x(bpm):.1f}" y="{_TOP + _HIGH + 18}" text-anchor="middle">{bpm}</text>'
        for bpm in range(_BPM[0], _BPM[1] + 1, 40)
    ]
    ends = {"ratio": ((100, 3.5), (300, 1.0)), "short": ((150, 100.0), (300, 100.0))}[line]
    path = "L".join(f"{x(bpm):.1f} {y(value):.1f}" for bpm, value in ends)
    drawn.append(f'<path d="M{path}" stroke="{_ORANGE}" stroke-width="2" stroke-dasharray="6 4"/>')
    drawn += [
        f'<circle cx="{x(bpm):.1f}" cy="{y(value):.1f}" r="4.5" fill="{_BLUE}"/>'
        for bpm, value in places
    ]
    return drawn


def picture(points: list[Point]) -> str:
    """Both panels as SVG."""
    second = 2 * _LEFT + _WIDE
    width, height = second + _WIDE + 20, _TOP + _HIGH + 76
    low = _TOP + _HIGH + 38
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
            'font-family="sans-serif" font-size="12" fill="#222" role="img" '
            'aria-label="Swing of jazz takes against tempo">',
            f'<rect width="{width}" height="{height}" fill="#fff"/>',
            *_panel(
                _LEFT, "long to short", 4, 1, [(bpm, ratio) for bpm, ratio, _ in points], "ratio"
            ),
            *_panel(
                second, "short note, ms", 250, 50, [(bpm, ms) for bpm, _, ms in points], "short"
            ),
            f'<text x="{_LEFT + _WIDE / 2}" y="{low}" text-anchor="middle">tempo, bpm</text>',
            f'<text x="{second + _WIDE / 2}" y="{low}" text-anchor="middle">tempo, bpm</text>',
            f'<circle cx="{_LEFT + 6}" cy="{low + 20}" r="4.5" fill="{_BLUE}"/>',
            f'<text x="{_LEFT + 18}" y="{low + 24}">one take each, measured</text>',
            f'<path d="M{second - 160} {low + 20}h30" stroke="{_ORANGE}" stroke-width="2" '
            'stroke-dasharray="6 4"/>',
            f'<text x="{second - 124}" y="{low + 24}">Friberg &amp; Sundström 2002, in outline '
            "(where the lines begin and end: from memory)</text>",
            "</svg>",
            "",
        ]
    )


if __name__ == "__main__":
    points = measured(read_takes(Path(sys.argv[1])))
    sys.stdout.write(picture(points))
    for bpm, ratio, short in points:
        sys.stderr.write(f"{bpm:5g} bpm  {ratio:4.2f}:1  {short:4.0f} ms\n")
