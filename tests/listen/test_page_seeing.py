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
from selenium.webdriver.support.select import Select
from tests.build import KICK, midi_bytes, track
from tests.listen.pages import live, make_page, pushed_take, wait_for
from tests.web.chromium import Opened

from evenhand import Recipe, Take, read_recipe, read_take, tighten
from evenhand.jobs.demo_take import demo_take
from evenhand.listen.data import Names, page_data
from evenhand.listen.page_file import build_page
from evenhand.listen.pair import compare
from evenhand.paper.change_log import change_log


def type_in(page: Opened, name: str, value: str) -> None:
    """Type into the field of a setting."""
    field = page.driver.find_element("css selector", f"#settings [aria-label^='{name}, ']")
    field.send_keys(Keys.CONTROL + "a")
    field.send_keys(value, Keys.TAB)


HOSTILE = "</script><img src=x onerror=alert(1)>&amp;\"'`${1}<!--"


def test_opens_from_disk_with_no_error_and_no_request(
    opened: Callable[[Path], Opened], demo_page: Path
) -> None:
    page = opened(demo_page)
    page.find("play").click()
    wait_for(lambda: page.run("return Main.player().playing"))
    page.find("play").click()
    page.find("go-on").click()
    assert page.driver.title == "evenhand: kettle-weather.mid"
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
    story = page.run("return Words.story(arguments[0])", moved)
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
    assert press("1")["side"] == "before"
    assert press("3")["side"] == "after"
    assert press("+")["click"] == -29
    assert press("-")["click"] == -32
    page.run("document.getElementById('use-keys').checked = false")
    assert press("b")["side"] == "after"
    page.run("document.getElementById('use-keys').checked = true")
    assert press("h")["speed"] == 0.5
    assert press("h")["speed"] == 1
    assert press("o")["loop"] is not None
    assert press("o")["loop"] is None
    first, second = page.run("return Data.all.flags.slice(0, 2).map(({key}) => key)")
    for key, current in (("n", first), ("n", second), ("p", first)):
        press(key)
        wait_for(lambda: live(page)["playing"])
        assert page.run("return List.current().key") == current
    page.run("for (const box of document.querySelectorAll('details')) box.open = true")
    listed = [key.text for key in page.driver.find_elements("css selector", "#keys kbd")]
    letters = [*("Space", "N", "P", "S", "L", "E", "D", "W", "B", "1", "2", "3", "U", "R")]
    assert listed[: len(letters)] == letters


def test_keys_work_whatever_was_clicked_last(
    opened: Callable[[Path], Opened], demo_page: Path
) -> None:
    page = opened(demo_page)
    page.run("for (const box of document.querySelectorAll('details')) box.open = true")
    keys = ActionChains(page.driver)
    for name in ("click", "loop", "count-in", "click-on", "speed", "zoom-in", "side-after"):
        page.run("arguments[0].scrollIntoView({block: 'center'})", page.find(name))
        page.find(name).click()
        # A choice that was opened is closed by its own key first.
        if page.find(name).tag_name == "select":
            keys.send_keys(Keys.ESCAPE).perform()
        side = live(page)["side"]
        keys.send_keys("b").perform()
        assert live(page)["side"] != side, name
        keys.send_keys("b").perform()
    before = page.run("return Chart.limits()")
    page.run("arguments[0].scrollIntoView({block: 'center'})", page.find("zoom-in"))
    page.find("zoom-in").click()
    closer = page.run("document.getElementById('follow').checked = false; return Chart.limits()")
    assert closer != before
    keys.send_keys(" ").perform()
    wait_for(lambda: live(page)["playing"])
    assert page.run("return Chart.limits()") == closer
    # Where text is typed, letters are letters.
    page.run("Main.choose(10)")
    side = live(page)["side"]
    page.find("nudge-ms").send_keys("b")
    assert live(page)["side"] == side


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
    page.run("Chart.show(22000, 30000); document.getElementById('chart').scrollIntoView()")
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
    page.run("for (const box of document.querySelectorAll('details')) box.open = true")
    cells = [cell.text for cell in page.driver.find_elements("css selector", "#sections th")]
    assert any(len(cell) > 30 and HOSTILE.startswith(cell) for cell in cells)
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
    page.run("Main.choose(arguments[0])", moved)
    page.find("hit-hold").click()
    assert page.find("hit-hold").get_attribute("aria-pressed") == "true"
    type_in(page, "strength", "900")
    assert "strength: 900 is not 0 to 100 percent" in page.find("settings").text
    type_in(page, "strength", "60")
    assert "is not 0 to 100" not in page.find("settings").text
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
    for section, name, value in ((index, "strength", "20"), (index + 1, "lean", "0")):
        Select(page.find("settings-of")).select_by_index(section + 1)
        type_in(page, name, value)
    written.write_text(page.find("recipe").get_attribute("value"), encoding="utf-8")
    verse, after = read_recipe(written).section
    assert (verse.bars, dict(verse.settings)) == ("5-20", {"strength": 20, "fills": "tight"})
    assert dict(after.settings) == {"lean": 0}
    assert page.console() == []


