"""The listening page as a person meets it: in a browser, from the disk, with sound."""

import base64
import csv
import io
import json
import time
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys
from tests.build import HAT, KICK, SNARE, drum_bytes, midi_bytes, track
from tests.ear.hearing import onsets
from tests.web.chromium import Opened
from typer.testing import CliRunner

from evenhand import Recipe, Take, read_recipe, read_take, tighten
from evenhand.cli.app import app
from evenhand.ear.comparison import compare
from evenhand.ear.page.build import build_page
from evenhand.ear.page.data import Names, page_data
from evenhand.jobs.demo import demo_take
from evenhand.paper.change_log import change_log

HOSTILE = "</script><img src=x onerror=alert(1)>&amp;\"'`${1}<!--"


def make_page(folder: Path, data: bytes, *options: str, name: str = "take.mid") -> Path:
    (folder / name).write_bytes(data)
    page = folder / "page.html"
    command = ["listen", str(folder / name), "-o", str(page), "--overwrite", *options]
    done = CliRunner().invoke(app, command)
    assert done.exit_code == 0, done.output
    return page


@pytest.fixture(scope="module")
def demo_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_page(tmp_path_factory.mktemp("demo"), demo_take(), name="kettle-weather.mid")


def wait_for(condition: Callable[[], Any], seconds: float = 5.0) -> Any:
    """Wait until something holds, and fail if it does not within `seconds`."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = condition()
        if found:
            return found
        time.sleep(0.02)
    raise AssertionError("waited in vain")


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
    refused = page.driver.execute_async_script(
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


@pytest.mark.parametrize("note", [KICK, SNARE, HAT])
def test_sound_starts_within_a_millisecond_of_each_hit(
    opened: Callable[[Path], Opened], tmp_path: Path, note: int
) -> None:
    # Hits far apart, all off the grid by odd amounts; the expected times come from mido alone.
    ticks = [480 + 720 * index + 37 * (index % 5) for index in range(14)]
    page = opened(make_page(tmp_path, drum_bytes([(tick, note, 110) for tick in ticks])))
    heard = onsets(page.sound("before", 0, 12_000), 44_100, quiet_ms=60)
    expected = [mido.tick2second(tick, 480, 500_000) * 1000 for tick in ticks]
    assert len(heard) == len(expected)
    assert np.abs(heard - expected).max() < 1.0


def test_after_sounds_at_the_times_of_the_tightened_take(
    opened: Callable[[Path], Opened], tmp_path: Path
) -> None:
    ticks = [960 * index + 480 + (25 if index % 2 else -31) for index in range(10)]
    page = make_page(tmp_path, drum_bytes([(tick, SNARE) for tick in ticks]))
    result = tighten(read_take(tmp_path / "take.mid"))
    assert np.abs(result.changes.shift_ms).min() > 5
    heard = onsets(opened(page).sound("after", 0, 11_000), 44_100, quiet_ms=100)
    assert len(heard) == len(ticks)
    assert np.abs(heard - result.changes.ms_after).max() < 1.0


def test_click_sounds_on_beats_and_their_parts(
    opened: Callable[[Path], Opened], tmp_path: Path
) -> None:
    page = opened(make_page(tmp_path, drum_bytes([(0, KICK), (9600, KICK)])))
    heard = onsets(page.sound("before", 900, 3900, parts=2), 44_100, quiet_ms=40) + 900
    assert heard == pytest.approx(np.arange(1000, 3900, 250), abs=1.0)


def test_page_and_rendered_file_sound_alike(
    opened: Callable[[Path], Opened], tmp_path: Path
) -> None:
    # Two independent ways from the same samples: Web Audio here, NumPy there. Steps of 48 ticks
    # are 2205 samples, so that no hit lies between two samples; the voices are those with samples
    # of the full rate, because a browser reads others by straight lines. 42 and 44 choke.
    import soundfile

    notes = [SNARE, HAT, 51, 44, HAT, 40]
    take = [(48 * step, notes[step % 6], 127 - 12 * (step % 11)) for step in range(280)]
    page = make_page(tmp_path, drum_bytes(take))
    wav = tmp_path / "take.wav"
    done = CliRunner().invoke(app, ["render", str(tmp_path / "take.mid"), "-o", str(wav)])
    assert done.exit_code == 0, done.output
    rendered, _ = soundfile.read(wav, frames=15 * 44_100)
    heard = opened(page).sound("before", 0, 15_000)
    assert np.corrcoef(rendered, heard)[0, 1] > 0.999999


def live(page: Opened) -> dict[str, Any]:
    state: dict[str, Any] = page.run(
        "const player = Main.player();"
        "return {playing: player.playing, at: player.position(), side: player.side,"
        " click: player.levels.click, speed: player.speed, loop: player.loop}"
    )
    return state


def test_play_makes_sound_and_switches_without_a_gap(
    opened: Callable[[Path], Opened], demo_page: Path
) -> None:
    page = opened(demo_page)
    page.run("Main.player().at = 30000")
    page.find("play").click()
    wait_for(lambda: live(page)["at"] > 30_300)
    page.run(
        "const {desk} = Main.player(); window.meter = desk.context.createAnalyser();"
        "window.meter.fftSize = 32768; desk.master.connect(window.meter)"
    )
    loudness = (
        "const block = new Float32Array(window.meter.fftSize);"
        "window.meter.getFloatTimeDomainData(block);"
        "return Math.max(...block.map(Math.abs))"
    )
    assert wait_for(lambda: page.run(loudness) > 0.001)
    before = live(page)
    # What is scheduled for the moments after the switch must be the other side, each hit once.
    scheduled = page.run(
        "const player = Main.player(); const now = player.desk.context.currentTime;"
        "const at = player.position(); player.change({side: 'before'});"
        "const line = player.lines.at(-1);"
        "const jump = player.position() - at;"
        "return {jump, passed: (player.desk.context.currentTime - now) * 1000,"
        "  times: player.live.filter((item) => item.hit >= 0 && item.at > now + 0.003)"
        "    .map((item) => [item.hit, line.from + (item.at - line.when) * 1000]),"
        "  from: line.from}"
    )
    assert -0.1 <= scheduled["jump"] <= scheduled["passed"] + 0.1
    hits = page.run("return Data.hits.before")
    times = dict(scheduled["times"])
    assert len(times) == len(scheduled["times"]) > 3
    for hit, ms in scheduled["times"]:
        assert ms == pytest.approx(hits[hit], abs=0.01)
    due = {
        hit for hit, ms in enumerate(hits) if scheduled["from"] + 100 < ms < scheduled["from"] + 900
    }
    assert due <= set(times)
    after = live(page)
    assert after["playing"]
    assert after["side"] == "before"
    wait_for(lambda: live(page)["at"] > before["at"] + 200)
    assert page.console() == []


#: Play from the start with the page's own player, but into a buffer: at one moment the sides are
#: switched, at others the player looks ahead as its timer would make it. The take starts at 100 ms.
_SWITCHED = """
const [first, second, moment, seconds, done] = arguments;
const context = new OfflineAudioContext(1, seconds * 44100, 44100);
const player = Main.player();
player.desk = Sound.makeDesk(context);
player.open = async () => {};
player.parts = 0;
player.side = first;
player.play(0).then(() => {
  clearInterval(player.timer);
  const moments = new Map([[moment, () => player.change({side: second})]]);
  for (let at = 0.25; at < seconds; at += 0.5) moments.set(at, () => player.tick());
  for (const [at, work] of moments) {
    context.suspend(at).then(() => { work(); context.resume(); });
  }
  context.startRendering().then((sound) => {
    const bytes = new Uint8Array(sound.getChannelData(0).buffer);
    let text = "";
    for (let at = 0; at < bytes.length; at += 32768) {
      text += String.fromCharCode(...bytes.subarray(at, at + 32768));
    }
    done(btoa(text));
  });
});
"""


@pytest.mark.parametrize(
    ("switch_ms", "heard_ms"),
    [
        # Between two hits: none is lost, none comes twice.
        (2250, [410, 1090, 1410, 2090, 2500, 3000, 3500, 4000]),
        # Hit 5 has sounded early and lies ahead again on the other side: not twice.
        (2460, [410, 1090, 1410, 2090, 2410, 3000, 3500, 4000]),
        # Hit 6 has not sounded, and lies behind on the other side: at once.
        (3040, [410, 1090, 1410, 2090, 2410, 3040, 3500, 4000]),
    ],
)
def test_every_hit_sounds_once_whenever_the_sides_are_switched(
    opened: Callable[[Path], Opened], tmp_path: Path, switch_ms: float, heard_ms: list[float]
) -> None:
    # Early and late by 90 ms in turn (480 ticks are 500 ms); the pass puts all on the beat. A kick
    # lasts 82 ms, so that two of them would be heard apart.
    ticks = [480 * beat + (86.4 if beat % 2 == 0 else -86.4) for beat in range(1, 9)]
    notes = [(round(tick), KICK, 127) for tick in ticks]
    settings = ("--grid", "1/8", "--strength", "100", "--window", "0")
    page = opened(make_page(tmp_path, drum_bytes(notes), *settings))
    coded = page.driver.execute_async_script(
        _SWITCHED, "before", "after", (switch_ms + 100) / 1000, 5
    )
    sound = np.frombuffer(base64.b64decode(coded), np.float32)
    heard = onsets(sound, 44_100, quiet_ms=5) - 100
    # A suspended context stops at the next block of 128 samples, 3 ms.
    assert heard == pytest.approx(heard_ms, abs=4)


def test_switching_the_side_by_hand(opened: Callable[[Path], Opened], demo_page: Path) -> None:
    page = opened(demo_page)
    assert live(page)["side"] == "after"
    page.find("side-before").click()
    assert live(page)["side"] == "before"
    page.find("side-after").click()
    assert live(page)["side"] == "after"


def test_flags_jump_two_bars_ahead(opened: Callable[[Path], Opened], demo_page: Path) -> None:
    page = opened(demo_page)
    flags = tighten(read_take(demo_page.with_name("kettle-weather.mid"))).flags
    buttons = page.driver.find_elements("css selector", "#flags button")
    assert [button.text for button in buttons] == [str(flag.place) for flag in flags]
    bar_ms = 4 * 60_000 / 108
    for number in (0, 3):
        buttons[number].click()
        wait_for(lambda: live(page)["playing"])
        bar = page.run("return Data.placeAt(Data.all.flags[arguments[0]].ms)", number)
        start = (int(bar.partition(":")[0]) - 1 - 2) * bar_ms
        assert start - 5 <= live(page)["at"] <= start + 700


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
        "return [hit, ms, ...Chart.spot(ms, before), box.left, box.top]"
    )
    hit, ms, left, top, box_left, box_top = spot
    mouse = ActionChains(page.driver)
    mouse.move_by_offset(round(box_left + left), round(box_top + top)).perform()
    wait_for(lambda: not page.run("return document.querySelector('.tip').hidden"))
    assert page.run("return document.querySelector('.tip').textContent").startswith(
        f"Hit {hit + 1}:"
    )
    mouse.click().perform()
    wait_for(lambda: live(page)["playing"])
    assert abs(live(page)["at"] - ms) < 700


def test_loop_stays_in_its_section(opened: Callable[[Path], Opened], tmp_path: Path) -> None:
    guide = [
        (960, mido.MetaMessage("marker", text="start")),
        (1920, mido.MetaMessage("marker", text="one bar")),
        (2400, mido.MetaMessage("marker", text="rest")),
    ]
    drums = [
        (tick, mido.Message("note_on", channel=9, note=KICK, velocity=90))
        for tick in range(0, 9600, 120)
    ]
    page = opened(make_page(tmp_path, midi_bytes(track(guide), track(drums))))
    page.run(
        "document.getElementById('loop').value = 'section 2';"
        "document.getElementById('loop').dispatchEvent(new Event('change'))"
    )
    page.find("play").click()
    wait_for(lambda: page.run("return Main.player().lines.length") >= 3)
    scheduled = page.run(
        "const {live, lines} = Main.player();"
        "return live.filter((item) => item.hit >= 0).map((item) => Data.hits.before[item.hit])"
    )
    assert min(scheduled) >= 2000
    assert max(scheduled) < 2500
    assert 1990 <= live(page)["at"] <= 2510


def test_loop_around_a_flag(opened: Callable[[Path], Opened], demo_page: Path) -> None:
    page = opened(demo_page)
    page.run(
        "document.getElementById('loop').value = 'here';"
        "document.getElementById('loop').dispatchEvent(new Event('change'))"
    )
    page.driver.find_elements("css selector", "#flags button")[3].click()
    wait_for(lambda: live(page)["playing"])
    flag = page.run("return Data.all.flags[3].ms")
    start, stop = live(page)["loop"]
    assert start < flag < stop
    # Whole bars: two ahead, the flag's own, and the one behind it.
    bars = page.run("return Data.barStarts().map(([ms]) => ms)")
    assert bars.index(stop) - bars.index(start) == 4
    assert bars[bars.index(start) + 2] <= flag < bars[bars.index(start) + 3]


def test_half_speed_and_count_in(opened: Callable[[Path], Opened], tmp_path: Path) -> None:
    page = opened(make_page(tmp_path, drum_bytes([(tick, KICK) for tick in range(0, 9600, 240)])))
    page.run("const player = Main.player(); player.speed = 0.5; player.countIn = true")
    page.find("play").click()
    wait_for(lambda: live(page)["playing"])
    state = page.run(
        "const {lines, live, desk} = Main.player();"
        "return {clicks: live.filter((item) => item.hit < 0 && item.at < lines[0].when - 0.001)"
        "    .map((item) => lines[0].when - item.at),"
        "  hits: live.filter((item) => item.hit >= 0).map((item) => item.at - lines[0].when)}"
    )
    # Four beats of 500 ms at half speed: a second each.
    assert state["clicks"] == pytest.approx([4, 3, 2, 1], abs=1e-6)
    page.run("Main.player().countIn = false; Main.player().play(0)")
    wait_for(
        lambda: page.run("return Main.player().live.filter((item) => item.hit >= 0).length") >= 3
    )
    spacing = page.run(
        "const items = Main.player().live.filter((item) => item.hit >= 0);"
        "return items[1].at - items[0].at"
    )
    assert spacing == pytest.approx(0.5, abs=0.001)


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
    assert page.run("return document.scripts.length") == 10
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
    data["supports"].update(nudge=True, section=["strength", "window", "lean"])
    path = tmp_path / "page.html"
    path.write_bytes(build_page(data))
    page = opened(path)
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
    found = page.driver.execute_async_script(
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
    wide = page.run("return document.documentElement.scrollWidth")
    assert wide <= 390
