"""The table: every measure with what was measured before, and what it should reach."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from tests.evaluation.score_judgement.jobs import Tally


@dataclass(frozen=True)
class Row:
    """One measure: its words, the figure or figures by name, and what was and is to be."""

    words: str
    names: tuple[str, ...]
    before: str
    least: str
    aim: str


# The figures before are those of the first edition of the rules, with defaults.
ROWS = (
    Row("planted slips repaired", ("repaired",), "0.53", "0.68", "0.80"),
    Row("  by the lax reading", ("repaired lax",), "", "", ""),
    Row("  anchors alone / with all struck", ("repaired alone", "repaired along"), "", "", ""),
    Row("  strokes that stood out too", ("repaired, anywhere",), "", "", ""),
    Row("other anchors moved", ("others moved",), "0.50", "<= 0.10", "<= 0.05"),
    Row("drums only: repaired", ("repaired, drums only",), "0.56", "0.55", "0.70"),
    Row("  by the lax reading", ("repaired lax, drums only",), "", "", ""),
    Row("drums only: others moved", ("others moved, drums only",), "0.46", "<= 0.10", "<= 0.07"),
    Row("steady hats beside a slip stay", ("hats steady",), "0.20", "0.85", "0.95"),
    Row("hats that slipped along, repaired", ("hats along",), "0.57", "0.60", "0.70"),
    Row("pushed bars eased by half", ("pushes eased",), "0.68", "0.60", "0.80"),
    Row("  other anchors moved", ("others moved, pushes",), "", "", ""),
    Row(
        "strokes moved as they are",
        ("strokes moved@50,95",),
        "0.39 / 0.63",
        "0.10 / 0.25",
        "0.07 / 0.15",
    ),
    Row("  by more than 2 ms", ("strokes moved 2 ms@50,95",), "", "", ""),
    Row("intervals nearer to usual: of moves", ("evener as heard, moves",), "", "0.93", "0.97"),
    Row("  of moved strokes", ("evener as heard",), "", "", ""),
    Row("  of moved strokes, by lines", ("evener",), "", "", ""),
    Row("three largest moves listed", ("largest listed",), "0.27", "0.95", "1"),
    Row("timekeeper hits thrown", ("thrown",), "0.036", "<= 0.005", "<= 0.001"),
    Row("flags a minute", ("flags a minute@50,90",), "4.3 / 20", "2 / 5", "1 / 3"),
    Row("late kick of 15, moved (invented)", ("late kick moved@50,100",), "11", "0", "0"),
    Row("shifted: same decision", ("same when shifted",), "0.47", "0.95", "0.99"),
    Row("  by 38 ms or more", ("same when shifted far",), "", "", ""),
    Row("offset told", ("offset told",), "0", "0.9", "1"),
    Row("  against the shift alone", ("offset told, own lean aside",), "", "", ""),
    Row("  told in takes as they are", ("offset told in takes as they are",), "", "", ""),
    Row("tempo told: 120 by default", ("120 by default told",), "0", "0.9", "1"),
    Row("  and right", ("120 by default told, right",), "", "", ""),
    Row("tempo told: 0.2 % off", ("0.2 % off told",), "0", "0.9", "1"),
    Row("  and right", ("0.2 % off told, right",), "", "", ""),
    Row("  over two minutes", ("0.2 % off told, over two minutes",), "", "", ""),
    Row("  told in takes as they are", ("tempo told in takes as they are",), "", "", ""),
    Row(
        "anchors moved at 0.2 %: fast / slow",
        ("anchors moved, too fast", "anchors moved, too slow"),
        "half",
        "<= 0.02",
        "0",
    ),
    Row("loose player: spread after / before", ("loose spread@50",), "", "<= 0.75", "0.65"),
)


def figures(tally: Tally) -> dict[str, float]:
    """All that was measured, by name; percentiles have theirs behind an @."""
    found = {name: tally.share(name) for name in tally.shares}
    for row in ROWS:
        for name in row.names:
            key, _, percents = name.partition("@")
            if percents and key in tally.figures:
                for percent in percents.split(","):
                    value = float(np.percentile(tally.figures[key], float(percent)))
                    found[f"{key}@{percent}"] = value
    return found


def lines(tally: Tally) -> Iterator[str]:
    """The table, line by line."""
    found = figures(tally)
    yield f"{'measure':<37}{'here':>15}{'of':>9}{'before':>14}{'at least':>14}{'aim':>14}"
    for row in ROWS:
        values, many = [], []
        for name in row.names:
            key, _, percents = name.partition("@")
            keys = [f"{key}@{percent}" for percent in percents.split(",")] if percents else [key]
            values += [found.get(one, float("nan")) for one in keys]
            if key in tally.shares:
                many.append(tally.shares[key]["of"])
            else:
                many.append(len(tally.figures.get(key, ())))
        shown = " / ".join("-" if np.isnan(value) else f"{value:.3g}" for value in values)
        yield f"{row.words:<37}{shown:>15}{many[0]:>9}{row.before:>14}{row.least:>14}{row.aim:>14}"
