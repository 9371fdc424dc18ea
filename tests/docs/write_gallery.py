"""Write the gallery of the docs, its pictures, and the one bar that the README shows.

python -m tests.docs.write_gallery
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
from tests.docs.gallery_takes import KINDS, Kind

from evenhand import Result, Take, tighten
from evenhand.jobs.demo_take import demo_take
from evenhand.picture import Shown, draw, show_result
from evenhand.web import page_colours

_DOCS = Path(__file__).parents[2] / "docs"
PAGE, PICTURES = _DOCS / "gallery.md", _DOCS / "gallery"
ONE_BAR = _DOCS / "pictures" / "one-bar.svg"

#: The bar that the README shows: the demo's snare on 2 is early there.
BAR = 12

_HEAD = """# Gallery

Five invented kinds of take, before and after `evenhand tighten --picture`, with the settings as
they come. Each dot is a kick or a snare; on the line it would be exactly where the grid is. What is
far from its neighbours moves, what is usual for the drummer stays, the hats keep their own time.

(`python -m tests.docs.write_gallery` makes this page and its pictures.)
"""


def results() -> list[tuple[Kind, Result]]:
    """Every take, tightened."""
    return [(kind, tighten(kind.make())) for kind in KINDS]


def page(made: list[tuple[Kind, Result]]) -> str:
    """The gallery in words and figures."""
    return "\n".join([_HEAD, *(_chapter(*one) for one in made)])


def _chapter(kind: Kind, result: Result) -> str:
    shown, moved = show_result(result), result.changes.action == "moved"
    most = float(np.abs(result.changes.shift_ms[moved]).max(initial=0))
    told = f"None of {len(result.hits)} hits moved"
    if moved.any():
        told = f"{moved.sum()} of {len(result.hits)} hits moved, by {most:.0f} ms at the most"
    told += (
        f"; kicks and snares scatter by {shown.before.std():.1f} ms before and "
        f"{shown.after.std():.1f} ms after."
    )
    return (
        f"## {kind.title}\n\n{kind.played}\n\n![{kind.title}](gallery/{kind.name}.png)\n\n{told}\n"
    )


def one_bar() -> str:
    """Kicks, snares and hats of one bar before and after, as SVG."""
    result = tighten(Take.from_bytes(demo_take()))
    hits, changes, colours = result.hits, result.changes, page_colours()
    bars = result.ground.time.bars_at(result.tick[changes.bar == BAR])
    begin, end = float(bars.start[0]), float(bars.stop[0])
    # What is meant for the bar line may come a little before it.
    early = (end - begin) / 32
    bar = (hits.tick >= begin - early) & (hits.tick < end - early)
    width, left, top, row = 720, 70, 34, 26
    scale = (width - left - 20) / (end - begin)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} 210" width="{width}" '
        'height="210" font-family="sans-serif" font-size="13">\n'
        f"<title>Bar {BAR} of the demo take before and after</title>\n"
        f'<rect width="{width}" height="210" fill="{colours["paper"]}"/>\n'
    ]
    for step in range(17):
        x = left + scale * (end - begin) * step / 16
        parts.append(
            f'<line x1="{x:.1f}" y1="20" x2="{x:.1f}" y2="196" stroke="{colours["grid"]}" '
            f'stroke-width="{1 if step % 4 else 2}"/>\n'
        )
    for side, ticks in enumerate((hits.tick, changes.tick_after)):
        y0 = top + side * 90
        parts.append(_text(8, y0 - 6, ("before", "after")[side], colours["quiet"]))
        for number, piece in enumerate(("hat", "snare", "kick")):
            y = y0 + row * number
            parts.append(_text(8, y + 14, piece, colours["ink"]))
            for index in np.flatnonzero(bar & (hits.piece == piece)):
                x = left + scale * (float(ticks[index]) - begin)
                high = 6 + 14 * int(hits.velocity[index]) / 127
                parts.append(
                    f'<rect x="{x - 2:.1f}" y="{y + 18 - high:.1f}" width="4" height="{high:.1f}" '
                    f'fill="{colours[piece]}"/>\n'
                )
    far = np.flatnonzero(bar & (changes.shift_ms != 0))
    told = ", ".join(f"{hits.piece[one]} moved by {changes.shift_ms[one]:+.0f} ms" for one in far)
    parts.append(
        _text(left, 207, f"{told}; {len(bar[bar]) - len(far)} other hits stayed", colours["quiet"])
    )
    return "".join([*parts, "</svg>\n"])


def _text(x: float, y: float, words: str, colour: str) -> str:
    return f'<text x="{x:.0f}" y="{y:.0f}" fill="{colour}">{words}</text>\n'


def _shown(kind: Kind, result: Result) -> Shown:
    return replace(show_result(result), title=kind.title)


def main() -> None:
    """Write all of it."""
    PICTURES.mkdir(exist_ok=True)
    made = results()
    PAGE.write_text(page(made), "utf-8")
    for kind, result in made:
        path = PICTURES / f"{kind.name}.png"
        path.write_bytes(draw(_shown(kind, result), path))
    ONE_BAR.write_text(one_bar(), "utf-8")


if __name__ == "__main__":
    main()
