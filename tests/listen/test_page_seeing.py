"""The listening page in a browser: what is seen, said and decided."""

import csv
import io
import json
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys
from tests.build import KICK, midi_bytes, track
from tests.listen.pages import live, make_page, wait_for
from tests.web.chromium import Opened

from evenhand import Recipe, Take, read_recipe, read_take, tighten
from evenhand.jobs.demo_take import demo_take
from evenhand.listen.build import build_page
from evenhand.listen.data import Names, page_data
from evenhand.listen.pair import compare
from evenhand.paper.change_log import change_log

HOSTILE = "</script><img src=x onerror=alert(1)>&amp;\"'`${1}<!--"


def test_opens_from_disk_with_no_error_and_no_request(
    opened: Callable[[Path], Opened], demo_page: Path
) -> None:
    page = opened(demo_page)
    page.find("play").click()
    wait_for(lambda: page.run("return Main.player().playing"))
    page.find("play").click()
    page.find("flag-on").click()
    assert page.driver.title == "evenhand: listen to kettle-weather.mid"
    assert page.console() == []
    assert page.requests() == []


def test_the_policy_forbids_any_network(opened: Callable[[Path], Opened], demo_page: Path) -> None:
    page = opened(demo_page)
    refused = page.later(
        "const done = arguments[0];"
        "document.addEventListener('securitypolicyviolation',"
        "  (event) => done(event.effectiveDirective), {once: true});"
        "fetch('https://example.org/').catch(() => {});"
    )
    assert refused == "connect-src"


def test_points_are_the_hits_of_the_change_log(
    opened: Callable[[Path], Opened], demo_page: Path
) -> None:
    page = opened(demo_page)
    result = tighten(read_take(demo_page.with_name("kettle-weather.mid")))
    rows = list(csv.DictReader(io.StringIO(change_log(result.changes).decode())))
    points = page.run("return Chart.points()")
    assert sorted(point[0] + 1 for point in points) == [int(row["hit"]) for row in rows]
    for hit, when, before, after in points:
        row = rows[hit]
        assert when == pytest.approx(float(row["ms_before"]), abs=0.0011)
        assert after - before == pytest.approx(float(row["shift_ms"]), abs=0.0021)
        if row["line_tick"]:
            assert before == pytest.approx(float(row["deviation_before_ms"]), abs=0.0011)
            assert after == pytest.approx(float(row["deviation_after_ms"]), abs=0.0011)


def test_story_tells_what_the_change_log_says(
    opened: Callable[[Path], Opened], demo_page: Path
) -> None:
    page = opened(demo_page)
    changes = tighten(read_take(demo_page.with_name("kettle-weather.mid"))).changes
    moved = int(np.argmax(changes.action == "moved"))
    story = page.run("return Data.story(arguments[0])", moved)
    assert story.startswith(f"Hit {moved + 1}: {changes.hits.piece[moved]}")
    assert f"velocity {changes.hits.velocity[moved]}" in story
    assert f"{changes.bar[moved]}:{changes.beat[moved]:g}" in story
    assert f"moved {changes.shift_ms[moved]:+.1f} ms".replace("-", "−") in story
    assert str(changes.reason[moved]) in story


def test_keys(opened: Callable[[Path], Opened], demo_page: Path) -> None:
    page = opened(demo_page)
    keys = ActionChains(page.driver)

    def press(key: str) -> dict[str, Any]:
        keys.send_keys(key).perform()
        return live(page)

    press(" ")
    wait_for(lambda: live(page)["playing"])
    assert not press(" ")["playing"]
    assert press("b")["side"] == "before"
    assert press("b")["side"] == "after"
    assert press("+")["click"] == -21
    assert press("-")["click"] == -24
    page.run("document.getElementById('use-keys').checked = false")
    assert press("b")["side"] == "after"
    page.run("document.getElementById('use-keys').checked = true")
    assert press("h")["speed"] == 0.5
    assert press("h")["speed"] == 1
    assert press("l")["loop"] is not None
    assert press("l")["loop"] is None
    press("n")
    wait_for(lambda: live(page)["playing"])
    assert page.run("return Main.flag()") == 0
    press("n")
    assert page.run("return Main.flag()") == 1
    press("p")
    assert page.run("return Main.flag()") == 0
    page.run("for (const box of document.querySelectorAll('details')) box.open = true")
    listed = [key.text for key in page.driver.find_elements("css selector", "#keys kbd")]
    assert listed[:9] == ["Space", "B", "N", "P", "+", "-", "H", "L", "A"]


