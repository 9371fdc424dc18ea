"""The live page in a browser: hear, decide, hear again."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.remote.webdriver import WebDriver
from tests.listen.pages import live, wait_for
from tests.review.client import Client, Running, review
from tests.review.hearing import COUNT, LISTEN, TURN
from tests.web.chromium import Opened

from evenhand import read_recipe, read_take, tighten
from evenhand.jobs.demo_take import demo_take

Open = Callable[[str], Opened]


@pytest.fixture
def take(tmp_path: Path) -> Path:
    path = tmp_path / "take.mid"
    path.write_bytes(demo_take())
    return path


@pytest.fixture
def running(take: Path, driver: WebDriver) -> Iterator[Running]:
    with review(take) as server:
        yield server
        # A page whose server is gone would go on asking for it.
        driver.get("about:blank")


def ready(page: Opened) -> Opened:
    wait_for(lambda: page.run("return document.body.dataset.ready"))
    return page


def settled(page: Opened) -> None:
    """Wait until every change has been answered."""
    wait_for(
        lambda: page.run("const l = Main.line(); return l.asked === null && !l.waiting.length")
    )


def test_hear_decide_hear_again(opened: Open, running: Running, take: Path) -> None:
    page = ready(opened(running.address))
    recipe = take.with_name("take.recipe.toml")
    keys = ActionChains(page.driver)
    # The address that is left to be seen, or copied, has no token.
    assert page.run("return location.href") == f"http://127.0.0.1:{running.port}/"
    sentence = page.find("sentence").text

    # The first place is played; it is left as played; that is heard, while it plays on.
    keys.send_keys("n").perform()
    wait_for(lambda: live(page)["playing"])
    item = page.run("return List.current()")
    before = page.run("return Data.hits.before[arguments[0]]", item["hit"])
    assert page.run("return Data.hits.after[arguments[0]]", item["hit"]) != before
    keys.send_keys("l").perform()
    wait_for(lambda: page.run("return Data.hits.after[arguments[0]]", item["hit"]) == before)
    assert live(page)["playing"]
    assert page.find("sentence").text != sentence
    assert page.find("heard").text.startswith("1 of ")
    assert read_recipe(recipe).settings()["hold"] == (item["place"],)
    scheduled = page.run(
        "const {live, lines} = Main.player(); const line = lines.at(-1);"
        "return live.filter((item) => item.hit >= 0 && item.at > line.when + 0.01)"
        "  .map((item) => [item.hit, line.from + (item.at - line.when) * 1000])"
    )
    now = page.run("return Data.hits.after")
    for hit, ms in scheduled:
        assert ms == pytest.approx(now[hit], abs=0.01)

    # A dial is turned, put aside, turned on; all three are there to compare.
    keys.send_keys(" ").perform()
    page.find("put-aside").click()
    field = page.driver.find_element("css selector", "#settings [aria-label^='strength, ']")
    field.send_keys(Keys.CONTROL + "a")
    # Escape leaves a field, so that the keys work again.
    field.send_keys("20", Keys.ENTER, Keys.ESCAPE)
    wait_for(lambda: read_recipe(recipe).strength == 20)
    settled(page)
    aside, after = page.run("return [Data.hits.slot, Data.hits.after]")
    assert aside != after
    assert after == pytest.approx(
        tighten(read_take(take), read_recipe(recipe)).changes.ms_after, abs=5e-4
    )
    keys.send_keys("2").perform()
    assert live(page)["side"] == "slot"

    # Back to the start, step by step.
    keys.send_keys("u", "u").perform()
    wait_for(lambda: page.find("sentence").text == sentence)
    assert page.find("heard").text.startswith("0 of ")
    assert page.run("return document.getElementById('undo').disabled")
    keys.send_keys("r").perform()
    wait_for(lambda: page.find("heard").text.startswith("1 of "))

    # Kept.
    page.find("keep").click()
    wait_for(lambda: "take-tight.mid" in page.find("told").text)
    assert take.with_name("take-tight.mid").exists()
    page.run("for (const box of document.querySelectorAll('details')) box.open = true")
    assert "Pass 1" in page.find("passes").text
    assert page.console() == []


def test_two_pages_see_each_others_changes(opened: Open, running: Running) -> None:
    page = ready(opened(running.address))
    with running.talk() as line:
        Client(line).ask("set", name="strength", value=10)
        wait_for(lambda: page.run("return Data.all.own.defaults.strength") == 10)
        shown = page.driver.find_element("css selector", "#settings [aria-label^='strength, ']")
        assert shown.get_attribute("value") == "10"


def test_what_is_refused_is_said(opened: Open, running: Running) -> None:
    page = ready(opened(running.address))
    page.run("Decisions.decide({op: 'hold', at: '900:1', on: true})")
    wait_for(lambda: "lies behind the end" in page.find("told").text)
    assert page.run("return Data.all.own.holds") == []


def test_no_hit_is_lost_or_doubled_by_changes_while_it_plays(
    opened: Open, running: Running
) -> None:
    # Sixty changes here, to be quick; tests/benchmarks/bench_review.py makes two hundred.
    page = ready(opened(running.address))
    page.run(LISTEN)
    page.find("play").click()
    wait_for(lambda: live(page)["playing"])
    page.run("Main.player().first = Main.player().position()")
    page.driver.set_script_timeout(60)
    took = page.later(TURN, 60)
    wait_for(lambda: live(page)["at"] > 9000, seconds=15)
    told = page.run(COUNT, 150)
    assert len(took) == 60
    assert told["due"] > 20
    assert (told["lost"], told["doubled"]) == ([], [])


def test_a_server_that_comes_back_is_found_again(opened: Open, take: Path) -> None:
    with review(take) as server:
        page = ready(opened(server.address))
        page.run("Decisions.decide({op: 'hold', at: '5:1', on: true})")
        wait_for(lambda: page.run("return Data.all.own.holds.length") == 1)
        port, token = server.port, server.token
    wait_for(lambda: "server is away" in page.find("told").text)
    # Another start has another token: the old page can't speak to it, and says so still.
    with review(take, "--port", str(port)) as server:
        assert server.token != token
        page = ready(opened(server.address))
        assert page.run("return Data.all.own.holds") == ["5:1"]
        page.driver.get("about:blank")


def test_the_page_has_no_serious_fault(opened: Open, running: Running, npm: Path) -> None:
    import json

    page = ready(opened(running.address))
    page.run("List.step(1); Main.player().pause(); document.getElementById('put-aside').click()")
    page.run("for (const box of document.querySelectorAll('details')) box.open = true")
    settled(page)
    # The page's own policy lets no script in; the browser's tools do.
    page.driver.execute_cdp_cmd(
        "Runtime.evaluate",
        {"expression": (npm / "axe-core/axe.min.js").read_text(encoding="utf-8")},
    )
    found = page.later(
        "const done = arguments[0]; axe.run(document).then((found) => done(JSON.stringify("
        "{checked: found.passes.length, faults: found.violations.map((fault) => [fault.impact,"
        " fault.id, fault.nodes.map((node) => node.target.join(' ')).slice(0, 5)])})))"
    )
    told = json.loads(found)
    assert told["checked"] > 20
    assert told["faults"] == []
