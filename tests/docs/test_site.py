"""What the site is made of: every command with its options, every name of the face, every page."""

import re
from pathlib import Path

from tests.docs.write_gallery import ONE_BAR, PAGE, PICTURES, one_bar, page, results
from tests.docs.write_rooms import PICTURE, imported, picture
from tests.docs.write_site import DOCS, commands, contents, reference, write_all

import evenhand
from evenhand.cli.app import COMMANDS
from evenhand.recipe import SETTINGS


def test_every_command_is_in_the_reference_with_its_settings() -> None:
    chapters = dict(re.findall(r"^## evenhand (\S+)\n(.*?)(?=^## |\Z)", commands(), re.M | re.S))
    assert set(chapters) == set(COMMANDS)
    for one in SETTINGS.values():
        if one.check.option is not None and not one.switches:
            assert f"| `{one.option}` |" in chapters["tighten"]
    assert "| `--output`, `-o` | TAKE-tight.mid |" in chapters["tighten"]


def test_every_name_of_the_face_is_in_the_reference() -> None:
    told = re.findall(r":: evenhand\.(\w+)$", reference(), re.MULTILINE)
    assert told == [name for name in evenhand.__all__ if name != "__version__"]


def test_every_page_is_in_the_contents_once() -> None:
    listed = re.findall(r"^[\w-]+$", contents(DOCS), re.MULTILINE)
    pages = {path.stem for path in DOCS.glob("*.md")} - {"index"}
    assert sorted(listed) == sorted(pages | {"commands", "python-reference"})


def test_pages_are_written_anew_only_where_they_differ(tmp_path: Path) -> None:
    write_all(tmp_path)
    before = {path: path.stat().st_mtime_ns for path in tmp_path.iterdir()}
    assert {path.name for path in before} == {"index.md", "commands.md", "python-reference.md"}
    write_all(tmp_path)
    assert {path: path.stat().st_mtime_ns for path in tmp_path.iterdir()} == before


def test_the_map_of_the_rooms_is_that_of_the_house() -> None:
    assert PICTURE.read_text("utf-8") == picture()
    assert "take" in imported()["kit"]
    assert imported()["errors"] == []


def test_the_gallery_tells_what_is_measured() -> None:
    made = results()
    assert PAGE.read_text("utf-8") == page(made)
    assert {f"{kind.name}.png" for kind, _ in made} == {one.name for one in PICTURES.iterdir()}
    assert len(made) == 5


def test_the_one_bar_of_the_readme_is_that_of_the_demo() -> None:
    assert ONE_BAR.read_text("utf-8") == one_bar()
