"""The drawing itself: the only place that meets matplotlib."""

import io
import warnings
from pathlib import Path
from typing import Any

import numpy as np

from evenhand.columns import Bools
from evenhand.errors import SettingError
from evenhand.paper import printable
from evenhand.picture.shown import Shown
from evenhand.web import page_colours

#: Endings of what can be drawn.
KINDS = (".png", ".svg")

#: Each family of pieces with its colour and mark on the page, and which pieces are of it.
_FAMILIES = (
    ("kick", "kick", "s", ("kick",)),
    ("snare", "snare", "o", ("snare",)),
    ("side stick", "stick", "D", ("side stick",)),
    ("toms", "tom", "v", ("tom 1", "tom 2", "tom 3", "tom 4")),
)

_INCHES, _DOTS = (11.0, 9.0), 110

#: Hits beyond this are drawn as dots of a picture inside the SVG, which would be too large.
_MOST_SHAPES = 4000

#: A label of a section needs so much of the axis.
_LABEL_ROOM = 0.03

#: The axis of deviations ends here, ms, unless nearly all hits lie nearer.
_LEAST_MS = 20.0

#: Bars of a few sections are not as thick as the frame.
_LEAST_ROWS = 4

#: A habit this far off its line has the full colour, ms.
_FULL_MS = 20.0


def need_drawing(path: Path) -> None:
    """Make sure that a picture can be drawn, before anything is worked out for it.

    Parameters
    ----------
    path : Path
        Where it is to go.

    Raises
    ------
    SettingError
        If its ending is none of `KINDS`, or matplotlib is not installed.
    """
    if path.suffix.lower() not in KINDS:
        raise SettingError(
            f"picture: {path.name!r} is no name of a picture; let it end in .png or .svg"
        )
    try:
        import matplotlib  # noqa: F401 -- asked for, not used
    except ImportError:
        raise SettingError(
            "picture: drawing needs matplotlib; install it: pip install 'evenhand[picture]'"
        ) from None


def draw(shown: Shown, path: Path) -> bytes:
    """Draw a picture; the same in, the same bytes out.

    Parameters
    ----------
    shown : Shown
    path : Path
        Its ending says which kind of file it is; nothing is written there.

    Returns
    -------
    bytes
        Of a PNG or SVG file.

    Raises
    ------
    SettingError
        See `need_drawing`.
    """
    need_drawing(path)
    import matplotlib as mpl
    from matplotlib.figure import Figure

    colours = page_colours()
    style: dict[Any, Any] = {
        "axes.edgecolor": colours["edge"],
        "axes.facecolor": colours["paper"],
        "figure.facecolor": colours["paper"],
        "font.family": "DejaVu Sans",
        "font.size": 9,
        "svg.hashsalt": "evenhand",
        "text.color": colours["ink"],
        "text.parse_math": False,  # names of sections are no formulas
        **{f"{axis}.color": colours["quiet"] for axis in ("xtick", "ytick")},
        "axes.labelcolor": colours["quiet"],
    }
    # Letters that the font lacks become boxes; there is nobody to tell.
    with mpl.rc_context(style), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        figure = Figure(figsize=_INCHES, dpi=_DOTS, layout="constrained")
        figure.suptitle(printable(shown.title), fontsize=12, fontweight="bold")
        grid = figure.add_gridspec(3, 2, width_ratios=(3, 1), height_ratios=(5, 5, 5))
        if shown.tightened:
            first = figure.add_subplot(grid[0, :])
            second = figure.add_subplot(grid[1, :], sharex=first, sharey=first)
            _deviations(first, shown, shown.before, "before")
            _deviations(second, shown, shown.after, "after")
        else:
            _deviations(figure.add_subplot(grid[:2, :]), shown, shown.before, "as played")
        _habit(figure.add_subplot(grid[2, 0]), shown)
        _evenness(figure.add_subplot(grid[2, 1]), shown)
        drawn = io.BytesIO()
        kind = path.suffix.lower()[1:]
        # Neither a date nor the drawing library's version makes two pictures differ.
        blank = {"Date": None, "Creator": None} if kind == "svg" else {"Software": None}
        figure.savefig(drawn, format=kind, metadata=blank)
    return drawn.getvalue()


