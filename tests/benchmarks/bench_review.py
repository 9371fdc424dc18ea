"""Measure the live page in Chromium: how soon a change is seen and heard, and what dragging costs.

Run in the project's folder:  python tests/benchmarks/bench_review.py [--turns 200] TAKE [TAKE ...]
Each figure is the median of its tries; in brackets the slowest. Beside them stands the processor
time of the server, which other work lengthens least (where the system tells it).
"""

import argparse
import functools
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.listen.pages import live, wait_for
from tests.review.client import Running, review
from tests.review.hearing import COUNT, LISTEN, TURN
from tests.web import chromium

#: Say of the current place that it stays as played, and wait until it sounds so.
_DECIDE = """
const [done] = arguments;
const line = Main.line();
const start = performance.now();
const call = line.calls.changed;
line.calls.changed = (data) => {
  call(data);
  line.calls.changed = call;
  requestAnimationFrame(() => setTimeout(() => done(performance.now() - start), 0));
};
document.body.dispatchEvent(new KeyboardEvent("keydown", {key: "l", bubbles: true}));
"""

#: Time between the frames while a hit is dragged up and down.
_FRAMES = """
window.frames_ = [];
let last = performance.now();
const frame = (now) => {
  window.frames_.push(now - last);
  last = now;
  if (window.dragging) requestAnimationFrame(frame);
};
window.dragging = true;
requestAnimationFrame(frame);
"""

_SPOT = """
const [from, to] = Chart.limits();
const [hit, ms, , after] = Chart.points().find((one) =>
  one[1] > from + (to - from) / 3 && Data.hits.lined[one[0]]);
const box = document.querySelector('#chart .u-over').getBoundingClientRect();
const [x, y] = Chart.spot(ms, after);
return [x + box.left, y + box.top];
"""


#: Turns of a dial in one go.
_AT_ONCE = 25


def median_of(tries: Sequence[float]) -> str:
    return f"{statistics.median(tries):.0f} ms ({max(tries):.0f})"


def spent(server: Running) -> float:
    """Processor time of a server so far, ms; nothing where the system does not tell."""
    stat = Path(f"/proc/{server.process.pid}/stat")
    if not stat.exists():
        return float("nan")
    user, system = stat.read_text().rpartition(")")[2].split()[11:13]
    return (int(user) + int(system)) * 1000 / os.sysconf("SC_CLK_TCK")


def start_to_ready(driver: Any, take: Path) -> tuple[float, float]:
    start = time.perf_counter()
    with review(take) as server:
        driver.get(server.address)
        wait_for(lambda: driver.execute_script("return document.body.dataset.ready"), 60)
        took = time.perf_counter() - start
        busy = spent(server)
        driver.get("about:blank")
    return took * 1000, busy


def dragging(page: chromium.Opened) -> tuple[int, int]:
    """Frames over 33 ms while a hit is dragged, the processor slowed four times; and all frames."""
    page.run("Main.player().pause(); Chart.show(20000, 24000)")
    page.run("document.getElementById('chart').scrollIntoView({block: 'center'})")
    time.sleep(0.5)
    left, top = page.run(_SPOT)
    page.driver.execute_cdp_cmd("Emulation.setCPUThrottlingRate", {"rate": 4})

    def mouse(kind: str, y: float, **more: Any) -> None:
        event = {"type": kind, "x": left, "y": y, "button": "left", "buttons": 1, **more}
        page.driver.execute_cdp_cmd("Input.dispatchMouseEvent", event)

    mouse("mousePressed", top, clickCount=1)
    mouse("mouseMoved", top + 8)
    page.run(_FRAMES)
    end, step = time.monotonic() + 3, 0
    while time.monotonic() < end:
        step += 1
        mouse("mouseMoved", top + 8 + 20 * ((step % 20) / 20))
        time.sleep(0.008)
    frames = page.run("window.dragging = false; return window.frames_.slice(1)")
    mouse("mouseReleased", top + 8, clickCount=1)
    page.driver.execute_cdp_cmd("Emulation.setCPUThrottlingRate", {"rate": 1})
    return sum(one > 33.4 for one in frames), len(frames)


def measure(driver: Any, take: Path, turns: int) -> None:
    say = functools.partial(print, end="", flush=True)
    starts = [start_to_ready(driver, take) for _ in range(3)]
    with review(take) as server:
        page = chromium.Opened(driver, server.address)
        wait_for(lambda: page.run("return document.body.dataset.ready"), 60)
        hits, minutes = page.run("return [Data.count, Data.all.music_ms / 60000]")
        say(f"{take.name}: {hits} hits, {minutes:.1f} minutes\n")
        walls, busy = zip(*starts, strict=True)
        say(f"  start to ready          {median_of(walls)}; server {median_of(busy)}\n")

        driver.set_script_timeout(300)
        page.run(LISTEN)
        page.find("play").click()
        wait_for(lambda: live(page)["playing"])
        page.run("Main.player().first = Main.player().position()")
        took, before = [], spent(server)
        # Some at a time: a driver does not wait for long.
        while len(took) < turns:
            took += page.later(TURN, min(_AT_ONCE, turns - len(took)))
        each = (spent(server) - before) / turns
        told = page.run(COUNT, 150)
        say(f"  dial to chart and sound {median_of(took)}, {turns} turns; server {each:.0f} ms\n")
        say(
            f"  lost, doubled           {len(told['lost'])}, {len(told['doubled'])} "
            f"of {told['due']} hits over {turns} changes\n"
        )
        decided = []
        for _ in range(min(10, page.run("return Data.all.flags.length"))):
            page.run("List.step(1)")
            time.sleep(0.3)
            if page.run("return List.current().as") is None:
                decided.append(page.later(_DECIDE))
        say(f"  decision to hearing it  {median_of(decided)}, {len(decided)} places\n")
        slow, frames = dragging(page)
        say(f"  frames over 33 ms       {slow} of {frames} while dragging, slowed four times\n")
        driver.get("about:blank")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--turns", type=int, default=200)
    parser.add_argument("takes", type=Path, nargs="+")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, chromium.browser(watched=False) as driver:
        chromium.set_screen(driver, 1280, 900, dark=False)
        for one in given.takes:
            # The decisions are written beside the take: so this works on a copy.
            take = Path(folder) / one.name
            take.write_bytes(one.read_bytes())
            measure(driver, take, given.turns)


if __name__ == "__main__":
    main()
