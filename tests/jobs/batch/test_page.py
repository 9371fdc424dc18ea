"""The page over all takes, in a browser."""

from collections.abc import Callable
from pathlib import Path

import pytest
from tests.jobs.batch.few import run, some_takes
from tests.web.chromium import Opened

from evenhand.jobs.batch import table_page


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("batch")
    some_takes(folder / "in", 12)
    (folder / "in" / "<img src=x onerror=alert(1)>.mid").write_bytes(b"no take")
    run(folder / "in", folder / "out")
    return folder / "out" / "batch.html"


def _column(page: Opened, column: int) -> list[str]:
    values: list[str] = page.run(
        "return [...document.getElementById('takes').tBodies[0].rows]"
        ".filter((row) => !row.hidden).map((row) => row.cells[arguments[0]].dataset.value)",
        column,
    )
    return values


def test_sorts_filters_and_reaches_no_network(opened: Callable[[Path], Opened], made: Path) -> None:
    page = opened(made)
    names = _column(page, 0)
    assert (len(names), names) == (12, sorted(names))
    heads = page.driver.find_elements("css selector", "#takes th button")
    texts = [head.text for head in heads]
    moved = texts.index("moved")
    for descending in (True, False):
        heads[moved].click()
        values = list(map(float, _column(page, moved)))
        assert values == sorted(values, reverse=descending)
    # Numbers in names count as numbers.
    heads[0].click()
    late = [name for name in _column(page, 0) if name.startswith("tuesday")]
    assert late == [f"tuesday/late/take-{number}.mid" for number in (1, 4, 7, 10)]
    page.find("filter").send_keys("tuesday")
    assert all(name.startswith("tuesday/") for name in _column(page, 0))
    assert page.find("shown").text == "4 of 12"
    assert "<img src=x onerror=alert(1)>.mid" in page.find("failed").text
    assert page.console() == []
    assert page.requests() == []


def test_the_table_fits_a_small_screen(opened: Callable[[Path], Opened], made: Path) -> None:
    page = opened(made)
    wide, room = page.run(
        "const box = document.querySelector('.scroll'); return [box.scrollWidth, box.clientWidth]"
    )
    assert wide <= room <= 1280


def test_links_lead_to_the_files(opened: Callable[[Path], Opened], made: Path) -> None:
    page = opened(made)
    links = page.run(
        "return [...document.querySelectorAll('#takes a')].map((a) => a.getAttribute('href'))"
    )
    assert len(links) == 36
    assert all((made.parent / link).is_file() for link in links)


def test_what_would_be_too_long_is_left_to_the_csv(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(table_page, "MOST_ROWS", 2)
    for number in range(3):
        path = some_takes(tmp_path / "in", 6) / f"bad-{number}.mid"
        path.write_bytes(b"no take")
    run(tmp_path / "in", tmp_path / "out")
    text = (tmp_path / "out" / "batch.html").read_text(encoding="utf-8")
    assert "<p>And 4 more in the CSV file.</p>" in text
    assert "<p>And 1 more in the CSV file.</p>" in text
    assert "6 takes tightened, 3 failed" in text
    assert len((tmp_path / "out" / "batch.csv").read_text().splitlines()) == 10
