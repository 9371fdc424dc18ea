"""The listening pages of a batch: made if asked for, kept in step with their takes, linked."""

from collections.abc import Callable
from pathlib import Path

import pytest
from tests.jobs.batch.few import run, some_takes, tree
from tests.listen.pages import wait_for
from tests.web.chromium import Opened

from evenhand import Recipe
from evenhand.jobs.batch import AS_BEFORE, DONE, FAILED
from evenhand.listen import MARK


@pytest.fixture
def takes(tmp_path: Path) -> Path:
    some_takes(tmp_path / "in", 2)
    return tmp_path / "in"


def pages(folder: Path) -> list[Path]:
    return sorted(folder.rglob("*.listen.html"))


def test_only_if_asked_for_and_whenever_one_is_missing(takes: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run(takes, out)
    assert pages(out) == []
    plain = tree(out)
    outcomes = run(takes, out, listen=True)
    assert {one.state for one in outcomes} == {AS_BEFORE}
    assert len(pages(out)) == 2
    # Everything but the pages and the table that links to them is what it was.
    there = {name: data for name, data in tree(out).items() if not name.endswith(".listen.html")}
    assert {name for name in there if there[name] != plain[name]} == {"batch.html"}
    pages(out)[0].unlink()
    run(takes, out, listen=True)
    assert len(pages(out)) == 2


def test_a_page_is_made_anew_with_its_take(takes: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run(takes, out, listen=True)
    before = [page.read_bytes() for page in pages(out)]
    run(takes, out, recipe=Recipe(strength=10))
    assert all(page.read_bytes() != old for page, old in zip(pages(out), before, strict=True))


def test_what_is_no_listening_page_stays(takes: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run(takes, out, listen=True)
    mine = pages(out)[0]
    mine.write_text("mine", encoding="utf-8")
    states = [one.state for one in run(takes, out, listen=True, redo=True)]
    assert sorted(states) == sorted([DONE, FAILED])
    assert mine.read_text(encoding="utf-8") == "mine"
    run(takes, out, listen=True, redo=True, overwrite=True)
    assert MARK in mine.read_text(encoding="utf-8")


def test_each_row_opens_its_page(
    opened: Callable[[Path], Opened], takes: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    run(takes, out, listen=True)
    page = opened(out / "batch.html")
    links = page.driver.find_elements("link text", "listen")
    assert len(links) == 2
    links[0].click()
    wait_for(lambda: page.run("return document.body.dataset.ready"))
    assert page.run("return Data.count") > 0
    assert page.console() == []