def test_decisions_outlive_a_reload_and_can_be_undone(
    opened: Callable[[Path], Opened], demo_page: Path
) -> None:
    page = opened(demo_page)
    page.run("Main.choose(10)")
    page.find("hit-hold").click()
    page.find("nudge-later").click()
    decided = page.find("recipe").get_attribute("value")
    again = opened(demo_page)
    assert again.find("recipe").get_attribute("value") == decided
    again.run("Main.choose(10)")
    assert again.find("hit-hold").text == "Held: stays as played"
    again.find("hit-hold").click()
    again.find("undo").click()
    assert again.find("recipe").get_attribute("value") == decided
    again.find("redo").click()
    assert again.find("recipe").get_attribute("value") != decided
    again.run("localStorage.clear()")


def test_the_list_is_gone_through_by_keyboard(
    opened: Callable[[Path], Opened], demo_page: Path
) -> None:
    page = opened(demo_page)
    count = page.run("return Data.all.flags.length")
    keys = ActionChains(page.driver)
    assert page.find("heard").text == f"0 of {count} heard"
    keys.send_keys("n", "s").perform()
    # What sounds right is left behind: the next is current.
    first, second, third = page.run("return Data.all.flags.slice(0, 3)")
    assert page.run("return List.current().key") == second["key"]
    keys.send_keys("l").perform()
    keys.send_keys("n", "e", "e").perform()
    assert page.find("heard").text == f"3 of {count} heard"
    told = tomllib.loads(page.find("recipe").get_attribute("value"))
    assert [hold["at"] for hold in told["hold"]] == [second["place"]]
    assert [(nudge["at"], nudge["ms"]) for nudge in told["nudge"]] == [(third["place"], -2)]
    said = page.run("return Decisions.marks().map((mark) => [mark.key, mark.as])")
    assert said == [[first["key"], "right"], [second["key"], "left"], [third["key"], "nudged"]]
    # Undone one by one, and all is as it was.
    keys.send_keys("u", "u", "u", "u").perform()
    assert page.find("heard").text == f"0 of {count} heard"
    page.run("localStorage.clear()")


def test_a_hit_is_dragged_where_it_should_be(
    opened: Callable[[Path], Opened], demo_page: Path
) -> None:
    page = opened(demo_page)
    page.run("Chart.show(22000, 26000); document.getElementById('chart').scrollIntoView()")
    hit, left, top = page.run(
        "const [hit, ms, , after] = Chart.points().find((one) =>"
        "  one[1] > 23500 && Data.hits.lined[one[0]]);"
        "const box = document.querySelector('#chart .u-over').getBoundingClientRect();"
        "const [x, y] = Chart.spot(ms, after);"
        "return [hit, x + box.left, y + box.top]"
    )
    mouse = ActionChains(page.driver)
    mouse.move_by_offset(round(left), round(top)).click_and_hold()
    mouse.move_by_offset(0, 12).move_by_offset(0, 18).release().perform()
    told = tomllib.loads(page.find("recipe").get_attribute("value"))
    (nudge,) = told["nudge"]
    assert nudge["at"] == page.run("return Data.hits.at[arguments[0]]", hit)
    # Down is early; the chart says how many ms 30 pixels are.
    expected = page.run("return Chart.worth(0, 30)[1]")
    assert expected < -1
    assert nudge["ms"] == pytest.approx(expected, abs=0.15)
    page.run("localStorage.clear()")


