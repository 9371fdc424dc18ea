"""What the tests of the page in a browser share."""

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from tests.web.chromium import Opened
from typer.testing import CliRunner

from evenhand import Take
from evenhand.cli.app import app
from evenhand.jobs.demo_take import demo_take
from evenhand.take import Position


def make_page(folder: Path, data: bytes, *options: str, name: str = "take.mid") -> Path:
    (folder / name).write_bytes(data)
    page = folder / "page.html"
    command = ["listen", str(folder / name), "-o", str(page), "--overwrite", *options]
    done = CliRunner().invoke(app, command)
    assert done.exit_code == 0, done.output
    return page


def wait_for(condition: Callable[[], Any], seconds: float = 20.0) -> Any:
    """Wait until something holds, and fail if it does not within `seconds`."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = condition()
        if found:
            return found
        time.sleep(0.02)
    raise AssertionError("waited in vain")


def live(page: Opened) -> dict[str, Any]:
    """What the page's player is doing."""
    state: dict[str, Any] = page.run(
        "const player = Main.player();"
        "return {playing: player.playing, at: player.position(), side: player.side,"
        " from: player.lines.length ? player.lines[0].from : null,"
        " click: player.levels.click, speed: player.speed, loop: player.loop}"
    )
    return state


def pushed_take() -> Take:
    """The demo with bars 14 and 15 played 45 ms late as a whole."""
    take = Take.from_bytes(demo_take(), "late.mid")
    begin, end = take.meter.to_tick(Position(14, 1.0)), take.meter.to_tick(Position(16, 1.0))
    late = round(45 * take.tempo.to_tick(1000.0) / 1000)
    ticks = []
    for one in take.smf.tracks:
        inside = (one.tick >= begin - 30) & (one.tick < end - 60)
        ticks.append(np.where(inside & one.on_channel(9), one.tick + late, one.tick))
    return take.retimed(ticks)
