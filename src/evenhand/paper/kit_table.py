"""Which notes occur in a take and what each is taken for."""

from typing import Any

import numpy as np

from evenhand.columns import median
from evenhand.kit import OTHER, KitMap
from evenhand.paper.terminal import Facts, Page, Table
from evenhand.paper.words import counted, many
from evenhand.take import Hits, MeterMap


def list_notes(hits: Hits, kit: KitMap, meter: MeterMap) -> list[dict[str, Any]]:
    """Describe each note number that occurs, most played first.

    Parameters
    ----------
    hits : Hits
        With pieces and roles named.
    kit : KitMap
    meter : MeterMap
    """
    rows = []
    for note in np.unique(hits.note).tolist():
        mine = hits.note == note
        velocity = hits.velocity[mine]
        names, counts = np.unique(hits.role[mine], return_counts=True)
        sound = kit.sounds.get(note)
        rows.append(
            {
                "note": note,
                "sound": sound.name if sound else "",
                "piece": sound.piece if sound else OTHER,
                "zone": sound.zone if sound else "",
                "known": sound is not None,
                "roles": dict(zip(names.tolist(), counts.tolist(), strict=True)),
                "hits": int(mine.sum()),
                "softest": int(velocity.min()),
                "median": median(velocity),
                "loudest": int(velocity.max()),
                "first": str(meter.position(float(hits.tick[mine].min()))),
            }
        )
    return sorted(rows, key=lambda row: (-row["hits"], row["note"]))


def kit_page(name: str, rows: list[dict[str, Any]], kit: KitMap, ghosts: str) -> Page:
    """Lay the notes out as a page."""
    header = [
        "note",
        "sound",
        "piece",
        "zone",
        "hits",
        "softest",
        "median",
        "loudest",
        "first",
        "roles",
    ]
    cells = [
        [
            str(row["note"]),
            row["sound"] or "unknown",
            row["piece"],
            row["zone"],
            str(row["hits"]),
            str(row["softest"]),
            f"{row['median']:g}",
            str(row["loudest"]),
            row["first"],
            counted(row["roles"]),
        ]
        for row in rows
    ]
    unknown = [row["note"] for row in rows if not row["known"]]
    if unknown:
        example = f'{unknown[0]} = "snare"'
        hint = [
            f"{many(len(unknown), 'note')} not in the map: {', '.join(map(str, unknown))}; "
            "such hits are carried",
            f"to name them, write a kit file: [notes] and below it {example}; then --kit FILE.toml",
        ]
    else:
        hint = ["every note is in the map"]
    left = ["sound", "piece", "zone", "roles"]
    return Page(
        name,
        [
            Facts("kit map", [kit.name]),
            Facts("ghosts", [ghosts]),
            Table("notes", header, cells, left=left),
            Facts("unknown", hint),
        ],
    )
