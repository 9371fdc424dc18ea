"""The pages' scripts are well-formed, linted, and the library is the one npm has."""

import subprocess
from importlib.resources import files
from pathlib import Path

import pytest

SOURCE = Path(str(files("evenhand")))
SCRIPTS = sorted(SOURCE.rglob("page/*.js"))
_ROOT = Path(__file__).parents[2]


#: Parses modules without running them; tells each that does not parse.
_PARSE = """
const { readFileSync } = require("node:fs"), vm = require("node:vm");
for (const path of process.argv.slice(1)) {
    try {
        new vm.SourceTextModule(readFileSync(path, "utf8"));
    } catch (error) {
        console.log(`${path}: ${error}`);
    }
}
"""


def _not_parsed(node: str, scripts: list[Path]) -> list[str]:
    done = subprocess.run(
        [node, "--experimental-vm-modules", "--no-warnings", "-e", _PARSE, "--", *scripts],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return done.stdout.splitlines()


def test_scripts_parse(node: str, tmp_path: Path) -> None:
    assert len(SCRIPTS) > 15
    torn = tmp_path / "torn.js"
    torn.write_text("export function half( {")
    (told,) = _not_parsed(node, [*SCRIPTS, torn])
    assert told.startswith(f"{torn}: SyntaxError")


def test_scripts_are_linted(node: str, npm: Path) -> None:
    lint = [node, npm / "eslint/bin/eslint.js", "--config", "tests/web/eslint.config.mjs"]
    done = subprocess.run(
        [*lint, "--max-warnings", "0", *SCRIPTS], cwd=_ROOT, capture_output=True, check=False
    )
    assert done.returncode == 0, done.stdout.decode() + done.stderr.decode()


def test_library_is_unaltered(npm: Path) -> None:
    vendor = SOURCE / "web" / "vendor"
    for name, origin in (
        ("uPlot.iife.min.js", "dist/uPlot.iife.min.js"),
        ("uPlot.min.css", "dist/uPlot.min.css"),
        ("uPlot.LICENSE", "LICENSE"),
    ):
        assert (vendor / name).read_bytes() == (npm / "uplot" / origin).read_bytes()
    version = (npm / "uplot/package.json").read_text(encoding="utf-8")
    written = (vendor / "README.md").read_text(encoding="utf-8").split()[1]
    assert f'"version": "{written}"' in version


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: f"{path.parts[-3]}/{path.name}")
def test_every_script_is_asked_for(script: Path) -> None:
    if script.name == "main.js":
        return
    named = f'/{script.name}";'
    assert any(named in other.read_text(encoding="utf-8") for other in SCRIPTS if other != script)