def _deviations(axes: Any, shown: Shown, ms: Any, title: str) -> None:
    """Anchors against their lines over the bars, with the sections."""
    colours = page_colours()
    axes.axhline(0, color=colours["edge"], linewidth=1)
    begin, end = float(shown.first_bar.min()), float(max([*shown.bar, *shown.first_bar])) + 1
    axes.set_xlim(begin, end)
    last = end
    # From the end, so that of two labels that have no room the longer section keeps its own.
    for bar, label in reversed([*zip(shown.first_bar, shown.label, strict=True)]):
        axes.axvline(bar, color=colours["grid"], linewidth=1, zorder=0)
        if last - bar < _LABEL_ROOM * (end - begin):
            continue
        last = bar
        axes.annotate(
            printable(label)[:16], (bar, 1), xycoords=("data", "axes fraction"),
            xytext=(3, -10), textcoords="offset points", fontsize=8, color=colours["quiet"],
        )  # fmt: skip
    for name, colour, mark, pieces in _families(shown):
        here = np.isin(shown.piece, pieces)
        axes.scatter(
            shown.bar[here], ms[here], s=12, marker=mark, color=colours[colour], label=name,
            linewidths=0, rasterized=len(ms) > _MOST_SHAPES,
        )  # fmt: skip
    spread = f", spread {ms.std():.1f} ms" if len(ms) else ""
    axes.set_title(f"kicks and snares from their lines, {title}{spread}", loc="left", fontsize=9)
    both = np.abs(np.concatenate([shown.before, shown.after[np.isfinite(shown.after)]]))
    most = max(_LEAST_MS, 1.1 * float(both.max(initial=0)))
    axes.set(xlabel="bar", ylabel="ms, minus is early", ylim=(-most, most))
    axes.grid(axis="y", color=colours["grid"], linewidth=0.5)
    if len(ms):
        _legend(axes, len(_FAMILIES) + 1)


def _legend(axes: Any, columns: int) -> None:
    """Above the frame, on the right."""
    axes.legend(
        loc="lower right", bbox_to_anchor=(1, 1), ncols=columns, frameon=False, fontsize=8,
        borderaxespad=0, borderpad=0.2, handletextpad=0.3, columnspacing=1.0, handlelength=1.2,
    )  # fmt: skip


def _families(shown: Shown) -> list[tuple[str, str, str, tuple[str, ...]]]:
    """The families of pieces that occur, what belongs to none of them last."""
    known = [name for *_, pieces in _FAMILIES for name in pieces]
    rest = tuple(sorted({*map(str, shown.piece)} - {*known}))
    every = [*_FAMILIES, ("other pieces", "other", "P", rest)]
    return [one for one in every if np.isin(shown.piece, one[3]).any()]


def _habit(axes: Any, shown: Shown) -> None:
    """The table of places and pieces: blue is early, red late, as deep as it is far."""
    from matplotlib.colors import LinearSegmentedColormap

    colours, habits = page_colours(), shown.habits
    axes.set_title("habit: ms from the line, by beat of the bar", loc="left", fontsize=9)
    if habits is None:
        _nothing(axes, "too few hits on lines to tell")
        return
    scale = LinearSegmentedColormap.from_list(
        "early to late", [colours["kick"], colours["paper"], colours["snare"]]
    )
    scale.set_bad(colours["card"])
    axes.imshow(habits.ms, cmap=scale, vmin=-_FULL_MS, vmax=_FULL_MS, aspect="auto")
    for row, column in np.argwhere(np.isfinite(habits.ms)):
        ms = float(habits.ms[row, column])
        axes.text(
            column, row, f"{ms:+.0f}" if round(ms) else "0", ha="center", va="center", fontsize=8,
            color=colours["paper"] if _deep(ms) else colours["ink"],
        )  # fmt: skip
    axes.set_xticks(range(len(habits.beat)), [f"{beat:.4g}" for beat in habits.beat])
    axes.set_yticks(range(len(habits.piece)), [printable(str(one)) for one in habits.piece])
    axes.tick_params(length=0)


def _deep(ms: float) -> bool:
    """Whether the ground is so dark that white is read better on it."""
    return abs(ms) > 0.75 * _FULL_MS


def _evenness(axes: Any, shown: Shown) -> None:
    """How far the timekeeper's intervals scatter in each section."""
    colours = page_colours()
    names = sorted({one.piece for one in shown.even})
    axes.set_title(f"evenness: {', '.join(names) or 'hats'}", loc="left", fontsize=9)
    if not shown.even:
        _nothing(axes, "no timekeeper with enough hits")
        return
    rows = np.arange(len(shown.even))
    before = np.array([one.before for one in shown.even])
    after = np.array([one.after for one in shown.even])
    told: Bools = np.isfinite(after)
    high = 0.4 if told.any() else 0.7
    axes.barh(rows - 0.2 * told.any(), before, high, color=colours["before"], label="before")
    if told.any():
        axes.barh(rows[told] + 0.2, after[told], high, color=colours["after"], label="after")
        _legend(axes, 2)
    axes.set_yticks(rows, [printable(one.section)[:16] for one in shown.even])
    axes.set_ylim(max(len(rows), _LEAST_ROWS) - 0.4, -0.6)
    axes.set_xlabel("intervals scatter by, ms")


def _nothing(axes: Any, why: str) -> None:
    axes.set_axis_off()
    axes.text(0, 0.9, why, transform=axes.transAxes, va="top")
