"""Listening: how long it takes to make, open and move a page, and to render a take.

Run in the project's folder:  python -m tests.benchmarks.bench_listen
The take is invented: 17 minutes at 114 bpm, 11,500 hits. Baselines are measured in the same run;
on a busy machine the seconds of the processor tell more than those on the clock.
"""

import contextlib
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from tests.build import drum_bytes
from tests.web import chromium

HITS, BPM, SECONDS = 11_500, 114, 17 * 60

_SCROLL = """
const done = arguments[0];
const [from, length, steps] = [0, 30000, 120];
const times = [];
let step = 0;
let last = performance.now();
function frame(now) {
  times.push(now - last);
  last = now;
  if (step === steps) { times.shift(); done(times); return; }
  const begin = from + (step * (Data.all.end_ms - length)) / steps;
  Chart.view(begin, begin + length);
  step += 1;
  requestAnimationFrame(frame);
}
requestAnimationFrame(frame);
"""

_DRAW = """
const done = arguments[0];
(async () => {
  const times = [];
  for (let round = 0; round < 21; round += 1) {
    const begin = performance.now();
    Chart.redraw();
    // uPlot draws in the microtask that follows.
    await null;
    await null;
    times.push(performance.now() - begin);
  }
  done(times.sort((a, b) => a - b)[10]);
})();
"""


def long_take() -> bytes:
    """Eleven and a half thousand hits in seventeen minutes, none exactly on the grid."""
    chance = random.Random(17)
    ticks = SECONDS * BPM / 60 * 480
    notes = [36, 38, 42, 42, 46, 51, 44, 48, 49, 53]
    return drum_bytes(
        [
            (
                round(ticks * hit / HITS) + chance.randint(0, 25),
                notes[hit % len(notes)],
                chance.randint(20, 127),
            )
            for hit in range(HITS)
        ],
        bpm=BPM,
    )


@contextlib.contextmanager
def timed(times: list[float]) -> Iterator[None]:
    """Append the seconds that something takes."""
    begin = time.perf_counter()
    yield
    times.append(time.perf_counter() - begin)


def process(*words: str) -> tuple[float, float]:
    """Best of three whole processes: seconds on the clock, seconds of the processor."""
    times: list[float] = []
    spent: list[float] = []
    for _ in range(3):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        with timed(times):
            subprocess.run([sys.executable, *words], check=True, capture_output=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        spent.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(times), min(spent)


def row(what: str, times: tuple[float, float], note: str = "") -> None:
    """Print one line."""
    print(f"{what:38}  {times[0]:6.2f} s, processor {times[1]:5.2f} s  {note}")


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        take, page = folder / "take.mid", folder / "page.html"
        take.write_bytes(long_take())
        evenhand = ("-c", "from evenhand.__main__ import main; main()")
        bare = process("-c", "import numpy")
        row("baseline: python -c 'import numpy'", bare)
        made = process(*evenhand, "listen", str(take), "-o", str(page), "--overwrite")
        row("listen, whole process", made, f"{made[0] / bare[0]:.1f} x the baseline")
        print(f"size of the page: {page.stat().st_size / 1e6:.2f} MB")
        for kind, more in (("wav", ()), ("wav", ("--click", "-24")), ("flac", ()), ("ogg", ())):
            sound = str(folder / f"take.{kind}")
            times = process(*evenhand, "render", str(take), "-o", sound, "--overwrite", *more)
            rates = " / ".join(f"{SECONDS / one:.0f}" for one in times)
            row(f"render to {kind} {' '.join(more)}", times, f"{rates} x real time")
        if chromium.missing():
            print(f"no figures from a browser: {chromium.missing()}")
            return
        empty = folder / "empty.html"
        empty.write_text("<!DOCTYPE html><title>empty</title>", encoding="utf-8")
        with chromium.browser() as driver:
            chromium.set_screen(driver, 1280, 900, dark=False)
            opening: list[float] = []
            for path in (empty, page, empty, page, empty, page):
                with timed(opening):
                    driver.get(path.as_uri())
            blank, full = min(opening[::2]), min(opening[1::2])
            print(f"baseline: opening an empty page         {blank:6.2f} s")
            print(f"opening the page of 17 minutes          {full:6.2f} s")
            drawn = driver.execute_async_script(_DRAW)
            print(f"drawing all its marks once (median)     {drawn:6.1f} ms")
            frames = sorted(driver.execute_async_script(_SCROLL))
            print(
                f"scrolling at 30 s per view: median frame {frames[len(frames) // 2]:5.1f} ms, "
                f"95 % under {frames[int(0.95 * len(frames))]:.1f} ms, worst {frames[-1]:.1f} ms"
            )


if __name__ == "__main__":
    main()
