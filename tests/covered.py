"""How much of the core its tests run: statements and branches, file by file.

python -m tests.covered [--write]

Runs the tests of the rooms of the core and those of the whole, prints every file of the core below
the limit and a table of the rooms, and ends with 1 if there is such a file. `--write` puts the
table into DEVELOPERS.md.
"""

import argparse
import json
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from tests.test_house import CORE, SOURCE

#: Percent of statements and branches that must have been run in each file of the core.
LIMIT = 95.0

_ROOT = Path(__file__).parents[1]
_TESTS = _ROOT / "tests"
_PAGE = _ROOT / "DEVELOPERS.md"
_TABLE = re.compile(r"(?<=<!-- coverage -->\n).*?(?=<!-- end -->)", re.DOTALL)
#: Tests elsewhere that run the core from end to end.
_ALSO = ("docs/test_python.py", "cli/test_assess_and_fit_commands.py")
#: Files of the core that stand in no room.
_ALONE = ("tightener.py", "assessor.py", "fitter.py", "columns.py", "robust.py")


def _run(report: Path) -> int:
    folders = [_TESTS / room for room in CORE if (_TESTS / room).is_dir()]
    tests = [*folders, *sorted(_TESTS.glob("test_*.py")), *(_TESTS / one for one in _ALSO)]
    command = [sys.executable, "-m", "pytest", *map(str, tests), "--cov=evenhand", "--cov-branch"]
    command += ["-n", "2", "--cov-report=", f"--cov-report=json:{report}"]
    # Without real takes, so that the figures are the same everywhere.
    nowhere = {"EVENHAND_TAKES": str(report.parent / "no takes")}
    data = {**os.environ, **nowhere, "COVERAGE_FILE": str(report.with_suffix(".data"))}
    return subprocess.run(command, cwd=_ROOT, env=data, check=False).returncode


def _room(path: Path) -> str | None:
    """The room of a file of the core; None for any other file."""
    parts = path.relative_to(SOURCE).parts
    if len(parts) == 1:
        return parts[0] if parts[0] in _ALONE else None
    return f"{parts[0]}/" if parts[0] in CORE else None


def table(files: dict[str, Any]) -> tuple[list[str], list[str]]:
    """Files below the limit, and the rows of the table."""
    rooms: dict[str, list[tuple[float, str, dict[str, Any]]]] = {}
    for name, found in files.items():
        path = Path(_ROOT, name)
        room = _room(path)
        if room:
            summary = found["summary"]
            rooms.setdefault(room, []).append((summary["percent_covered"], path.name, summary))
    low = [
        f"{room}{name}: {percent:.1f} %" if room.endswith("/") else f"{name}: {percent:.1f} %"
        for room, some in sorted(rooms.items())
        for percent, name, _ in sorted(some)
        if percent < LIMIT
    ]
    rows = ["| room | statements | branches | run | least |", "| --- | --- | --- | --- | --- |"]
    for room, some in sorted(rooms.items()):
        totals = [summary for _, _, summary in some]
        lines = sum(one["num_statements"] for one in totals)
        branches = sum(one["num_branches"] for one in totals)
        run = sum(one["covered_lines"] + one["covered_branches"] for one in totals)
        percent, name, _ = min(some)
        share = 100 * run / max(lines + branches, 1)
        rows.append(
            f"| `{room}` | {lines} | {branches} | {share:.1f} % | `{name}` {percent:.1f} % |"
        )
    return low, rows


def main(words: list[str]) -> int:
    """Run, print, and write if asked."""
    reader = argparse.ArgumentParser(prog="python -m tests.covered")
    reader.add_argument("--write", action="store_true", help="put the table into DEVELOPERS.md")
    reader.add_argument("--report", type=Path, help="of a run that has been made")
    given = reader.parse_args(words)
    with tempfile.TemporaryDirectory() as folder:
        report = given.report or Path(folder) / "coverage.json"
        if not given.report and _run(report):
            return 2
        low, rows = table(json.loads(report.read_text("utf-8"))["files"])
    sys.stdout.write("\n".join([*rows, "", *low, f"{len(low)} below {LIMIT:g} %", ""]))
    if given.write:
        text = _PAGE.read_text("utf-8")
        _PAGE.write_text(_TABLE.sub("\n" + "\n".join(rows) + "\n\n", text), "utf-8")
    return int(bool(low))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
