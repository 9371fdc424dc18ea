"""The page's scripts are well-formed, linted, and ask in one direction."""

from importlib.resources import files
from pathlib import Path

import pytest
from tests.web.scripts import check_style, check_syntax

from evenhand.jobs.practice.assemble import SCRIPTS

PAGE = Path(str(files("evenhand.jobs.practice").joinpath("page")))


@pytest.mark.parametrize("name", SCRIPTS)
def test_scripts_parse(node: str, name: str) -> None:
    check_syntax(node, PAGE / name)


def test_every_script_is_on_the_page() -> None:
    assert {path.name for path in PAGE.glob("*.js")} == set(SCRIPTS)


def test_scripts_are_linted(node: str, npm: Path) -> None:
    check_style(node, npm, PAGE)


def test_each_script_asks_only_those_before_it() -> None:
    names = [name.removesuffix(".js").capitalize() for name in SCRIPTS]
    for place, name in enumerate(SCRIPTS):
        text = (PAGE / name).read_text(encoding="utf-8")
        assert f"const {names[place]} = " in text
        for later in names[place + 1 :]:
            assert f"{later}." not in text, f"{name} asks {later}"
