"""Score the judgement: `python -m tests.evaluation.score_judgement FOLDER [--half tuning] …`."""

import argparse
import hashlib
import json
import sys
import time
from pathlib import Path

from tests.evaluation.score_judgement.jobs import TRIALS, Tally, as_it_is, enough, judge, late_kick
from tests.evaluation.score_judgement.table import figures, lines

from evenhand import read_take

HALVES = ("tuning", "testing")


def half_of(name: str) -> str:
    """Which half a take belongs to, by the SHA-256 of its name."""
    return HALVES[hashlib.sha256(name.encode()).digest()[0] % 2]


def score(paths: list[Path], trials: list[str], seeds: int) -> Tally:
    """Try everything on some takes."""
    tally = Tally()
    for path in paths:
        one = judge(path, read_take(path))
        if not enough(one):
            continue
        as_it_is(one, tally)
        for name in trials:
            for seed in range(seeds):
                TRIALS[name](one, tally, seed)
    for seed in range(8):
        late_kick(tally, seed)
    return tally


def main() -> None:
    """Read the arguments, print the table."""
    parser = argparse.ArgumentParser(prog="score_judgement", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--half", choices=(*HALVES, "all"), default="all")
    parser.add_argument("--limit", type=int, help="no more takes than this")
    parser.add_argument("--seeds", type=int, default=1, help="how often each fault is planted")
    parser.add_argument("--only", choices=TRIALS, action="append", help="these trials only")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--missed", action="store_true", help="name the takes that were missed")
    asked = parser.parse_args()
    paths = sorted(asked.folder.glob("*.mid"))
    paths = [one for one in paths if asked.half in ("all", half_of(one.name))][: asked.limit]
    began = time.monotonic()
    tally = score(paths, asked.only or list(TRIALS), asked.seeds)
    if asked.json:
        found = {
            "figures": figures(tally),
            "of": {name: one["of"] for name, one in tally.shares.items()},
            "takes": tally.figures,
            "missed": tally.notes,
        }
        sys.stdout.write(json.dumps(found, indent=1) + "\n")
        return
    for line in lines(tally):
        sys.stdout.write(line.rstrip() + "\n")
    if asked.missed:
        for name, takes in tally.notes.items():
            sys.stdout.write(f"\n{name} ({len(takes)})\n" + "".join(f"  {one}\n" for one in takes))
    told = f"{len(paths)} takes ({asked.half}), {time.monotonic() - began:.0f} s"
    sys.stdout.write(f"{told}; takes too short to judge by are left out\n")


if __name__ == "__main__":
    main()
