"""The page's data: everything it shows and plays, as one JSON object.

Nothing here is laid out or worded for the screen but sentences; names from files are plain values
that the page's scripts write as text.
"""

import base64
import math
import shlex
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from evenhand import __version__
from evenhand.columns import Floats, Words
from evenhand.listen.kept_words import what_was_kept
from evenhand.listen.pair import Comparison
from evenhand.listen.recipe_text import defaults_toml, section_tables
from evenhand.listen.stretches import read_pace, read_sections, read_windows
from evenhand.outcome import take_figures
from evenhand.paper import meter_words, tempo_words
from evenhand.recipe import Recipe
from evenhand.sound import (
    CHOKED,
    OneShot,
    beats_of,
    brightness_step,
    click_samples,
    cutoff_hz,
    load_samples,
    loudness,
    score_of,
)
from evenhand.take import Take

#: Room behind the last hit for its sound, ms.
_TAIL_MS = 2000.0

#: Hits of a flag that the page is told; it shows the first.
_MOST_HITS = 50

#: Settings of a section that the page can ask for, once a recipe knows sections.
_SECTION_KEYS = ("strength", "window", "lean")


@dataclass(frozen=True)
class Names:
    """What the files are called on the page, and in the command it shows.

    Attributes
    ----------
    before : str
        The take.
    after : str
        The second file; empty if the take was tightened for the page.
    kit : str
        The kit file, as on the command line; empty for a map that comes with evenhand.
    """

    before: str
    after: str = ""
    kit: str = ""


def page_data(
    comparison: Comparison,
    names: Names,
    folder: Path | None = None,
    passes: Sequence[dict[str, Any]] = (),
) -> dict[str, Any]:
    """Collect the data of a page.

    Parameters
    ----------
    comparison : Comparison
    names : Names
    folder : Path, optional
        The user's own one-shots.
    passes : sequence of dict
        Earlier passes over this take, newest last: `text` and whatever else was recorded.

    Raises
    ------
    MidiFileError, DiskError, SettingError
        If the take is too long to be listened to, or a sample can't be read.
    """
    result, changes = comparison.result, comparison.changes
    hits, take = changes.hits, result.before
    last = max(float(changes.ms_after.max()), float(hits.ms.max())) + _TAIL_MS
    end_ms = max(last, float(take.tempo.to_ms(take.end)))
    beats, bars, first = beats_of(take, end_ms)
    score = score_of(hits, hits.ms, result.kit)
    samples, borrowed = load_samples(score.voices, folder)
    voice = np.empty(len(hits), np.int64)
    voice[score.hit] = score.voice
    pace = read_pace(comparison)
    return {
        "evenhand": __version__,
        "name": Path(names.before).name,
        "after_name": Path(names.after).name,
        "facts": f"{meter_words(take.meter)}, {tempo_words(take.tempo)}",
        "note": comparison.note,
        "end_ms": round(end_ms, 3),
        "hits": {
            "before": _short(hits.ms),
            "after": _short(changes.ms_after),
            "deviation_before": _short(comparison.deviation_before),
            "deviation_after": _short(comparison.deviation_after),
            "lined": (~np.isnan(changes.line)).astype(int).tolist(),
            "bar": changes.bar.tolist(),
            "beat": _short(changes.beat),
            "at": _places(comparison),
            "velocity": hits.velocity.tolist(),
            "note": hits.note.tolist(),
            "voice": voice.tolist(),
            **_coded("piece", hits.piece),
            **_coded("role", hits.role),
            **_coded("action", changes.action),
            **_coded("reason", changes.reason),
        },
        "beats": {"ms": _short(beats), "bar": bars.tolist(), "first": first.astype(int).tolist()},
        "window": [[round(value, 3) for value in run] for run in read_windows(comparison)],
        "sections": [asdict(section) for section in read_sections(comparison, end_ms)],
        "pace": dict(zip(("ms", "before", "after"), map(_short, map(np.array, pace)), strict=True)),
        "tightness": _tightness(comparison),
        "flags": _flags(comparison),
        "kept": what_was_kept(comparison),
        "passes": list(passes),
        "recipe": defaults_toml(result.recipe),
        "own_sections": section_tables(result.recipe),
        "holds": list(result.recipe.hold),
        "own_nudges": list(result.recipe.settings()["nudge"]),
        "supports": _supports(result.recipe),
        "command": _command(names),
        "voices": [_embedded(name, samples[name]) for name in score.voices],
        "choked": [index for index, name in enumerate(score.voices) if name in CHOKED],
        "borrowed": borrowed,
        "click": [_embedded(name, shot) for name, shot in click_samples().items()],
        "touch": _touch(),
    }


