"""`evenhand watch` through the real entry point."""

import json
import signal
import subprocess
import sys
import time
from pathlib import Path

from tests.jobs.batch.few import run, small_take, tree

_EVENHAND = Path(sys.executable).with_name("evenhand")


def _watch(*words: str, cwd: Path) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [_EVENHAND, "watch", *words],
        cwd=cwd,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def _end(process: subprocess.Popen[str]) -> tuple[str, str]:
    process.send_signal(signal.SIGINT)
    return process.communicate(timeout=30)


def _wait_for(path: Path) -> None:
    patience = time.monotonic() + 60
    while not path.exists():
        assert time.monotonic() < patience
        time.sleep(0.1)


def test_takes_that_arrive_until_ctrl_c(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "a.mid").write_bytes(small_take(1))
    (tmp_path / "in" / "half.mid").write_bytes(small_take(2)[:90])
    process = _watch("in", cwd=tmp_path)
    _wait_for(tmp_path / "in" / "tight" / "batch.csv")
    (tmp_path / "in" / "b.mid").write_bytes(small_take(3))
    _wait_for(tmp_path / "in" / "tight" / "b-tight.record.json")
    time.sleep(1)
    out, err = _end(process)
    assert (process.returncode, err) == (0, "")
    assert "watching in, results go to in/tight" in out
    assert "done: a.mid: " in out
    assert "done: b.mid: " in out
    assert "waits: half.mid: " in out
    assert out.splitlines()[-1] == "ended: 2 done"
    # A batch takes it up where it was left: the same results, by the same records.
    (tmp_path / "in" / "half.mid").unlink()
    before = tree(tmp_path / "in" / "tight")
    outcomes = run(tmp_path / "in", tmp_path / "in" / "tight")
    assert {one.state for one in outcomes} == {"as before"}
    assert tree(tmp_path / "in" / "tight") == before


def test_json_lines(tmp_path: Path) -> None:
    (tmp_path / "a.mid").write_bytes(small_take(1))
    process = _watch(".", "-o", "../out", "--json-lines", "--strength", "30", cwd=tmp_path)
    _wait_for(tmp_path.parent / "out" / "batch.csv")
    time.sleep(1)
    out, err = _end(process)
    assert err == ""
    first, last = [json.loads(line) for line in out.splitlines()]
    assert (first["take"], first["state"]) == ("a.mid", "done")
    assert last == {"watch": {"done": 1}, "tables": "../out/batch"}


def test_what_is_no_folder(tmp_path: Path) -> None:
    process = _watch("nowhere", cwd=tmp_path)
    out, err = process.communicate(timeout=30)
    assert (process.returncode, out) == (1, "")
    assert err == "evenhand: nowhere is no folder; name the one that takes are saved into\n"
