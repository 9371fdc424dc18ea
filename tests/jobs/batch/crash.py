"""Kill batches and go on: run as a script, `python crash.py TAKES SCRATCH COUNT`.

`evenhand batch` is started on the folder of takes with two workers and killed with SIGKILL at a
random instant, COUNT times (one that ends before does not count). The same command then goes on,
and what it leaves must be what an undisturbed run leaves, byte for byte. Prints one JSON object
with what was seen.
"""

import json
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

from tests.jobs.batch.few import tree


def command(takes: Path, output: Path) -> list[str]:
    """The batch."""
    words = ["batch", str(takes), "-o", str(output), "--workers", "2", "--json-lines"]
    return [sys.executable, "-c", "from evenhand.__main__ import main; main()", *words]


def main(takes: Path, scratch: Path, count: int) -> None:
    """Kill, go on and compare, again and again."""
    begin = time.monotonic()
    subprocess.run(command(takes, scratch / "whole"), check=True, stdout=subprocess.DEVNULL)
    lasts = time.monotonic() - begin
    whole = tree(scratch / "whole")
    chance = random.Random(2026)
    differ, found_done, killed = 0, [], 0
    while killed < count:
        output = scratch / "killed"
        process = subprocess.Popen(
            command(takes, output), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        time.sleep(chance.uniform(0, lasts))
        process.send_signal(signal.SIGKILL)
        killed += process.wait() == -signal.SIGKILL
        resumed = subprocess.run(command(takes, output), check=True, capture_output=True, text=True)
        found_done.append(json.loads(resumed.stdout.splitlines()[-1])["batch"]["as before"])
        differ += tree(output) != whole
        shutil.rmtree(output)
    seen = {"seconds": lasts, "files": len(whole), "killed": killed, "differ": differ}
    sys.stdout.write(json.dumps({**seen, "found_done": found_done}) + "\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]))
