"""What goes out with a release: the wheel holds what it needs and nothing else."""

import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

import evenhand

_ROOT = Path(__file__).parents[2]
_SOURCE = _ROOT / "src" / "evenhand"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    """The wheel as `python -m build` makes it, in this environment: no network."""
    pytest.importorskip("hatchling")
    pytest.importorskip("build")
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "-o", str(folder), "."]
    subprocess.run(command, cwd=_ROOT, check=True, capture_output=True)
    (made,) = folder.glob("*.whl")
    return zipfile.ZipFile(made)


def _files_of_the_package() -> set[str]:
    if (_ROOT / ".git").exists():
        command = ["git", "ls-files", "src/evenhand"]
        done = subprocess.run(command, cwd=_ROOT, check=True, capture_output=True, text=True)
        return {name.removeprefix("src/") for name in done.stdout.split("\n") if name}
    # An unpacked sdist has what is tracked, and nothing else but what Python leaves.
    return {
        path.relative_to(_ROOT / "src").as_posix()
        for path in _SOURCE.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }


def test_the_wheel_holds_the_package_and_nothing_else(wheel: zipfile.ZipFile) -> None:
    inside = {name for name in wheel.namelist() if ".dist-info/" not in name}
    assert inside == _files_of_the_package()
    assert {"evenhand/py.typed", "evenhand/web/vendor/uPlot.LICENSE"} <= inside


def test_the_wheel_tells_its_licence_and_its_needs(wheel: zipfile.ZipFile) -> None:
    (name,) = (one for one in wheel.namelist() if one.endswith("/METADATA"))
    metadata = wheel.read(name).decode()
    assert f"\nVersion: {evenhand.__version__}\n" in metadata
    assert "\nLicense-Expression: MIT\n" in metadata
    project = tomllib.loads((_ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    needed = {re.match(r"[\w-]+", one)[0] for one in project["dependencies"]}
    told = re.findall(r"^Requires-Dist: ([\w-]+)(?!.*extra ==)", metadata, re.MULTILINE)
    assert {one.replace("-", "_") for one in told} == {one.replace("-", "_") for one in needed}


def test_the_citation_has_the_version() -> None:
    text = (_ROOT / "CITATION.cff").read_text("utf-8")
    assert f"\nversion: {evenhand.__version__}\n" in text


def test_vendored_scripts_say_their_licence() -> None:
    vendor = _SOURCE / "web" / "vendor"
    told = re.findall(
        r"^\| `([^`]+)` \| .*SPDX-License-Identifier: (\S+)",
        (vendor / "README.md").read_text("utf-8"),
        re.MULTILINE,
    )
    scripts = {one.name for one in vendor.iterdir() if one.suffix in (".js", ".css")}
    assert {name for name, _ in told} == scripts
    assert {licence for _, licence in told} == {"MIT"}
