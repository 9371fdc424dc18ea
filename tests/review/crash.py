"""Kill a review with -9 at random instants, and see what is left.

Run in the project's folder:  python -m tests.review.crash SCRATCH 30
"""

import random
import sys
import threading
import time
from pathlib import Path

from tests.review.client import Client, review
from websockets.exceptions import ConnectionClosed

from evenhand import read_recipe
from evenhand.jobs.demo_take import demo_take


def kill_once(take: Path, delay: float) -> None:
    """Change the strength as fast as it goes and kill the server after a moment.

    What is on disk afterwards must be a whole recipe, and that of the last change that was
    answered or of the one in flight; the next review must go on from it.
    """
    recipe = take.with_name(f"{take.stem}.recipe.toml")
    with review(take) as server, server.talk() as line:
        client = Client(line)
        start = client.data["own"]["defaults"].get("strength", 75.0)
        answered, asked = start, start
        killer = threading.Timer(delay, server.process.kill)
        killer.start()
        try:
            for step in range(10_000):
                asked = float((start + step + 1) % 101)
                answer = client.ask("set", name="strength", value=asked)
                assert answer["kind"] == "changed"
                answered = asked
        except ConnectionClosed:
            pass
        killer.join()
    if recipe.exists():
        assert read_recipe(recipe).strength in (answered, asked)
    else:
        assert answered == start
    with review(take) as server, server.talk() as line:
        going_on = Client(line).data["own"]["defaults"].get("strength", 75.0)
        assert going_on in (answered, asked)


def main() -> None:
    folder, times = Path(sys.argv[1]), int(sys.argv[2])
    folder.mkdir(parents=True, exist_ok=True)
    take = folder / "take.mid"
    take.write_bytes(demo_take())
    dice = random.Random(time.time())
    for _ in range(times):
        kill_once(take, dice.uniform(0.0, 0.5))
    sys.stdout.write(f"killed {times} times; nothing was lost but changes in flight\n")


if __name__ == "__main__":
    main()
