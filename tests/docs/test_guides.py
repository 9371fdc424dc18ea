"""The guides show what the commands print: every console block is run and compared.

`EVENHAND_REFRESH=1 pytest tests/docs` rewrites the blocks from what is printed now.
"""

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from tests.commands import shown
from tests.docs.write_settings import PAGE, with_settings

from evenhand.compare.sums import COLUMNS as COMPARED
from evenhand.jobs.demo_take import NAME, demo_take, faults_csv, recipe
from evenhand.outcome import COLUMNS
from evenhand.outcome.changes import REASONS
from evenhand.outcome.flags import CHANGED, LEFT
from evenhand.passes.entry import FIGURES, FILES, KEYS
from evenhand.recipe import SETTINGS, settings_table

_DOCS = Path(__file__).parents[2] / "docs"
_BLOCK = re.compile(r"```console\n(.*?)```", re.DOTALL)
_GUIDES = sorted(path for path in _DOCS.glob("*.md") if _BLOCK.search(path.read_text("utf-8")))


def _replay(block: str, folder: Path) -> str:
    """Run the commands of one block and put what they print under each."""
    fixed = {"SOURCE_DATE_EPOCH": "1793613600", "TZ": "UTC"}
    printed = []
    for command in re.findall(r"^\$ (.*)$", block, re.MULTILINE):
        # What is nothing but evenhand needs no process of its own.
        alone = command.startswith("evenhand ") and not set("|&;<>$*?`") & set(command)
        told = (
            shown(shlex.split(command)[1:], folder, fixed)
            if alone
            else _in_a_shell(command, folder, fixed)
        )
        printed.append(f"$ {command}\n{told}")
    return "".join(printed)


def _in_a_shell(command: str, folder: Path, fixed: dict[str, str]) -> str:
    bin_folder = str(Path(sys.executable).parent)
    path = f"{bin_folder}{os.pathsep}{os.environ['PATH']}"
    done = subprocess.run(
        ["bash", "-c", command], cwd=folder, env={**os.environ, **fixed, "PATH": path}, check=False,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL,
    )  # fmt: skip
    return done.stdout.decode()


@pytest.mark.parametrize("guide", _GUIDES, ids=lambda path: path.stem)
def test_guide_shows_what_is_printed(guide: Path, tmp_path: Path) -> None:
    text = guide.read_text("utf-8")
    if "$ evenhand demo" not in text:
        for ending, data in ((".mid", demo_take()), (".faults.csv", faults_csv())):
            (tmp_path / f"{NAME}{ending}").write_bytes(data)
        (tmp_path / f"{NAME}.recipe.toml").write_bytes(recipe())
    printed = _BLOCK.sub(lambda block: f"```console\n{_replay(block[1], tmp_path)}```", text)
    if os.environ.get("EVENHAND_REFRESH"):
        guide.write_text(printed, "utf-8")
    assert printed == text


def test_there_is_a_guide() -> None:
    assert "guide" in {path.stem for path in _GUIDES}


def test_every_reason_and_flag_is_documented() -> None:
    text = (_DOCS / "reasons.md").read_text("utf-8")
    documented = set(re.findall(r"^\| (\w+) \| `([^`]+)` \|", text, re.MULTILINE))
    assert documented == {(action, one) for action, reasons in REASONS.items() for one in reasons}
    flags = set(re.findall(r"^\| `([^`]+)` \|", text, re.MULTILINE))
    assert flags == {*CHANGED, *LEFT}


def test_every_column_is_documented() -> None:
    text = (_DOCS / "files.md").read_text("utf-8")
    for name in COLUMNS.split(","):
        assert f"`{name}`" in text


def test_the_reference_of_the_settings_is_that_of_their_table() -> None:
    text = PAGE.read_text("utf-8")
    assert with_settings(text, settings_table()) == text
    for name in SETTINGS:
        assert f"\n| `{name}` |" in settings_table()


def test_links_between_pages_lead_somewhere() -> None:
    root = _DOCS.parent
    missing = [
        f"{page.name}: {target}"
        for page in [*root.glob("*.md"), *_DOCS.glob("*.md")]
        for target in re.findall(r"\]\(([^)#:]+)\)", page.read_text("utf-8"))
        if not (page.parent / target).exists()
    ]
    assert missing == []


def test_every_key_of_a_record_is_documented() -> None:
    text = (_DOCS / "passes.md").read_text("utf-8")
    for name in (*KEYS, *FIGURES, *FILES, *COMPARED):
        assert f"`{name}`" in text