def empty_page_data(take: Take, name: str) -> dict[str, Any]:
    """The data of a page for a take without hits: it says so, and that is all."""
    facts = f"{meter_words(take.meter)}, {tempo_words(take.tempo)}"
    return {"evenhand": __version__, "name": Path(name).name, "facts": facts, "hits": None}


def _short(values: Floats) -> list[float]:
    short: list[float] = (np.round(values, 3) + 0.0).tolist()
    return short


def _coded(name: str, words: Words) -> dict[str, list[Any]]:
    """A column of words as the list of words and an index for each hit."""
    each, index = np.unique(words, return_inverse=True)
    return {name: index.tolist(), f"{name}s": each.tolist()}


def _places(comparison: Comparison) -> list[str]:
    """The position that names each hit in a recipe: its line's, or its own."""
    result = comparison.result
    lined = ~np.isnan(comparison.changes.line)
    tick = np.where(lined, comparison.changes.line, result.tick)
    bar, beat = result.before.meter.place(np.maximum(tick, 0.0))
    columns = zip(bar.tolist(), beat.tolist(), strict=True)
    return [f"{one}:{other:.3f}".rstrip("0").rstrip(".") for one, other in columns]


def _tightness(comparison: Comparison) -> list[dict[str, Any]]:
    """How the anchors stand to their lines, as in the summary: all, then per piece."""
    result = comparison.result
    figures = take_figures(comparison.changes, result.ground, result.plan, {})
    return [
        {"name": name, **{key: round(value, 3) for key, value in asdict(one).items()}}
        for name, one in figures.tightness.items()
        if one.hits
    ]


def _flags(comparison: Comparison) -> list[dict[str, Any]]:
    """The flags; `ms` is the time of the place, so that an early hit belongs to what it begins."""
    take = comparison.result.before
    return [
        {
            "kind": flag.kind,
            "place": str(flag.place),
            "hits": [hit - 1 for hit in flag.hits[:_MOST_HITS]],
            "ms": round(float(take.tempo.to_ms(take.meter.to_tick(flag.place))), 3),
            "text": flag.text,
        }
        for flag in comparison.flags
    ]


def _supports(recipe: Recipe) -> dict[str, Any]:
    """What the installed evenhand accepts in a recipe, so that the page offers nothing else."""
    known = recipe.settings()
    return {
        "hold": "hold" in known,
        "nudge": "nudge" in known,
        "section": [key for key in _SECTION_KEYS if key in known] if "section" in known else [],
        "defaults": [key for key in _SECTION_KEYS if key in known],
    }


def _command(names: Names) -> dict[str, str]:
    """The command that runs the take again with the page's recipe."""
    stem = Path(names.before).stem or "take"
    recipe = f"{stem}-listen.toml"

    def word(text: str) -> str:
        return shlex.quote(f"./{text}" if text.startswith("-") else text)

    parts = ["evenhand tighten", word(names.before), "--recipe", word(recipe)]
    parts += ["--kit", word(names.kit)] if names.kit else []
    return {"recipe_file": recipe, "text": " ".join([*parts, "--overwrite"])}


def _embedded(name: str, shot: OneShot) -> dict[str, Any]:
    """A sample as 16-bit numbers, little end first, in base64; times `peak` it is itself again.

    Plain numbers and no audio file: they need no decoder, so each browser plays the same samples,
    and starts them where they start.
    """
    peak = float(np.abs(shot.signal).max()) or 1.0
    numbers = np.rint(shot.signal / peak * 32767).astype("<i2")
    coded = base64.b64encode(numbers.tobytes()).decode("ascii")
    return {"name": name, "rate": shot.rate, "peak": round(peak, 6), "pcm": coded}


def _touch() -> dict[str, Any]:
    """What velocity does: amplitude and cut-off (null: open) for each velocity from 0."""
    cutoffs = [cutoff_hz(int(step)) for step in brightness_step(np.arange(128))]
    return {
        "gain": np.round(loudness(np.arange(128)), 6).tolist(),
        "cutoff": [None if math.isinf(hertz) else round(hertz, 2) for hertz in cutoffs],
    }