def test_chart_by_keyboard_and_by_mouse(opened: Callable[[Path], Opened], demo_page: Path) -> None:
    page = opened(demo_page)
    chart = page.find("chart")
    chart.send_keys(Keys.ARROW_RIGHT)
    chart.send_keys(Keys.ARROW_RIGHT)
    second = page.run("return Data.order.before[1]")
    assert page.find("story").text.startswith(f"Hit {second + 1}:")
    chart.send_keys(Keys.ARROW_UP)
    wait_for(lambda: page.run("return Chart.limits()[1]") < 128_000)

    # A click on a mark plays from there.
    page.find("zoom-all").click()
    page.run("Chart.view(22000, 30000); document.getElementById('chart').scrollIntoView()")
    wait_for(lambda: page.run("return Chart.limits()[0]") > 21_000)
    spot = page.run(
        "const [hit, ms, before] = Chart.points().find((one) => one[1] > 25000 && one[2] < -20);"
        "const box = document.querySelector('#chart .u-over').getBoundingClientRect();"
        "return [hit, ...Chart.spot(ms, before), box.left, box.top]"
    )
    hit, left, top, box_left, box_top = spot
    mouse = ActionChains(page.driver)
    mouse.move_by_offset(round(box_left + left), round(box_top + top)).perform()
    wait_for(lambda: not page.run("return document.querySelector('.tip').hidden"))
    assert page.run("return document.querySelector('.tip').textContent").startswith(
        f"Hit {hit + 1}:"
    )
    mouse.click().perform()
    wait_for(lambda: live(page)["playing"])
    assert live(page)["from"] == pytest.approx(
        page.run("return Data.hits.after[arguments[0]]", hit)
    )


def test_hostile_names_stay_text(opened: Callable[[Path], Opened], tmp_path: Path) -> None:
    guide = [
        (0, mido.MetaMessage("track_name", name=HOSTILE)),
        (960, mido.MetaMessage("marker", text=HOSTILE)),
    ]
    drums = [
        (tick, mido.Message("note_on", channel=9, note=KICK, velocity=90))
        for tick in range(0, 4800, 250)
    ]
    name = "<img src=x onerror=alert(1)> & 'co'.mid"
    page = opened(make_page(tmp_path, midi_bytes(track(guide), track(drums)), name=name))
    assert page.find("name").text == name
    assert page.driver.find_elements("css selector", "img") == []
    cells = [cell.text for cell in page.driver.find_elements("css selector", "#sections th")]
    assert HOSTILE[:60] in cells
    assert page.run("return document.scripts.length") == 3
    assert page.console() == []
    assert page.requests() == []


def test_decisions_make_a_recipe_that_evenhand_takes(
    opened: Callable[[Path], Opened], demo_page: Path, tmp_path: Path
) -> None:
    page = opened(demo_page)
    take = read_take(demo_page.with_name("kettle-weather.mid"))
    changes = tighten(take).changes
    moved = int(np.argmax(changes.action == "moved"))
    page.run("Chart.choose(arguments[0])", moved)
    page.find("hit-hold").click()
    strength = page.driver.find_element("css selector", "#take-settings input")
    strength.send_keys("60", Keys.TAB)
    recipe = tmp_path / "page.toml"
    recipe.write_text(page.find("recipe").get_attribute("value"), encoding="utf-8")
    read = read_recipe(recipe)
    assert read.strength == 60
    again = tighten(take, read).changes
    assert again.action[moved] == "held"
    assert again.tick_after[moved] == again.hits.tick[moved]
    # Undone, it is the recipe of the page again.
    for _ in range(2):
        page.driver.find_element("css selector", "#decisions button").click()
    recipe.write_text(page.find("recipe").get_attribute("value"), encoding="utf-8")
    assert read_recipe(recipe) == Recipe()


def test_a_recipe_with_sections_and_nudges_is_built_on(
    opened: Callable[[Path], Opened], tmp_path: Path
) -> None:
    recipe = Recipe(
        strength=60,
        section=({"name": "verse", "bars": "5-20", "strength": 40, "fills": "tight"},),
        hold=("17:4-18:1",),
        nudge=({"at": "36:3", "piece": "kick", "ms": -6},),
    )
    take = Take.from_bytes(demo_take(), "kettle-weather.mid")
    data = page_data(compare(tighten(take, recipe)), Names("kettle-weather.mid"))
    path = tmp_path / "page.html"
    path.write_bytes(build_page(data))
    page = opened(path)
    written = tmp_path / "page.toml"
    written.write_text(page.find("recipe").get_attribute("value"), encoding="utf-8")
    assert read_recipe(written) == recipe
    index = [section["first_bar"] for section in data["sections"]].index(5)
    page.run("Recipe.setSection(arguments[0], 'strength', 20)", index)
    page.run("Recipe.setSection(arguments[0], 'lean', 0)", index + 1)
    written.write_text(page.find("recipe").get_attribute("value"), encoding="utf-8")
    verse, after = read_recipe(written).section
    assert (verse.bars, dict(verse.settings)) == ("5-20", {"strength": 20, "fills": "tight"})
    assert dict(after.settings) == {"lean": 0}
    assert page.console() == []


