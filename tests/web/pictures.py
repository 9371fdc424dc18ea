"""Take the pictures of the pages that the guides show, from the demos.

Run in the project's folder:  python -m tests.web.pictures
"""

import tempfile
import time
from pathlib import Path

from selenium.webdriver.common.keys import Keys
from tests.web import chromium

from evenhand import Recipe, Take, tighten
from evenhand.jobs.demo_take import NAME, demo_take
from evenhand.jobs.practice.assemble import practice_page
from evenhand.jobs.practice.demo_days import demo_series
from evenhand.jobs.practice.gather import gather
from evenhand.jobs.practice.measuring import measure_all
from evenhand.jobs.practice.report import make_report
from evenhand.jobs.practice.tempi import WIDTH
from evenhand.listen import Names, build_page, compare, page_data

PICTURES = Path(__file__).parents[2] / "docs" / "pictures"

#: The first place to be heard, close up, and a decision about it; without sound.
_CHOOSE = """
List.step(1);
Main.player().pause();
Decisions.decide({op: "hold", at: Data.hits.at[List.current().hit], on: true});
scrollTo(0, 0);
"""


def main() -> None:
    PICTURES.mkdir(exist_ok=True)
    _listening()
    _practice()


def _listening() -> None:
    take = Take.from_bytes(demo_take(), f"{NAME}.mid")
    page = build_page(page_data(compare(tighten(take)), Names(f"{NAME}.mid")))
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
                (PICTURES / name).write_bytes(chromium.picture(driver, width, 1500))


def _practice() -> None:
    with tempfile.TemporaryDirectory() as name, chromium.browser() as driver:
        folder = Path(name)
        for file, data in demo_series().items():
            (folder / file).write_bytes(data)
        gathered = gather([folder])
        report = make_report(gathered, measure_all(gathered.takes, Recipe(), WIDTH))
        path = folder / "page.html"
        path.write_bytes(practice_page(report))
        for width, dark, most in ((1280, False, 1700), (390, True, 1500)):
            chromium.set_screen(driver, width, 900, dark)
            opened = chromium.Opened(driver, path)
            opened.find("days").send_keys(Keys.END)
            # The chart draws in the browser's next frames.
            time.sleep(0.3)
            picture = f"practice-{width}-{'dark' if dark else 'light'}.png"
            (PICTURES / picture).write_bytes(chromium.picture(driver, width, most))


if __name__ == "__main__":
    main()
