"""The listening page in a browser: what is heard, and when."""

import base64
from collections.abc import Callable
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest
from tests.build import HAT, KICK, SNARE, drum_bytes, midi_bytes, track
from tests.listen.hearing import onsets
from tests.listen.pages import live, make_page, wait_for
from tests.web.chromium import Opened
from typer.testing import CliRunner

from evenhand import Recipe, read_take, tighten
from evenhand.cli.app import app


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
    page = make_page(
        tmp_path, drum_bytes([(tick, SNARE) for tick in ticks]), "--reach", "40", "--lean", "0"
    )
    result = tighten(read_take(tmp_path / "take.mid"), Recipe(reach=40, lean=0))
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


def test_nothing_clips_at_full_level(opened: Callable[[Path], Opened], tmp_path: Path) -> None:
    # Everything at once, as loud as it goes: twice full scale and more without the limiter.
    notes = [KICK, SNARE, 49, 57, 51, 46, 43]
    take = [(480 * beat, note, 127) for beat in range(1, 5) for note in notes]
    page = opened(make_page(tmp_path, drum_bytes(take)))
    soft = page.sound("before", 0, 3000, parts=1, level=0.05)
    assert np.abs(soft).max() / 0.05 > 2
    loud = page.sound("before", 0, 3000, parts=1, level=1.0)
    assert 0.9 < np.abs(loud).max() < 1


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
player.desk = Desk.makeDesk(context);
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
    coded = page.later(_SWITCHED, "before", "after", (switch_ms + 100) / 1000, 5)
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

    def buttons() -> list[Any]:
        return page.driver.find_elements("css selector", "#flags .place")

    assert [button.text for button in buttons()] == [str(flag.place) for flag in flags]
    bar_ms = 4 * 60_000 / 108
    # The worst, and one that is on the first beat of a bar.
    first = next(place for place, flag in enumerate(flags) if str(flag.place).endswith(":1"))
    for number in (0, first):
        buttons()[number].click()
        wait_for(lambda: live(page)["playing"])
        start = (flags[number].place.bar - 1 - 2) * bar_ms
        assert live(page)["from"] == pytest.approx(start, abs=5)


def test_loop_stays_in_its_section(opened: Callable[[Path], Opened], tmp_path: Path) -> None:
    # Bars of half a second: 480 bpm.
    guide = [
        (0, mido.MetaMessage("set_tempo", tempo=125_000)),
        (1920, mido.MetaMessage("marker", text="one bar")),
        (3840, mido.MetaMessage("marker", text="rest")),
    ]
    drums = [
        (tick, mido.Message("note_on", channel=9, note=KICK, velocity=90))
        for tick in range(0, 9600, 120)
    ]
    page = opened(make_page(tmp_path, midi_bytes(track(guide), track(drums))))
    assert page.run("return Data.all.sections[1].name") == "one bar"
    page.run(
        "document.getElementById('loop').value = 'section 1';"
        "document.getElementById('loop').dispatchEvent(new Event('change'))"
    )
    page.find("play").click()
    wait_for(lambda: page.run("return Main.player().lines.length") >= 3)
    scheduled = page.run(
        "const {live} = Main.player();"
        "return live.filter((item) => item.hit >= 0).map((item) => Data.hits.after[item.hit])"
    )
    assert min(scheduled) >= 500
    assert max(scheduled) < 1000
    assert 490 <= live(page)["at"] <= 1010


def test_loop_around_a_flag(opened: Callable[[Path], Opened], demo_page: Path) -> None:
    page = opened(demo_page)
    page.driver.find_elements("css selector", "#flags .place")[3].click()
    wait_for(lambda: live(page)["playing"])
    flag = page.run("return Data.all.flags[3].ms")
    start, stop = live(page)["loop"]
    assert start < flag < stop
    # Whole bars: two ahead, the flag's own, and the one behind it.
    bars = page.run("return Time.barStarts().map(([ms]) => ms)")
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