def test_page_offers_only_what_a_recipe_accepts(
    opened: Callable[[Path], Opened], demo_page: Path
) -> None:
    page = opened(demo_page)
    page.run("Chart.choose(10)")
    known = Recipe().settings()
    assert page.find("hit-hold").is_displayed()
    assert page.find("nudge-tools").is_displayed() == ("nudge" in known)
    inputs = page.driver.find_elements("css selector", "#sections input")
    assert bool(inputs) == ("section" in known)


def test_save_hands_over_the_recipe(
    opened: Callable[[Path], Opened], demo_page: Path, tmp_path: Path
) -> None:
    page = opened(demo_page)
    page.driver.execute_cdp_cmd(
        "Browser.setDownloadBehavior", {"behavior": "allow", "downloadPath": str(tmp_path)}
    )
    page.run("Chart.choose(10)")
    page.find("hit-hold").click()
    page.find("save").click()
    saved = tmp_path / "kettle-weather-listen.toml"
    wait_for(saved.exists)
    assert saved.read_text(encoding="utf-8") == page.find("recipe").get_attribute("value")
    assert len(read_recipe(saved).hold) == 1


def test_page_is_ready_for_nudges_and_sections(
    opened: Callable[[Path], Opened], tmp_path: Path
) -> None:
    take = Take.from_bytes(demo_take(), "kettle-weather.mid")
    data = page_data(compare(tighten(take)), Names("kettle-weather.mid"))
    data["passes"] = [{"text": f"Pass 1 {HOSTILE}"}]
    data["supports"].update(nudge=True, section=["strength", "window", "lean"])
    path = tmp_path / "page.html"
    path.write_bytes(build_page(data))
    page = opened(path)
    assert page.find("passes").text == f"Pass 1 {HOSTILE}"
    kick = data["hits"]["pieces"].index("kick")
    hit = next(n for n, one in enumerate(data["hits"]["piece"]) if one == kick and n > 100)
    page.run("Chart.choose(arguments[0])", hit)
    page.run("document.getElementById('nudge-ms').value = '-6'")
    page.find("hit-nudge").click()
    verse = page.driver.find_element("css selector", "[aria-label='lean in verse 1']")
    verse.send_keys("100", Keys.TAB)
    told = tomllib.loads(page.find("recipe").get_attribute("value"))
    assert told["nudge"] == [{"at": data["hits"]["at"][hit], "piece": "kick", "ms": -6.0}]
    assert told["section"] == [{"name": "verse 1", "bars": "10-25", "lean": 100.0}]


def test_take_without_hits_gives_a_page_that_says_so(
    opened: Callable[[Path], Opened], tmp_path: Path
) -> None:
    page = opened(make_page(tmp_path, midi_bytes(track([]))))
    assert "no hits in this take" in page.find("page").text
    assert page.console() == []


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("width", [1280, 390])
def test_axe_finds_no_serious_fault(
    opened: Callable[[Path], Opened], demo_page: Path, npm: Path, width: int, dark: bool
) -> None:
    from tests.web.chromium import set_screen

    page = opened(demo_page)
    set_screen(page.driver, width, 900, dark)
    page.run("for (const box of document.querySelectorAll('details')) box.open = true")
    page.run("Chart.choose(10)")
    page.run((npm / "axe-core/axe.min.js").read_text(encoding="utf-8"))
    found = page.later(
        "const done = arguments[0]; axe.run(document).then((found) => done(JSON.stringify("
        "{checked: found.passes.length, faults: found.violations.map((fault) => [fault.impact,"
        " fault.id, fault.nodes.map((node) => node.target.join(' ')).slice(0, 5)])})))"
    )
    told = json.loads(found)
    assert told["checked"] > 20
    assert [fault for fault in told["faults"] if fault[0] in ("serious", "critical")] == []


def test_no_sideways_scrolling_on_a_phone(
    opened: Callable[[Path], Opened], demo_page: Path
) -> None:
    from tests.web.chromium import set_screen

    page = opened(demo_page)
    set_screen(page.driver, 390, 844, dark=False)
    # The charts follow a change of the window a moment later.
    wait_for(lambda: page.run("return document.documentElement.scrollWidth") <= 390)
