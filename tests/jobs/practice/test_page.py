"""The page of practice takes in a browser."""

import csv
import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.select import Select
from tests.web.chromium import Opened, set_screen

from evenhand.jobs.practice.demo_days import demo_series
from evenhand.jobs.practice.gather import gather
from evenhand.jobs.practice.measuring import measure_all
from evenhand.jobs.practice.output import write_output
from evenhand.jobs.practice.report import make_report
from evenhand.recipe import Recipe

Open = Callable[[Path], Opened]

HOSTILE = "2026-09-30 <img src=x onerror=alert(1)>&amp;\"'`${1}<!--"


def _make(takes: Path, output: Path) -> Path:
    gathered = gather([takes])
    write_output(make_report(gathered, measure_all(gathered.takes, Recipe(), 20)), output, False)
    return output / "practice.html"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of the demo series, with one bad take."""
    folder = tmp_path_factory.mktemp("page")
    takes = folder / "days"
    takes.mkdir()
    for name, data in demo_series().items():
        (takes / name).write_bytes(data)
    (takes / "2026-09-05 torn.mid").write_bytes(b"MThd")
    return _make(takes, folder / "out")


def _rows(page: Path, name: str) -> list[dict[str, str]]:
    with page.with_name(f"practice-{name}.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def _choose(page: Opened, name: str, text: str) -> None:
    Select(page.find(name)).select_by_visible_text(text)


def _dots(page: Opened, chart: str) -> list[tuple[float, float]]:
    """The marks of a chart: where they stand, in its units."""
    found = page.run("return Main.charts[arguments[0]].dots().map(({x, y}) => [x, y])", chart)
    return [(x, y) for x, y in found]


def test_opens_from_disk_with_no_error_and_no_request(opened: Open, made: Path) -> None:
    page = opened(made)
    for measure in Select(page.find("measure")).options:
        measure.click()
    assert page.find("facts").text == "14 takes on 9 days, 2026-09-01 to 2026-09-23"
    assert len(page.driver.find_elements("css selector", "#work li")) == 3
    assert page.console() == []
    assert page.requests() == []


def test_sentences_are_those_of_the_table(opened: Open, made: Path) -> None:
    page = opened(made)
    shown = [one.text for one in page.driver.find_elements("css selector", "#work li")]
    assert shown == [row["sentence"] for row in _rows(made, "work-on")]
    assert page.find("failed").text.startswith("2026-09-05 torn.mid: ")


def test_days_show_the_figures_of_the_tables(opened: Open, made: Path) -> None:
    page = opened(made)
    takes = [row for row in _rows(made, "takes") if row["spread_ms"]]
    assert sorted(y for _, y in _dots(page, "days")) == sorted(
        float(row["spread_ms"]) for row in takes
    )
    _choose(page, "measure", "stray of the pulse over 16 beats")
    assert not page.find("limb").is_displayed()
    _choose(page, "group", "80-99 bpm")
    slow = [row for row in takes if row["tempo"] == "80-99 bpm"]
    assert [y for _, y in _dots(page, "days")] == [float(row["stray_ms"]) for row in slow]
    days = page.run("return Main.charts.days.dots().map(({x}) => Facts.day(x))")
    assert days == [row["date"][:10] for row in slow]
    _choose(page, "measure", "spread around the own lean")
    _choose(page, "limb", "timekeeper")
    limbs = [row for row in _rows(made, "limbs") if row["limb"] == "timekeeper"]
    assert [y for _, y in _dots(page, "days")] == [
        float(row["spread_ms"]) for row in limbs if row["tempo"] == "80-99 bpm"
    ]


def test_a_sure_change_is_drawn_as_it_is_told(opened: Open, made: Path) -> None:
    page = opened(made)
    lines = page.run("return Main.charts.days.lines().filter(({sure}) => sure)")
    (row,) = [
        row
        for row in _rows(made, "trends")
        if (row["measure"], row["limb"]) == ("spread", "anchors") and row["per_30_days"]
    ]
    ((first, start), (last, end)) = lines[0]["spots"]
    assert len(lines) == 1
    slope = (end - start) / ((last - first) / 86_400)
    assert 30 * slope == pytest.approx(float(row["per_30_days"]), abs=0.01)


def test_tempo_against_tightness(opened: Open, made: Path) -> None:
    page = opened(made)
    rows = [row for row in _rows(made, "limbs") if row["limb"] == "anchors"]
    wanted = sorted((float(row["bpm"]), float(row["spread_ms"])) for row in rows)
    assert sorted(_dots(page, "tempo")) == [pytest.approx(one) for one in wanted]
    _choose(page, "tempo-limb", "kick")
    kicks = [float(row["spread_ms"]) for row in _rows(made, "limbs") if row["limb"] == "kick"]
    assert sorted(y for _, y in _dots(page, "tempo")) == pytest.approx(sorted(kicks))


def test_a_chart_by_keyboard(opened: Open, made: Path) -> None:
    page = opened(made)
    chart, told = page.find("days"), page.find("days-told")
    chart.send_keys(Keys.ARROW_RIGHT)
    assert told.text.startswith("2026-09-01 kettle-weather 112.mid, 2026-09-01 (name): spread of")
    chart.send_keys(Keys.END)
    assert told.text.startswith("without the click, from memory, 2026-09-23 (practice.toml): ")
    assert "own tempo found" in told.text
    chart.send_keys(Keys.ARROW_RIGHT, Keys.ARROW_LEFT)
    assert "2026-09-22" in told.text


def test_a_chart_by_mouse(opened: Open, made: Path) -> None:
    page = opened(made)
    over = page.driver.find_element("css selector", "#tempo .u-over")
    page.run("arguments[0].scrollIntoView({block: 'center'})", over)
    left, top = page.run(
        "const chart = Main.charts.tempo;"
        "return chart.spot(chart.dots().find(({point}) => !Facts.all.takes[point.take].click))"
    )
    box = over.rect
    across, down = left - box["width"] / 2, top - box["height"] / 2
    told = page.find("tempo-told")
    actions = ActionChains(page.driver, duration=0)
    actions.move_to_element_with_offset(over, int(across) + 60, int(down)).perform()
    assert told.text.startswith("No take chosen")
    actions.move_to_element_with_offset(over, int(across) + 5, int(down) + 5).perform()
    assert told.text.startswith("without the click, from memory")


def test_takes_are_sorted_by_a_click(opened: Open, made: Path) -> None:
    page = opened(made)
    heads = page.driver.find_elements("css selector", "#takes thead th")
    (spread,) = [head for head in heads if head.text == "spread ms"]
    place = heads.index(spread)

    def column() -> list[str]:
        lines = page.driver.find_elements("css selector", "#takes tbody tr")
        return [line.find_elements("css selector", "th, td")[place].text for line in lines]

    spread.find_element("tag name", "button").click()
    up = column()
    assert up[-1] == "–"
    assert [float(text) for text in up[:-1]] == sorted(float(text) for text in up[:-1])
    assert spread.get_attribute("aria-sort") == "ascending"
    spread.find_element("tag name", "button").click()
    assert column() == [*reversed(up[:-1]), "–"]
    assert spread.get_attribute("aria-sort") == "descending"


def test_bests_are_those_of_the_table(opened: Open, made: Path) -> None:
    page = opened(made)
    lines = page.driver.find_elements("css selector", "#bests tbody tr")
    rows = _rows(made, "bests")
    assert len(lines) == len(rows)
    for line, row in list(zip(lines, rows, strict=True))[::6]:
        cells = [cell.text for cell in line.find_elements("css selector", "th, td")]
        label = ", ".join(filter(None, (row["measure"], row["limb"])))
        assert cells[:2] == [label, row["tempo"]]
        assert cells[2] == f"{float(row['best']):.1f} {row['unit']}"
        assert cells[-1] == row["take"]


def test_names_cannot_become_markup(opened: Open, tmp_path: Path) -> None:
    takes = tmp_path / "takes"
    takes.mkdir()
    data = demo_series()["2026-09-01 kettle-weather 96.mid"]
    (takes / f"{HOSTILE.replace('/', '')}.mid").write_bytes(data)
    (takes / f"{HOSTILE.replace('/', '')} torn.mid").write_bytes(b"MThd")
    (takes / os.fsdecode(b"2026-10-01 \xff\x1b.mid")).write_bytes(data)
    page = opened(_make(takes, tmp_path / "out"))
    page.find("days").send_keys(Keys.ARROW_RIGHT)
    assert page.find("days-told").text.startswith(HOSTILE)
    assert page.driver.find_elements("tag name", "img") == []
    assert page.console() == []


def test_a_folder_of_bad_takes(opened: Open, tmp_path: Path) -> None:
    takes = tmp_path / "takes"
    takes.mkdir()
    (takes / "2026-10-01.mid").write_bytes(b"MThd")
    page = opened(_make(takes, tmp_path / "out"))
    assert page.find("work").text == "There are too few hits to tell."
    assert "There are no figures for this choice" in page.find("days-told").text
    page.find("days").send_keys(Keys.ARROW_RIGHT)
    assert page.console() == []


@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("dark", [False, True])
def test_axe_finds_no_serious_fault(
    opened: Open, made: Path, npm: Path, width: int, dark: bool
) -> None:
    page = opened(made)
    set_screen(page.driver, width, 900, dark)
    page.run((npm / "axe-core/axe.min.js").read_text(encoding="utf-8"))
    found = page.driver.execute_async_script(
        "const done = arguments[0]; axe.run(document).then((found) => done(JSON.stringify("
        "{checked: found.passes.length, faults: found.violations.map((fault) => [fault.impact,"
        " fault.id, fault.nodes.map((node) => node.target.join(' ')).slice(0, 5)])})))"
    )
    told = json.loads(found)
    assert told["checked"] > 20
    assert [fault for fault in told["faults"] if fault[0] in ("serious", "critical")] == []


def test_no_sideways_scrolling_on_a_phone(opened: Open, made: Path) -> None:
    page = opened(made)
    set_screen(page.driver, 390, 844, dark=False)
    wide = page.driver.execute_async_script(
        "const done = arguments[0];"
        "setTimeout(() => done(document.documentElement.scrollWidth), 300)"
    )
    assert wide <= 390
