"""The tables and the JSON say the same, and what the takes say."""

import csv
import io
import json
from pathlib import Path

import pytest

from evenhand import read_take
from evenhand.jobs.practice.csv_files import COLUMNS, as_csv, rows_of
from evenhand.jobs.practice.demo_days import demo_series
from evenhand.jobs.practice.gather import gather
from evenhand.jobs.practice.measures import BY_KEY
from evenhand.jobs.practice.measuring import measure_all
from evenhand.jobs.practice.report import Report, make_report
from evenhand.jobs.practice.take_figures import figures_of
from evenhand.jobs.practice.wording import as_json, page
from evenhand.paper.terminal import plain
from evenhand.recipe import Recipe


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("days")
    for name, data in demo_series().items():
        (place / name).write_bytes(data)
    (place / "2026-09-05 torn.mid").write_bytes(b"MThd")
    return place


@pytest.fixture(scope="module")
def report(folder: Path) -> Report:
    gathered = gather([folder])
    return make_report(gathered, measure_all(gathered.takes, Recipe(), 20))


def _table(report: Report, name: str) -> list[dict[str, str]]:
    data = as_csv(name, rows_of(report)[name])
    return list(csv.DictReader(io.StringIO(data.decode("utf-8"))))


@pytest.mark.parametrize("name", COLUMNS)
def test_json_says_what_the_csv_says(report: Report, name: str) -> None:
    told = json.loads(json.dumps(as_json(report, []), allow_nan=False))
    rows = _table(report, name)
    assert rows
    for row, plainly in zip(rows, told[name.replace("-", "_")], strict=True):
        assert list(row) == list(plainly) == list(COLUMNS[name])
        for column, value in plainly.items():
            cell = row[column]
            if value is None:
                assert cell == ""
            elif isinstance(value, bool):
                assert cell == ("yes" if value else "no")
            elif isinstance(value, float):
                assert float(cell) == value
            else:
                assert cell == str(value)


def test_a_row_holds_the_figures_of_its_take(report: Report, folder: Path) -> None:
    rows = {row["take"]: row for row in _table(report, "takes")}
    figures = figures_of(read_take(folder / "2026-09-08 kettle-weather 96.mid"))
    row = rows["2026-09-08 kettle-weather 96.mid"]
    assert float(row["spread_ms"]) == pytest.approx(figures.anchors.spread_ms, abs=0.0006)
    assert float(row["stray_ms"]) == pytest.approx(figures.steadiness.stray_ms, abs=0.0006)
    assert float(row["wander"]) == pytest.approx(figures.steadiness.wander, abs=0.0006)
    assert float(row["evenness_ms"]) == pytest.approx(figures.keeper_ms, abs=0.0006)
    assert float(row["ghosts_below"]) == pytest.approx(103 - 26, abs=4)
    assert row["date"] == "2026-09-08 00:00:00"
    torn = rows["2026-09-05 torn.mid"]
    assert torn["note"]
    assert torn["spread_ms"] == ""


def test_trends_and_bests_are_those_of_the_takes(report: Report) -> None:
    limbs = [
        row
        for row in _table(report, "limbs")
        if (row["limb"], row["tempo"]) == ("anchors", "80-99 bpm")
    ]
    spreads = {row["take"]: float(row["spread_ms"]) for row in limbs}
    (best,) = [
        row
        for row in _table(report, "bests")
        if (row["measure"], row["limb"], row["tempo"]) == ("spread", "anchors", "80-99 bpm")
    ]
    assert float(best["best"]) == min(spreads.values()) == spreads[best["take"]]
    (trend,) = [
        row
        for row in _table(report, "trends")
        if (row["measure"], row["limb"], row["tempo"]) == ("spread", "anchors", "80-99 bpm")
    ]
    assert int(trend["takes"]) == len(spreads) == 7
    # The series was made to tighten from 17 to 10.5 ms of scatter in three weeks.
    assert -14 < float(trend["per_30_days"]) < -6
    assert {row["measure"] for row in _table(report, "trends")} <= set(BY_KEY)


def test_the_take_without_a_click_eases_as_it_was_made(report: Report) -> None:
    (row,) = [row for row in _table(report, "takes") if row["click"] == "no"]
    assert row["take"] == "without the click, from memory"
    assert row["date"] == "2026-09-23 00:00:00"
    # Its intervals grow by 3 % over the take: from the middle of the first third to that of the
    # last, two thirds of that.
    assert float(row["tempo_drift_percent"]) == pytest.approx(-2, abs=0.3)
    assert row["lean_ms"] == ""


def test_words(report: Report) -> None:
    words = plain(page(report, ["practice.html"]))
    assert words.startswith("14 takes on 9 days, 2026-09-01 to 2026-09-23\n")
    assert words.count("Work on ") == 3
    assert "2026-09-05 torn.mid: " in words


def test_two_takes_are_too_few_for_a_trend(folder: Path) -> None:
    takes = gather([folder]).takes[:2]
    found = make_report(gather([folder]), measure_all(takes, Recipe(), 20))
    assert "2 takes are too few for a trend: it takes 6 days" in plain(page(found, []))
