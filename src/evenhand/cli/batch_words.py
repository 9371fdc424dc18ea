"""What a batch says while it runs, and at its end."""

import json
import sys
from collections import Counter
from pathlib import Path

import typer

from evenhand.cli.progress import TakesBar
from evenhand.jobs.batch import AS_BEFORE, DONE, FAILED, TO_DO, Inputs, Outcome, Row
from evenhand.paper import Facts, Page, Table, many, printable, show

#: Failures that are shown at the end; all stand in the tables.
_SHOWN = 10


class Teller:
    """Tells what becomes of each take: a bar on a terminal, lines in a pipe, or JSON lines.

    Parameters
    ----------
    tables : Path
        Where the tables go, without their suffix.
    takes : int
        How many there are.
    json_lines, quiet, dry_run : bool
    """

    def __init__(
        self, tables: Path, takes: int, json_lines: bool, quiet: bool, dry_run: bool
    ) -> None:
        self.count: Counter[str] = Counter()
        self._tables, self._takes = tables, takes
        self._json, self._quiet, self._dry_run = json_lines, quiet, dry_run
        self._failures: list[Row] = []
        self._moved = self._hits = 0
        silent = json_lines or quiet or dry_run
        wanted = not silent and sys.stdout.isatty() and sys.stderr.isatty()
        self._bar = TakesBar(takes) if wanted else None

    def __enter__(self) -> "Teller":
        return self

    def __exit__(self, *error: object) -> None:
        if self._bar:
            self._bar.__exit__(*error)

    def tell(self, outcome: Outcome) -> None:
        """Tell what became of a take."""
        row, state = outcome.row, outcome.state
        self.count[state] += 1
        self._moved += int(row["moved"] or 0)
        self._hits += int(row["hits"] or 0)
        if state == FAILED and len(self._failures) < _SHOWN:
            self._failures.append(row)
        if self._json:
            typer.echo(json.dumps({**row, "state": state}))
        elif self._bar:
            self._bar.advance(self.count[FAILED])
        elif not self._quiet:
            typer.echo(printable(told(outcome)))

    def so_far(self) -> str:
        """How far it has come."""
        ready = self.count[DONE] + self.count[AS_BEFORE]
        return f"{ready} of {many(self._takes, 'take')} done"

    def sum_up(self, found: Inputs) -> None:
        """Say how it went as a whole."""
        failed = self.count[FAILED] + len(found.unreadable)
        if self._json:
            counts = {state: self.count[state] for state in (DONE, AS_BEFORE, TO_DO)}
            end = {**counts, FAILED: failed, "left out": len(found.left_out)}
            typer.echo(json.dumps({"batch": end, "tables": self._names()}))
            return
        if self._quiet:
            return
        counted = [f"{number} {state}" for state, number in sorted(self.count.items())]
        parts: list[Facts | Table] = [Facts("takes", [", ".join(counted) or "none in this part"])]
        if self._hits:
            parts.append(Facts("moved", [f"{self._moved} of {many(self._hits, 'hit')}"]))
        failures = [[str(row["take"]), str(row["reason"])] for row in self._failures]
        failures += [list(one) for one in found.unreadable.items()][: _SHOWN - len(failures)]
        if failures:
            parts.append(Table("failed", ["take", "why"], failures, left=["take", "why"]))
        if failed > len(failures):
            parts.append(Facts("", [f"and {failed - len(failures)} more, all in the tables"]))
        left = [f"{name}: {why}" for name, why in sorted(found.left_out.items())]
        if left:
            more = [f"and {len(left) - _SHOWN} more"] if len(left) > _SHOWN else []
            parts.append(Facts("left out", left[:_SHOWN] + more))
        parts.append(Facts("written", self._names() or ["nothing (dry run)"]))
        show(Page(f"{many(self._takes, 'take')} to {self._tables.parent}", parts))

    def _names(self) -> list[str]:
        return [] if self._dry_run else [f"{self._tables}.csv", f"{self._tables}.html"]


def told(outcome: Outcome) -> str:
    """What became of a take, in a line."""
    return f"{outcome.state}: {outcome.row['take']}{_remark(outcome)}"


def _remark(outcome: Outcome) -> str:
    row = outcome.row
    if outcome.state == FAILED:
        return f": {row['reason']}"
    if row["hits"] is None:
        return ""
    return f": {row['moved']} of {row['hits']} hits moved, {many(int(row['flags'] or 0), 'flag')}"
