"""What was done, in words: the page for the terminal, the report, the JSON."""

from typing import Any

import numpy as np

from evenhand import __version__
from evenhand.jobs.triggers.clean import REASONS
from evenhand.jobs.triggers.hit_tables import counts_by
from evenhand.jobs.triggers.make_ready import PRESSURE_STAYS, Prepared
from evenhand.paper import (
    Facts,
    Page,
    Table,
    counted,
    many,
    meter_words,
    printable,
    tempo_words,
    whole_part,
)

#: Removed hits shown one by one; the others are counted (and all are in removed.csv).
SHOWN = 12

_LIST = ["hit", "place", "piece", "reason", "why"]


def page(prepared: Prepared, written: list[str]) -> Page:
    """Put what was found and done on a page.

    Parameters
    ----------
    prepared : Prepared
    written : list of str
        What was written, for the last lines.
    """
    return Page(
        prepared.played.take.name,
        [
            Facts("found", _found(prepared)),
            Facts("cleaned", _cleaned(prepared)),
            *_pairs(prepared),
            *_removed(prepared),
            *_treatment(prepared),
            Facts("written", written),
        ],
    )


def report(prepared: Prepared, files: list[str]) -> bytes:
    """The same as Markdown, with everything that was set.

    Parameters
    ----------
    prepared : Prepared
    files : list of str
        Names of the files in the folder.
    """
    cleaning = prepared.settings.cleaning
    parts: list[Facts | Table] = [
        Facts("Found", _found(prepared)),
        Facts(
            "Cleaned",
            [
                *_cleaned(prepared),
                f"double triggers looked for: {'yes' if cleaning.doubles else 'no'}, "
                f"within {cleaning.mask.words} ms",
                f"crosstalk looked for: {'yes' if cleaning.crosstalk else 'no'}",
                "each removed hit stands in removed.csv; to keep one, run again with "
                "--put-back and its number",
            ],
        ),
        *_pairs(prepared),
        *_treatment(prepared),
        *_ways(prepared),
        Facts("Files", files),
    ]
    lines = [
        "# Trigger data",
        "",
        f"Made by evenhand {__version__} from {_code(_title(prepared))}.",
    ]
    for part in parts:
        if part.label:
            lines += ["", f"## {part.label[0].upper()}{part.label[1:]}"]
        lines += ["", *(_bullets(part) if isinstance(part, Facts) else _grid(part))]
    return ("\n".join(lines) + "\n").encode()


def as_json(prepared: Prepared, **more: Any) -> dict[str, Any]:
    """The same as plain values.

    Parameters
    ----------
    prepared : Prepared
    **more
        What else belongs in it, such as the folder.
    """
    cleaned, sheet = prepared.cleaned, prepared.sheet
    return {
        "evenhand": __version__,
        "input": prepared.played.take.name,
        **more,
        "hits": len(prepared.played),
        "left": len(sheet),
        "removed": counts_by(REASONS, prepared),
        "put_back": (cleaned.put_back + 1).tolist(),
        "lengths_fixed": int(cleaned.relength.sum()),
        "crosstalk_pairs": [
            {
                key: round(value, 3) if isinstance(value, float) else value
                for key, value in vars(pair).items()
            }
            for pair in cleaned.pairs
        ],
        "removed_hits": [
            {"hit": hit + 1, "reason": reason, "because_of": of + 1 if of >= 0 else None}
            for hit, reason, of in zip(
                cleaned.hit.tolist(), cleaned.reason.tolist(), cleaned.of.tolist(), strict=True
            )
        ],
        "map": [vars(way) for way in prepared.ways],
        "rate": prepared.settings.rate,
        "samples": prepared.frames,
    }


def _title(prepared: Prepared) -> str:
    """The file's name without its folders: the same report wherever it lies."""
    return prepared.played.take.name.replace("\\", "/").rpartition("/")[2]


def _found(prepared: Prepared) -> list[str]:
    played = prepared.played
    names, counts = np.unique(played.hits.piece, return_counts=True)
    most_first = np.argsort(-counts, kind="stable")
    pieces = dict(zip(names[most_first].tolist(), counts[most_first].tolist(), strict=True))
    return [
        f"{many(len(played), 'hit')}, {meter_words(played.take.meter)}, "
        f"{tempo_words(played.take.tempo)}",
        f"pieces: {counted(pieces)}",
    ]


