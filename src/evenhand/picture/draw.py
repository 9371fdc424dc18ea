"""Drawing a sheet with matplotlib, which is imported here and nowhere else."""

import io
from typing import TYPE_CHECKING, Any

import numpy as np

from evenhand.columns import Bools, Floats
from evenhand.errors import SettingError
from evenhand.picture.colours import AFTER, BEFORE, FAMILIES, GRID, INK, QUIET, family_of
from evenhand.picture.overview import Overview, Table

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: How a picture's name may end.
FORMATS = (".png", ".svg")

_SIZE_IN, _DPI = (12.0, 8.0), 120
# Deviations are drawn up to this percentile, and never to less than so many ms.
_SHOWN, _LEAST_MS = 99.5, 30.0
# Names of sections that begin closer than this share of the take would lie over each other.
_NAME_ROOM = 0.03
# A cell of the table is fully tinted from here on, ms.
_FULL_MS = 30.0
_STYLE: Any = {
    "font.family": "sans-serif",
    "font.size": 9.0,
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "text.color": INK,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "axes.grid": True,
    "grid.color": GRID,
    "axes.axisbelow": True,
    # The same picture, the same bytes.
    "svg.hashsalt": "evenhand",
}


def draw(sheet: Overview, ending: str) -> bytes:
    """Draw a sheet.

    Parameters
    ----------
    sheet : Overview
    ending : str
        One of `FORMATS`.

    Returns
    -------
    bytes
        Of the file.

    Raises
    ------
    SettingError
        If matplotlib is not installed, or the ending is another.
    """
    if ending not in FORMATS:
        raise SettingError(
            f"a picture ends in {' or '.join(FORMATS)}, not in {ending or 'nothing'}"
        )
    try:
        import matplotlib as mpl
        from matplotlib.figure import Figure
    except ImportError:
        raise SettingError(
            "pictures need matplotlib; install it with: pip install 'evenhand[picture]'"
        ) from None
    with mpl.rc_context(_STYLE):
        figure = Figure(figsize=_SIZE_IN, dpi=_DPI, layout="constrained")
        grid = figure.add_gridspec(2, 2, height_ratios=(3, 2), width_ratios=(3, 2))
        _deviations(figure.add_subplot(grid[0, :]), sheet)
        _habit(figure.add_subplot(grid[1, 0]), sheet.table)
        _evenness(figure.add_subplot(grid[1, 1]), sheet)
        figure.suptitle(_plain(sheet.title), x=0.01, ha="left", fontsize=12, fontweight="bold")
        out = io.BytesIO()
        # No date and no version: the same picture, the same bytes.
        nothing = {"Date": None, "Creator": None} if ending == ".svg" else {"Software": None}
        figure.savefig(out, format=ending[1:], metadata=nothing)
    return out.getvalue()


def _plain(text: str) -> str:
    """Text from a file as it stands: a dollar sign would begin a formula."""
    return "".join(char if char.isprintable() else "·" for char in text).replace("$", r"\$")