def test_bars_are_played_and_looped_from_the_strip(
    opened: Callable[[Path], Opened], demo_page: Path
) -> None:
    page = opened(demo_page)
    strip = page.driver.find_element("css selector", "#strip canvas")
    page.run("document.getElementById('strip').scrollIntoView({block: 'center'})")
    cell = strip.size["width"] / page.run("return Strip.count()")
    mouse = ActionChains(page.driver)

    def over(bar: int) -> tuple[int, int]:
        return round(cell * (bar + 0.5) - strip.size["width"] / 2), 10

    mouse.move_to_element_with_offset(strip, *over(11)).click().perform()
    wait_for(lambda: live(page)["playing"])
    bars = page.run("return Time.barStarts().map(([ms]) => ms)")
    assert live(page)["from"] == pytest.approx(bars[11])
    page.find("play").click()
    mouse.move_to_element_with_offset(strip, *over(20)).click_and_hold()
    mouse.move_to_element_with_offset(strip, *over(23)).release().perform()
    wait_for(lambda: live(page)["playing"])
    assert live(page)["loop"] == pytest.approx([bars[20], bars[24]])


def test_fills_and_bars_that_ran_as_one_are_drawn_and_played(
    opened: Callable[[Path], Opened], tmp_path: Path
) -> None:
    page = opened(make_page(tmp_path, pushed_take().to_bytes()))
    from_ms, to_ms, far = page.run(
        "const one = Data.all.pushes.find(({ms}) => ms > 20);"
        "return [one.from_ms, one.to_ms, one.ms]"
    )
    # In the chart the push is as high as it ran far: its colour is there, and not beyond it.
    colours = page.run(
        "const [from, to, far] = arguments; Chart.show(from - 500, to + 500);"
        "const canvas = document.querySelector('#chart canvas');"
        "const box = Chart.over().getBoundingClientRect();"
        "const whole = canvas.getBoundingClientRect();"
        "const ratio = canvas.width / whole.width;"
        "const at = (ms, deviation) => { const [x, y] = Chart.spot(ms, deviation);"
        "  const [left, top] = [x + box.left - whole.left, y + box.top - whole.top];"
        "  const ctx = canvas.getContext('2d');"
        "  return [...ctx.getImageData(left * ratio, top * ratio, 1, 1).data]; };"
        "return new Promise((done) => setTimeout(() => done("
        "  [at((from + to) / 2 + 37, -far), at(from - 200, far / 2 + 1.7), "
        "   at((from + to) / 2 + 37, far / 2 + 1.7)]), 200));",
        from_ms,
        to_ms,
        far,
    )
    assert colours[2] not in colours[:2]
    page.driver.execute_script("document.getElementById('stretches-part').open = true")
    lines = page.driver.find_elements("css selector", "#stretches li")
    assert len(lines) == page.run("return Data.all.fills.length + Data.all.pushes.length")
    (line,) = [one for one in lines if "behind" in one.text]
    assert line.text.startswith("14:")
    line.find_element("tag name", "button").click()
    wait_for(lambda: live(page)["playing"])
    begin, end = live(page)["loop"]
    assert begin < from_ms < end


def test_save_hands_over_the_recipe(
    opened: Callable[[Path], Opened], demo_page: Path, tmp_path: Path
) -> None:
    page = opened(demo_page)
    page.driver.execute_cdp_cmd(
        "Browser.setDownloadBehavior", {"behavior": "allow", "downloadPath": str(tmp_path)}
    )
    page.run("Main.choose(10)")
    page.find("hit-hold").click()
    page.find("save").click()
    saved = tmp_path / "kettle-weather.recipe.toml"
    wait_for(saved.exists)
    assert saved.read_text(encoding="utf-8") == page.find("recipe").get_attribute("value")
    assert len(read_recipe(saved).hold) == 1


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
    page.run("Main.choose(10)")
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
