"""The change log, read back with the csv module."""

import csv
import io
import re
from pathlib import Path

import numpy as np
import pytest
from tests.build import HAT, KICK, SNARE, drum_take, plain_recipe

from evenhand import Recipe, read_take, tighten
from evenhand.habit import NAMES
from evenhand.kit import ACCENT, ANCHOR, FILL, GHOST, GRACE, OTHER, ROLE_OF_PIECE, ROLL, TIMEKEEPER
from evenhand.outcome import COLUMNS
from evenhand.outcome.changes import REASONS
from evenhand.paper.change_log import change_log


def _rows(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8"))))


def test_columns_are_those_of_the_contract() -> None:
    assert COLUMNS.split(",") == [
        "hit", "track", "channel", "note", "velocity", "piece", "role", "bar", "beat",
        "tick_before", "tick_after", "ms_before", "ms_after", "shift_ms", "line_tick",
        "deviation_before_ms", "deviation_after_ms", "action", "reason", "span",
        "limb", "usual_ms", "early_ms", "late_ms",
    ]  # fmt: skip


def test_worked_rows() -> None:
    take = drum_take([(480, KICK), (984, SNARE, 90), (1000, HAT, 50)])
    rows = _rows(change_log(tighten(take, plain_recipe(ghost_below=40)).changes))
    assert list(rows[1].values()) == [
        "2", "2", "10", "38", "90", "snare", "anchor", "1", "3.050", "984", "966", "1025.000",
        "1006.250", "-18.750", "960", "25.000", "6.250", "moved", "outside the window", "",
        "snare hand", "0.000", "-12.500", "12.500",
    ]  # fmt: skip
    empty = ("line_tick", "deviation_before_ms", "usual_ms", "early_ms", "late_ms")
    assert {rows[2][name] for name in empty} == {""}
    assert rows[2]["limb"] == "time hand"
    assert (rows[2]["role"], rows[2]["action"]) == ("timekeeper", "carried")


def test_lines_between_ticks_are_written_with_three_places() -> None:
    take = drum_take([(66, KICK)], division=100)
    (row,) = _rows(change_log(tighten(take, plain_recipe(grid="1/8T")).changes))
    assert row["line_tick"] == "66.667"


def test_no_minus_zero() -> None:
    take = drum_take([(480, KICK), (960, SNARE)])
    assert b"-0.000" not in change_log(tighten(take).changes)


def test_real_take(sampled_path: Path) -> None:
    result = tighten(read_take(sampled_path), Recipe(grid="1/16", hold=("1:1-1:2",)))
    rows = _rows(change_log(result.changes))
    assert len(rows) == len(result.changes) == result.figures.hits
    before, after = result.before.tempo, result.take.smf.tracks
    for row in rows:
        assert row["reason"] in REASONS[row["action"]]
        # Neither too few cells nor, under the key None, too many.
        assert None not in row.values()
        assert None not in row
        shift = float(row["ms_after"]) - float(row["ms_before"])
        assert float(row["shift_ms"]) == pytest.approx(shift, abs=0.0016)
        if row["line_tick"]:
            line = float(before.to_ms(float(row["line_tick"])))
            # Lines are written with three places of a tick, which is less than a µs here.
            assert float(row["deviation_after_ms"]) == pytest.approx(
                float(row["ms_after"]) - line, abs=0.003
            )
    # Hits of several limbs in one stroke may come in another order: each note keeps its own.
    for note in {row["note"] for row in rows}:
        written = [
            one.tick[one.note_ons() & one.on_channel(9) & (one.data1 == int(note))] for one in after
        ]
        told = [int(row["tick_after"]) for row in rows if row["note"] == note]
        assert told == np.concatenate(written).tolist()


PIECES = {*ROLE_OF_PIECE, OTHER}
ROLES = {ACCENT, ANCHOR, FILL, GHOST, GRACE, OTHER, ROLL, TIMEKEEPER}

#: What each column may hold (docs/files.md); text comes from closed lists.
_WHOLE, _PLACES = r"[0-9]+", r"-?[0-9]+\.[0-9]{3}"
_KINDS = {
    **dict.fromkeys(("hit", "track", "channel", "note", "velocity", "bar"), _WHOLE),
    **dict.fromkeys(("tick_before", "tick_after"), _WHOLE),
    **dict.fromkeys(("beat", "ms_before", "ms_after", "shift_ms"), _PLACES),
    **dict.fromkeys(("deviation_before_ms", "deviation_after_ms"), f"({_PLACES})?"),
    # Of a take ahead of its lines the first may lie before tick 0.
    "line_tick": r"(-?[0-9]+(\.[0-9]{1,3})?)?",
    "span": "([0-9]+)?",
    "limb": "|".join(NAMES),
    "usual_ms": f"({_PLACES})?",
    "early_ms": r"((-[0-9]+\.[0-9]{3}|0\.000))?",
    "late_ms": r"([0-9]+\.[0-9]{3})?",
}


def test_columns_types_and_reasons_of_a_real_take(sampled_path: Path) -> None:
    for recipe in (Recipe(), Recipe(plan="spans", lean=0, strength=100)):
        data = change_log(tighten(read_take(sampled_path), recipe).changes).decode()
        header, *rows = csv.reader(io.StringIO(data))
        assert {len(row) for row in rows} == {len(header)}
        columns = dict(zip(header, zip(*rows, strict=True), strict=True))
        for name, kind in _KINDS.items():
            alike = re.compile(kind)
            assert [cell for cell in {*columns[name]} if not alike.fullmatch(cell)] == [], name
        for action, reason in {*zip(columns["action"], columns["reason"], strict=True)}:
            assert reason in REASONS[action]
        assert {*columns["piece"]} <= PIECES
        assert {*columns["role"]} <= ROLES


def test_no_word_of_the_closed_lists_needs_quotes() -> None:
    """The log is written by columns, without the writer that would quote a comma."""
    words = {*PIECES, *ROLES, *REASONS, *(reason for some in REASONS.values() for reason in some)}
    assert not [word for word in words if set(word) & set(',"\n\r') or not word.isascii()]
