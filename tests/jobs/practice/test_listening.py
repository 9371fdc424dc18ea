"""The listening pages of practice takes: one for each take with figures, opened from its row."""

from collections.abc import Callable
from pathlib import Path

from tests.listen.pages import wait_for
from tests.web.chromium import Opened
from typer.testing import CliRunner

from evenhand.cli.app import app
from evenhand.jobs.practice.demo_days import demo_series


def practise(folder: Path, *options: str) -> int:
    command = ["practice", str(folder / "days"), "-o", str(folder / "out"), *options]
    return CliRunner().invoke(app, command).exit_code


def some_days(folder: Path) -> None:
    (folder / "days").mkdir()
    for name, data in list(demo_series().items())[:3]:
        (folder / "days" / name).write_bytes(data)
    (folder / "days" / "2026-09-05 torn.mid").write_bytes(b"MThd")


def test_each_row_opens_its_page(opened: Callable[[Path], Opened], tmp_path: Path) -> None:
    some_days(tmp_path)
    practise(tmp_path, "--listen")
    out = tmp_path / "out"
    assert len(list((out / "practice-listen").iterdir())) == 3
    page = opened(out / "practice.html")
    links = page.driver.find_elements("css selector", "#takes tbody th a")
    assert len(links) == 3
    name = links[1].text
    links[1].click()
    wait_for(lambda: page.run("return document.body.dataset.ready"))
    assert page.run("return Data.all.name") == name
    assert page.console() == []


def test_only_if_asked_for_and_never_over_others(tmp_path: Path) -> None:
    some_days(tmp_path)
    practise(tmp_path)
    out = tmp_path / "out"
    assert not (out / "practice-listen").exists()
    (out / "practice-listen").mkdir()
    before = (out / "practice.html").read_bytes()
    assert practise(tmp_path, "--listen") == 1
    assert list((out / "practice-listen").iterdir()) == []
    assert (out / "practice.html").read_bytes() == before
    practise(tmp_path, "--listen", "--overwrite")
    assert len(list((out / "practice-listen").iterdir())) == 3
