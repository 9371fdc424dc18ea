"""The page's data: everything it shows and plays, as one JSON object.

Nothing here is laid out or worded for the screen but sentences; names from files are plain values
that the page's scripts write as text. `result_data` is what changes when a setting does,
`take_data` and `page_sounds` what doesn't.
"""

import hashlib
import shlex
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from evenhand import __version__
from evenhand.columns import Floats, Phrases, Words
from evenhand.listen.band import read_band
from evenhand.listen.fields import fields_data
from evenhand.listen.kept_words import what_was_kept
from evenhand.listen.pair import BeforeAfter
from evenhand.listen.sentence import in_one_sentence
from evenhand.listen.shown_sections import read_pace, read_sections
from evenhand.listen.sounds import sounds_data
from evenhand.outcome import take_figures
from evenhand.paper import meter_words, tempo_words
from evenhand.recipe import SETTINGS, Recipe, named_files, with_files
from evenhand.sound import beats_of, score_of
from evenhand.take import Take

#: Room behind the last hit for its sound, ms.
_TAIL_MS = 2000.0

#: Hits of a flag that the page is told; it shows the first.
_MOST_HITS = 50

#: What a recipe has any number of.
_TABLES = ("section", "hold", "nudge")


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
    comparison: BeforeAfter,
    names: Names,
    folder: Path | None = None,
    passes: Sequence[dict[str, Any]] = (),
) -> dict[str, Any]:
    """Collect the data of a page.

    Parameters
    ----------
    comparison : BeforeAfter
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
    return {
        **take_data(comparison, names),
        **page_sounds(comparison, folder),
        **result_data(comparison),
        "passes": list(passes),
        "command": _command(names, comparison.result.recipe),
    }


def take_data(comparison: BeforeAfter, names: Names) -> dict[str, Any]:
    """What is on the page whatever the settings, but its sounds."""
    result = comparison.result
    return {
        "evenhand": __version__,
        "name": Path(names.before).name,
        "after_name": Path(names.after).name,
        "note": comparison.note,
        "hash": hashlib.sha256(result.before.to_bytes()).hexdigest(),
        "fields": fields_data(),
    }


def page_sounds(comparison: BeforeAfter, folder: Path | None = None) -> dict[str, Any]:
    """What the page plays, whatever the settings.

    Parameters
    ----------
    comparison : BeforeAfter
    folder : Path, optional
        The user's own one-shots.

    Raises
    ------
    DiskError, SettingError
        If a sample can't be read.
    """
    hits = comparison.changes.hits
    return sounds_data(score_of(hits, hits.ms, comparison.result.kit).voices, folder)


def result_data(comparison: BeforeAfter) -> dict[str, Any]:
    """What a change of settings can change."""
    result, changes = comparison.result, comparison.changes
    hits, take = changes.hits, result.before
    music_ms = max(float(changes.ms_after.max()), float(hits.ms.max()))
    end_ms = max(music_ms + _TAIL_MS, float(take.tempo.to_ms(take.end)))
    beats, bars, first = beats_of(take, end_ms)
    score = score_of(hits, hits.ms, result.kit)
    voice = np.empty(len(hits), np.int64)
    voice[score.hit] = score.voice
    return {
        "facts": f"{meter_words(take.meter)}, {tempo_words(take.tempo)}{_around(result.recipe)}",
        "sentence": in_one_sentence(comparison),
        "end_ms": round(end_ms, 3),
        "music_ms": round(music_ms, 3),
        "hits": {
            "before": _short(hits.ms),
            "after": _short(changes.ms_after),
            "deviation_before": _short(comparison.deviation_before),
            "deviation_after": _short(comparison.deviation_after),
            "lined": (~np.isnan(changes.line)).astype(int).tolist(),
            "bar": changes.bar.tolist(),
            "beat": _short(changes.beat),
            "at": comparison.places,
            "velocity": hits.velocity.tolist(),
            "note": hits.note.tolist(),
            "voice": voice.tolist(),
            **_coded("piece", hits.piece),
            **_coded("role", hits.role),
            **_coded("action", changes.action),
            **_coded("reason", changes.reason),
        },
        "beats": {"ms": _short(beats), "bar": bars.tolist(), "first": first.astype(int).tolist()},
        "band": dict(zip(("ms", "low", "high"), map(_short, read_band(comparison)), strict=True)),
        "sections": [_rounded(asdict(one)) for one in read_sections(comparison, end_ms)],
        "pace": dict(
            zip(("ms", "before", "after"), map(_short, read_pace(comparison)), strict=True)
        ),
        "tightness": _tightness(comparison),
        "flags": _flags(comparison),
        "kept": what_was_kept(comparison),
        "fills": _stretches(take, result.ground.fills.begin, result.ground.fills.end),
        "pushes": _pushes(comparison),
        "own": own_settings(result.recipe),
    }


def _around(recipe: Recipe) -> str:
    """The files around the take, in words."""
    words = {"song": "on the map of", "against": "with", "habit_from": "towards"}
    files = named_files(recipe)
    return "".join(f", {words[name]} {Path(files[name]).name}" for name in files)


def empty_page_data(take: Take, name: str) -> dict[str, Any]:
    """The data of a page for a take without hits: it says so, and that is all."""
    facts = f"{meter_words(take.meter)}, {tempo_words(take.tempo)}"
    return {"evenhand": __version__, "name": Path(name).name, "facts": facts, "hits": None}


def own_settings(recipe: Recipe) -> dict[str, Any]:
    """What a recipe says that is not the usual, in plain values, as the page builds on it.

    Files are left out: they are named relative to their recipe, so they are given in the command.

    Examples
    --------
    >>> own_settings(Recipe(strength=60, hold=("17:4",)))
    {'defaults': {'strength': 60.0}, 'sections': [], 'holds': ['17:4'], 'nudges': []}
    """
    usual, settings = Recipe().settings(), recipe.settings()
    defaults = {
        name: list(value) if isinstance(value, tuple) else value
        for name, value in settings.items()
        if name not in _TABLES and value is not None and value != usual[name]
    }
    if str(defaults.get("kit", "")).endswith(".toml"):
        del defaults["kit"]
    for name in named_files(recipe):
        del defaults[name]
    tables = {f"{name}s": list(settings[name]) for name in _TABLES}
    return {"defaults": defaults, **tables}


def _short(values: Floats | list[float]) -> list[float]:
    short: list[float] = (np.round(values, 3) + 0.0).tolist()
    return short


def _rounded(table: dict[str, Any]) -> dict[str, Any]:
    return {
        name: round(value, 3) if isinstance(value, float) else value
        for name, value in table.items()
    }


def _coded(name: str, words: Words | Phrases) -> dict[str, list[Any]]:
    """A column of words as the list of words and an index for each hit."""
    # Few words many times: counting them off is quicker than NumPy's sorting of all.
    column = words.tolist()
    each = sorted(set(column))
    number = {word: index for index, word in enumerate(each)}
    return {name: [number[word] for word in column], f"{name}s": each}


def _stretches(take: Take, begin: Floats, end: Floats) -> list[list[float]]:
    columns = (_short(take.tempo.to_ms(ticks)) for ticks in (begin, end))
    return [list(pair) for pair in zip(*columns, strict=True)]


def _pushes(comparison: BeforeAfter) -> list[dict[str, float]]:
    """Bars that ran ahead or behind as a whole: from their first hit to their last, and how far."""
    habit = comparison.result.plan.habit
    if habit is None or comparison.note:
        return []
    ms, of_hit = comparison.changes.hits.ms, habit.pushed.of_hit
    found = []
    for number, (far, shift) in enumerate(zip(habit.pushed.ms, habit.pushed.shift, strict=True)):
        mine = ms[of_hit == number]
        if len(mine):
            one = {"from_ms": mine.min(), "to_ms": mine.max(), "ms": far, "shift": shift}
            found.append(_rounded({name: float(value) for name, value in one.items()}))
    return found


def _tightness(comparison: BeforeAfter) -> list[dict[str, Any]]:
    """How the anchors stand to their lines, as in the summary: all, then per piece."""
    result = comparison.result
    figures = take_figures(comparison.changes, result.ground, result.plan, {})
    return [
        {"name": name, **_rounded(asdict(one))}
        for name, one in figures.tightness.items()
        if one.hits
    ]


def _flags(comparison: BeforeAfter) -> list[dict[str, Any]]:
    """The flags; `ms` is the time of the place, so that an early hit belongs to what it begins.

    `key` names a flag from run to run, as long as it is the same kind at the same hit.
    """
    take = comparison.result.before
    return [
        {
            "key": f"{flag.kind} {flag.place} {flag.hits[0]}",
            "kind": flag.kind,
            "place": str(flag.place),
            "hits": [hit - 1 for hit in flag.hits[:_MOST_HITS]],
            "ms": round(float(take.tempo.to_ms(take.meter.to_tick(flag.place))), 3),
            "text": flag.text,
        }
        for flag in comparison.flags
    ]


def _command(names: Names, used: Recipe) -> dict[str, str]:
    """The line that makes the take and the page again with the page's recipe, from any folder."""
    take = Path(names.before)
    recipe = f"{take.stem or 'take'}.recipe.toml"

    def word(text: str) -> str:
        return shlex.quote(f"./{text}" if text.startswith("-") else text)

    given = [word(take.name), "--recipe", word(recipe)]
    given += ["--kit", word(str(Path(names.kit).resolve()))] if names.kit else []
    there = {name: str(Path(file).resolve()) for name, file in named_files(used).items()}
    for name in there:
        given += [SETTINGS[name].option, word(getattr(with_files(used, there), name))]
    given.append("--overwrite")
    words = ["cd", word(str(take.parent.resolve())), "&&", "evenhand tighten", *given]
    words += ["&&", "evenhand listen", *given]
    return {"recipe_file": recipe, "text": " ".join(words)}