def _deviations(axes: "Axes", sheet: Overview) -> None:
    axes.set_title("from the line, ms: late is up, early is down", loc="left", fontsize=9)
    family = np.array([family_of(one) for one in sheet.piece.tolist()], np.int64)
    for index, (name, colour, mark, _) in enumerate(FAMILIES):
        mine = family == index
        if not mine.any():
            continue
        # Of shapes that can't be hollow, those before the pass are told by their colour.
        hollow = {"c": BEFORE} if mark in "x+" else {"facecolors": "none", "edgecolors": BEFORE}
        for some, faint in ((mine & ~sheet.leads, 0.35), (mine & sheet.leads, 0.95)):
            moved = some & (sheet.before != sheet.after)
            if moved.any():
                _marks(axes, sheet, moved, sheet.before, marker=mark, alpha=0.5 * faint, **hollow)
            _marks(axes, sheet, some, sheet.after, marker=mark, alpha=faint, c=colour)
        axes.scatter([], [], marker=mark, c=colour, s=14, label=name)
    axes.axhline(0, color=INK, linewidth=0.8)
    named = -np.inf
    room = _NAME_ROOM * float(np.ptp(sheet.bar)) if len(sheet.bar) else 0.0
    for begin, name in sheet.section:
        axes.axvline(begin, color=QUIET, linewidth=0.8, linestyle=":")
        if begin - named < room:
            continue
        named = begin
        axes.annotate(
            _plain(name),
            (begin, 0),
            (3, 3),
            xycoords=("data", "axes fraction"),
            textcoords="offset points",
            color=QUIET,
            fontsize=8,
        )
    both = np.abs(np.concatenate([sheet.before, sheet.after]))
    most = max(_LEAST_MS, 1.1 * float(np.percentile(both, _SHOWN))) if len(both) else _LEAST_MS
    axes.set_ylim(-most, most)
    if len(sheet.bar):
        axes.set_xlim(np.floor(sheet.bar.min()) - 0.2, np.ceil(sheet.bar.max()) + 0.2)
    axes.set_xlabel("bar")
    if len(sheet.bar):
        axes.legend(loc="upper right", ncols=len(FAMILIES) + 1, frameon=False, fontsize=8)


def _marks(axes: "Axes", sheet: Overview, some: Bools, ms: Floats, **how: Any) -> None:
    if some.any():
        axes.scatter(sheet.bar[some], ms[some], s=14, linewidths=0.8, **how)


def _habit(axes: "Axes", table: Table) -> None:
    axes.set_title("where pieces usually lie: ms by the beat of the bar", loc="left", fontsize=9)
    axes.grid(visible=False)
    for side in axes.spines.values():
        side.set_visible(False)
    if not table.piece:
        axes.set_axis_off()
        axes.text(0, 0.5, "too few hits on lines to tell a habit", transform=axes.transAxes)
        return
    tint = np.clip(np.nan_to_num(table.ms) / _FULL_MS, -1, 1)
    axes.imshow(tint, cmap=_tints(), vmin=-1, vmax=1, aspect="auto")
    for row, column in zip(*np.nonzero(~np.isnan(table.ms)), strict=True):
        rounded = round(float(table.ms[row, column]))
        text = f"{rounded:+d}" if rounded else "0"
        rare = table.count[row, column] < 4
        axes.text(
            column, row, text, ha="center", va="center", fontsize=8, color=QUIET if rare else INK
        )
    axes.set_xticks(range(len(table.beat)), [f"{one:.4g}" for one in table.beat], rotation=60)
    axes.set_yticks(range(len(table.piece)), table.piece)
    axes.tick_params(length=0)


def _tints() -> Any:
    from matplotlib.colors import LinearSegmentedColormap

    # Early is blue, late is orange, as light as a table needs it.
    return LinearSegmentedColormap.from_list("early to late", ["#9fc9e6", "#ffffff", "#f3b98a"])


def _evenness(axes: "Axes", sheet: Overview) -> None:
    axes.set_title("how far timekeepers lie off their neighbours, ms", loc="left", fontsize=9)
    if not len(sheet.even_bar):
        axes.set_axis_off()
        axes.text(0, 0.5, "nothing keeps time here", transform=axes.transAxes)
        return
    if sheet.passed:
        axes.plot(sheet.even_bar, sheet.even_before, color=BEFORE, linewidth=1, label="before")
    axes.plot(
        sheet.even_bar,
        sheet.even_after,
        color=AFTER,
        linewidth=1,
        label="after" if sheet.passed else None,
    )
    axes.set_ylim(bottom=0)
    axes.set_xlabel(f"bar ({sheet.even})" if sheet.even else "bar")
    if sheet.passed:
        axes.legend(loc="upper right", frameon=False, fontsize=8)
