"""Take the pictures of the listening page that the guides show, from the demo take.

Run in the project's folder:  python -m tests.web.pictures
"""

import tempfile
import time
from pathlib import Path

from tests.web import chromium

from evenhand import Take, tighten
from evenhand.ear.comparison import compare
from evenhand.ear.page.build import build_page
from evenhand.ear.page.data import Names, page_data
from evenhand.jobs.demo import NAME, demo_take

PICTURES = Path(__file__).parents[2] / "docs" / "pictures"

#: A hit that moved, chosen so that its story shows, and a decision about it.
_CHOOSE = """
const {hits, word} = Data;
const moved = [...hits.before.keys()].find((hit) => word("action", hit) === "moved");
Chart.choose(moved);
Recipe.hold(moved);
"""


def main() -> None:
    take = Take.from_bytes(demo_take(), f"{NAME}.mid")
    page = build_page(page_data(compare(tighten(take)), Names(f"{NAME}.mid")))
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, chromium.browser() as driver:
        path = Path(folder) / "page.html"
        path.write_bytes(page)
        for width in (1280, 390):
            for dark in (False, True):
                chromium.set_screen(driver, width, 900, dark)
                opened = chromium.Opened(driver, path)
                opened.run(_CHOOSE)
                # The chart draws in the browser's next frames.
                time.sleep(0.3)
                name = f"listening-{width}-{'dark' if dark else 'light'}.png"
                (PICTURES / name).write_bytes(chromium.picture(driver, width))


if __name__ == "__main__":
    main()
