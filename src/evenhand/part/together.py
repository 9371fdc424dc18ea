"""How a take and a part sit together: who leads, by how much, how surely, and how it runs.

The measure is the asynchrony of two onsets that are meant to be one: where the take strikes a line
on which the part has an onset too, the time of the hit minus that of the onset, ms; minus where the
take is ahead. Middles are medians; their doubt is twice the standard error of a median of a bell
(1.2533 spread / sqrt(n)), with the robust spread. What is known of ensembles to read it against: a
displacement of one instrument is plainly heard from 19 to 24 ms on (preprint
doi 10.31234/osf.io/jsg94); listeners prefer ensembles with less than 19 ms (Hofmann, Wesolowski &
Goebl 2017, J. New Music Research 46(4), 329-341).
"""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints
from evenhand.ground import Ground
from evenhand.kit import GHOST, GRACE
from evenhand.measure import Measured, Trend, find_trend
from evenhand.part.onsets import Placed

#: The median absolute deviation of a bell times this is its standard deviation: 1 / Φ⁻¹(3/4).
_BELL = 1.4826
#: Of a median of a bell, its standard error times sqrt(n) / spread: sqrt(pi / 2).
_MEDIAN = 1.2533
#: From here on an asynchrony is plainly heard, ms (see above).
HEARD_MS = 19.0
#: Fewest pairs that tell who leads.
FEWEST = 6

TAKE, PART, NEITHER = "the take", "the part", "neither"


@dataclass(frozen=True)
class Sitting:
    """How some hits sit against the part.

    Attributes
    ----------
    pairs : int
        Hits that share a line with an onset.
    ms : float
        Their middle asynchrony; minus where the take is ahead. NaN without any.
    spread : float
        Of the asynchronies, ms.
    doubt : float
        How far the middle may be off, ms; infinite with too few pairs.
    """

    pairs: int
    ms: float
    spread: float
    doubt: float

    @property
    def leader(self) -> str:
        """Who is ahead: `TAKE`, `PART`, or `NEITHER` where that can't be told."""
        if not abs(self.ms) > self.doubt:
            return NEITHER
        return TAKE if self.ms < 0 else PART


@dataclass(frozen=True, eq=False)
class Together:
    """How a take and a part sit together.

    Attributes
    ----------
    name : str
        Of the part.
    onsets : int
        How many it has on the take's lines.
    whole : Sitting
    pieces : dict of str to Sitting
        Most pairs first.
    places : dict of (str, float) to Sitting
        By piece and beat of the bar.
    sections : dict of str to Sitting
    heard : float
        Share of the pairs that are apart by what is plainly heard, percent.
    trend : Trend, optional
        How the asynchrony runs over the song, where it surely does.
    """

    name: str
    onsets: int
    whole: Sitting
    pieces: dict[str, Sitting]
    places: dict[tuple[str, float], Sitting]
    sections: dict[str, Sitting]
    heard: float
    trend: Trend | None


def sit_together(ground: Ground, measured: Measured, placed: Placed) -> Together:
    """Measure a take against a part.

    Parameters
    ----------
    ground : Ground
    measured : Measured
        Its hits against their lines.
    placed : Placed
        The part on the same lines.
    """
    hits = ground.hits
    index = _onset_of(measured.line, placed)
    told = measured.lined & (index >= 0) & ~np.isin(hits.role, (GHOST, GRACE))
    pair = np.flatnonzero(told)
    apart = measured.off[pair] - placed.off[index[pair]]
    piece, line = hits.piece[pair], measured.line[pair]
    _, beat = ground.time.place(line)
    labels = np.array(ground.layout.sections.labels)[measured.section[pair]]
    names = _most_first(piece)
    return Together(
        name=placed.name,
        onsets=len(placed),
        whole=sitting(apart),
        pieces={name: sitting(apart[piece == name]) for name in names},
        places={
            (name, float(one)): sitting(apart[(piece == name) & (beat == one)])
            for name in names
            for one in np.unique(beat[piece == name])
        },
        sections={
            str(name): sitting(apart[labels == name])
            for name in dict.fromkeys(ground.layout.sections.labels)
            if (labels == name).any()
        },
        heard=float(100 * np.mean(np.abs(apart) >= HEARD_MS)) if len(apart) else 0.0,
        trend=find_trend(measured.bar[pair], apart),
    )


def sitting(apart: Floats) -> Sitting:
    """Sum up asynchronies in ms.

    Parameters
    ----------
    apart : float64 array, shape (n,)
        How far each is behind the other, ms.
    """
    if not len(apart):
        nan = float("nan")
        return Sitting(0, nan, nan, float("inf"))
    middle = float(np.median(apart))
    spread = float(_BELL * np.median(np.abs(apart - middle)))
    few = len(apart) < FEWEST
    doubt = float("inf") if few else 2 * _MEDIAN * spread / float(np.sqrt(len(apart)))
    return Sitting(len(apart), middle, spread, doubt)


def _onset_of(line: Floats, placed: Placed) -> Ints:
    """The onset on each line; -1 for none."""
    index = np.clip(np.searchsorted(placed.line, line - 1e-3), 0, len(placed) - 1)
    there: Bools = np.abs(placed.line[index] - line) <= 1e-3
    return np.where(there, index, -1)


def _most_first(piece: np.ndarray[tuple[int, ...], np.dtype[np.str_]]) -> list[str]:
    names, counts = np.unique(piece, return_counts=True)
    return [str(names[index]) for index in np.lexsort((names, -counts))]