def _cleaned(prepared: Prepared) -> list[str]:
    cleaned, total = prepared.cleaned, len(prepared.played)
    gone = len(cleaned.hit)
    lines = [f"{many(gone, 'hit')} removed ({100 * gone / total:.1f} %), {total - gone} left"]
    for reason, pieces in counts_by(REASONS, prepared).items():
        if pieces:
            lines.append(f"{reason}: {sum(pieces.values())} ({counted(pieces)})")
    odd = int(cleaned.relength.sum())
    if odd:
        length = prepared.settings.cleaning.length
        lines.append(f"{many(odd, 'note')} stuck or without length: {length:g} ms now")
    if len(cleaned.put_back):
        numbers = ", ".join(map(str, (cleaned.put_back + 1).tolist()))
        lines.append(f"put back: {numbers}")
    return lines


def _pairs(prepared: Prepared) -> list[Table]:
    pairs = prepared.cleaned.pairs
    if not pairs:
        return []
    header = ["struck", "shaken", "blows", "answers", "after ms", "loudness"]
    rows = [
        [
            pair.source,
            pair.shaken,
            str(pair.blows),
            str(pair.answers),
            f"{pair.lag_ms:.1f}",
            f"{pair.loudness:.0f} %",
        ]
        for pair in pairs
    ]
    return [Table("crosstalk", header, rows, left=["struck", "shaken"])]


def _removed(prepared: Prepared) -> list[Facts | Table]:
    cleaned, hits = prepared.cleaned, prepared.played.hits
    meter = prepared.played.take.meter
    rows = []
    for hit, of, reason in list(
        zip(cleaned.hit.tolist(), cleaned.of.tolist(), cleaned.reason.tolist(), strict=True)
    )[:SHOWN]:
        why = f"velocity {hits.velocity[hit]}"
        if of >= 0:
            loudness = 100 * hits.velocity[hit] / hits.velocity[of]
            why = f"{hits.ms[hit] - hits.ms[of]:.1f} ms after {of + 1}, {loudness:.0f} %"
        place = str(meter.position(float(hits.tick[hit])))
        rows.append([str(hit + 1), place, str(hits.piece[hit]), reason, why])
    if not rows:
        return []
    parts: list[Facts | Table] = [Table("removed", _LIST, rows, left=_LIST[1:])]
    if len(cleaned.hit) > SHOWN:
        parts.append(Facts("", [f"and {len(cleaned.hit) - SHOWN} more (all with --json)"]))
    return parts


def _treatment(prepared: Prepared) -> list[Facts]:
    settings = prepared.settings
    parts = []
    if prepared.tightened:
        actions = counted(prepared.tightened.figures.actions)
        parts += [Facts("tightened", [actions]), *whole_part(prepared.tightened.ground.whole)]
    lines = []
    if settings.match is not None:
        lines.append(f"matched to those of another take: {', '.join(sorted(settings.match))}")
    if settings.shape.changes:
        shape = settings.shape
        lines.append(
            f"floor {shape.floor.words}; ceiling {shape.ceiling.words}; curve {shape.curve.words}"
        )
    if lines:
        parts.append(Facts("velocity", lines))
    if settings.to:
        moved = sum(way.hits for way in prepared.ways if way.note != way.to)
        lines = [f"{settings.to.name}: {many(moved, 'hit')} on another note"]
        if settings.hat_pedal is not None:
            lines.append("the hat's notes by its pedal")
        parts.append(Facts("map", lines))
    if settings.chokes != PRESSURE_STAYS:
        parts.append(Facts("chokes", ["key pressure ends the cymbal's note"]))
    return parts


def _ways(prepared: Prepared) -> list[Table]:
    if not prepared.ways:
        return []
    rows = [
        [way.sound, way.opening, str(way.note), str(way.to), way.under, str(way.hits)]
        for way in prepared.ways
    ]
    header = ["sound", "hat", "note", "new note", "found as", "hits"]
    return [Table("notes", header, rows, left=["sound", "hat", "found as"])]


def _bullets(facts: Facts) -> list[str]:
    return [f"- {_plain(line)}" for line in facts.lines]


def _grid(table: Table) -> list[str]:
    rule = [":--" if name in table.left else "--:" for name in table.header]
    rows = [list(table.header), rule, *([_plain(cell) for cell in row] for row in table.rows)]
    return [f"| {' | '.join(row)} |" for row in rows]


def _plain(text: str) -> str:
    """Text that means nothing in Markdown: names in it may come from files."""
    for char in "\\`*_[]<>|#":
        text = text.replace(char, f"\\{char}")
    return printable(text)


def _code(text: str) -> str:
    return f"`{printable(text).replace('`', chr(39))}`"
