"""The page's scripts are well-formed, linted, and the library is the one npm has."""

from importlib.resources import files
from pathlib import Path

import pytest
from tests.web.scripts import check_style, check_syntax

from evenhand.listen.build import SCRIPTS

PAGE = Path(str(files("evenhand.listen").joinpath("page")))


@pytest.mark.parametrize("name", SCRIPTS)
def test_scripts_parse(node: str, name: str) -> None:
    check_syntax(node, PAGE / name)


def test_every_script_is_on_the_page() -> None:
    assert {path.name for path in PAGE.glob("*.js")} == set(SCRIPTS)


def test_scripts_are_linted(node: str, npm: Path) -> None:
    check_style(node, npm, PAGE)


def test_each_script_says_whom_it_asks(node: str) -> None:
    # One direction, as in the house: a script asks only those that stand before it.
    names = {"data.js": "Data", "sound.js": "Sound", "recipe.js": "Recipe", "marks.js": "Marks"}
    names |= {"chart.js": "Chart", "pace.js": "Pace", "lists.js": "Lists", "main.js": "Main"}
    assert list(names) == list(SCRIPTS)
    for place, name in enumerate(SCRIPTS):
        text = (PAGE / name).read_text(encoding="utf-8")
        for later in SCRIPTS[place + 1 :]:
            assert f"{names[later]}." not in text, f"{name} asks {later}"


def test_library_is_unaltered(npm: Path) -> None:
    vendor = Path(str(files("evenhand.web").joinpath("vendor")))
    for name, origin in (
        ("uPlot.iife.min.js", "dist/uPlot.iife.min.js"),
        ("uPlot.min.css", "dist/uPlot.min.css"),
        ("uPlot.LICENSE", "LICENSE"),
    ):
        assert (vendor / name).read_bytes() == (npm / "uplot" / origin).read_bytes()
    version = (npm / "uplot/package.json").read_text(encoding="utf-8")
    written = (vendor / "README.md").read_text(encoding="utf-8").split()[1]
    assert f'"version": "{written}"' in version
