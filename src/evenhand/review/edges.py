"""What a session is given of the world outside, and what it hands back.

Light to import: the page is served before anything is worked out.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evenhand.errors import DiskError

if TYPE_CHECKING:
    from evenhand.tightener import Result


@dataclass(frozen=True)
class KeptPass:
    """What came of keeping: sentences for the page, and the passes as it lists them."""

    text: str
    passes: tuple[dict[str, Any], ...]


class ExistsError(DiskError):
    """Keeping would replace files that this review did not write; the page asks first."""


@dataclass(frozen=True)
class SoundFile:
    """A sound file of the page.

    Attributes
    ----------
    path : Path
    offset_ms : float
        Where the take begins in it.
    """

    path: Path
    offset_ms: float


@dataclass(frozen=True)
class DecisionFiles:
    """Where the decisions are written: the recipe, and what was said of the flags."""

    recipe: Path
    marks: Path


@dataclass(frozen=True)
class Edges:
    """What a session is given of the world outside.

    Attributes
    ----------
    keep : callable
        Writes the tightened take, its change log and a pass: a result, and whether files may be
        replaced, in, `KeptPass` out.
    passes : tuple of dict
        Those on record.
    samples : Path, optional
        The user's own one-shots.
    sounds : mapping of str to SoundFile
        `audio`, the take as recorded, and `backing`, the rest of the song.
    """

    keep: "Callable[[Result, bool], KeptPass]"
    passes: tuple[dict[str, Any], ...] = ()
    samples: Path | None = None
    sounds: Mapping[str, SoundFile] = field(default_factory=dict)
