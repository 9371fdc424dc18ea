import errno
import fcntl
import io
import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from tests.commands import PYTHONPATH
from tests.passes import crash
from tests.passes.history import add, contents, draft, fill

from evenhand import Recipe, read_recipe
from evenhand.errors import DiskError
from evenhand.passes import keeping
from evenhand.passes.lock import locked
from evenhand.passes.store import read_history, stored_original, stored_output

_CRASH = Path(crash.__file__)


def test_files_of_a_pass(tmp_path: Path) -> None:
    folder = tmp_path / "take.passes"
    one = add(folder, draft(Recipe(strength=60), note="looser"))
    assert sorted(contents(folder)) == [
        "0001/changes.csv",
        "0001/details.json",
        "0001/output.mid",
        "0001/pass.json",
        "0001/recipe.toml",
        f"originals/{one.original}.mid",
        "passes.jsonl",
    ]
    assert json.loads((folder / "passes.jsonl").read_text()) == json.loads(
        (folder / "0001" / "pass.json").read_text()
    )
    assert read_recipe(folder / "0001" / "recipe.toml") == Recipe(strength=60)
    details = json.loads((folder / "0001" / "details.json").read_text())
    listed = [flag for flag in details["flags"] if flag["listed"]]
    assert len(details["flags"]) > len(listed) == one.figures["flags"] > 0
    assert "recipe" not in details


def test_same_in_same_out(tmp_path: Path) -> None:
    for name in ("one", "other"):
        (tmp_path / name).mkdir()
        fill(tmp_path / name / "take.passes")
    assert contents(tmp_path / "one") == contents(tmp_path / "other")


def test_a_kit_file_comes_along(tmp_path: Path) -> None:
    kit = tmp_path / "secret place" / "mine.toml"
    kit.parent.mkdir()
    kit.write_text('[notes]\n36 = "snare"\n38 = "kick"\n')
    folder = tmp_path / "take.passes"
    one = add(folder, draft(Recipe(kit=str(kit)), kit=kit.read_bytes()))
    kit.unlink()
    assert one.recipe["kit"] == "mine.toml"
    again = read_recipe(folder / "0001" / "recipe.toml")
    assert again.load_kit().sounds[38].piece == "kick"
    assert b"secret place" not in b"".join(contents(folder).values())


def test_the_pass_is_there_only_after_the_outputs(tmp_path: Path) -> None:
    folder = tmp_path / "take.passes"
    seen = []
    add(folder, draft(), lambda: seen.append(len(read_history(folder).passes)))
    assert seen == [0]


def test_outputs_that_can_t_be_written_are_not_recorded(tmp_path: Path) -> None:
    folder = tmp_path / "take.passes"
    fill(folder)
    before = contents(folder)

    def fail() -> None:
        raise DiskError("take-tight.mid can't be written")

    with pytest.raises(DiskError, match=r"take-tight\.mid can't be written"):
        add(folder, draft(), fail)
    assert contents(folder) == before
    with pytest.raises(DiskError):
        add(tmp_path / "new.passes", draft(), fail)
    assert not (tmp_path / "new.passes").exists()


def test_the_record_gives_way_to_the_outputs(tmp_path: Path) -> None:
    """A disk with room for the outputs or the record, not for both."""
    folder = tmp_path / "take.passes"
    fill(folder)
    before = contents(folder)
    written: list[bool] = []

    def write() -> None:
        if (folder / ".staging").exists():
            raise DiskError("out.mid can't be written: No space left on device")
        written.append(True)

    with pytest.raises(DiskError, match=r"^take-tight\.mid is written, but .* no room for both"):
        add(folder, draft(), write)
    assert written == [True]
    assert contents(folder) == before


def test_a_damaged_original_is_put_right(tmp_path: Path) -> None:
    folder = tmp_path / "take.passes"
    fill(folder)
    path = next((folder / "originals").iterdir())
    path.write_bytes(b"oops")
    add(folder, draft())
    assert stored_original(read_history(folder), path.stem) == draft().source


def test_a_number_is_never_given_twice(tmp_path: Path) -> None:
    folder = tmp_path / "take.passes"
    fill(folder)
    (folder / "0007").mkdir()  # the rest of something
    assert add(folder, draft()).number == 8


# Every call on the way that can fail, one after the other.
_CALLS = ("mkdir", "rename", "replace", "truncate", "fsync")


class _Full(io.FileIO):
    """A file on a disk that is full after half of what is to be written."""

    def write(self, data: Any) -> int:
        super().write(bytes(data)[: len(data) // 2])
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[int], None]]:
    """Make the n-th call that changes the disk fail as on a full one, and all after it."""
    calls, fails_at = 0, 10**9

    def wrap(real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*words: Any, **more: Any) -> Any:
            nonlocal calls
            calls += 1
            if calls > fails_at:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            return real(*words, **more)

        return call

    real_open = io.open

    def open_full(path: Any, mode: str = "r", *words: Any, **more: Any) -> Any:
        nonlocal calls
        if "w" in mode or "a" in mode:
            calls += 1
            if calls > fails_at:
                return _Full(path, mode.replace("b", ""))
        return real_open(path, mode, *words, **more)

    def from_call(number: int) -> None:
        nonlocal calls, fails_at
        calls, fails_at = 0, number

    for name in _CALLS:
        monkeypatch.setattr(os, name, wrap(getattr(os, name)))
    monkeypatch.setattr(io, "open", open_full)
    yield from_call
    monkeypatch.undo()


@pytest.mark.parametrize("earlier", [0, 3])
def test_a_full_disk_at_any_step(
    tmp_path: Path, failing: Callable[[int], None], earlier: int
) -> None:
    fates = []
    for step in range(40):
        failing(10**9)
        folder = tmp_path / str(step) / "take.passes"
        folder.parent.mkdir()
        if earlier:
            fill(folder)
        before = contents(folder)
        written: list[bool] = []
        failing(step)
        try:
            add(folder, draft(Recipe(strength=33)), partial(written.append, True))
        except DiskError as error:
            fates.append(str(error))
        else:
            fates.append("")
        failing(10**9)
        assert written == [True]
        after = contents(folder)
        assert {name: after[name] for name in before if name != "passes.jsonl"} == {
            name: data for name, data in before.items() if name != "passes.jsonl"
        }
        assert after.get("passes.jsonl", b"").startswith(before.get("passes.jsonl", b""))
        history = read_history(folder) if folder.exists() else None
        there = len(history.passes) if history else 0
        assert history is None or history.problems == ()
        if "not on record" in fates[-1]:
            assert there == earlier
            assert not (folder / ".staging").exists()
        else:
            assert there == earlier + 1
        assert add(folder, draft()).number == there + 1
        if not fates[-1]:
            break
    assert fates[-1] == ""
    assert len(fates) > 8
    assert all("take-tight.mid is written" in fate for fate in fates[:-1])
    assert "No space left on device" in fates[0]
    assert any("is on record, but its line" in fate for fate in fates)


def test_a_folder_that_can_t_be_made(tmp_path: Path) -> None:
    # A file where the folder should be: fails for everyone, the administrator too.
    (tmp_path / "take.passes").write_bytes(b"mine")
    written: list[bool] = []
    with pytest.raises(DiskError, match=r"take-tight\.mid is written, but .* not on record"):
        add(tmp_path / "take.passes", draft(), lambda: written.append(True))
    assert written == [True]
    assert (tmp_path / "take.passes").read_bytes() == b"mine"


def test_one_waits_for_another_and_not_for_ever(tmp_path: Path) -> None:
    folder = tmp_path / "take.passes"
    written: list[bool] = []
    with locked(folder, 1):
        begin = time.monotonic()
        with pytest.raises(DiskError, match=r"is written, but .* another evenhand is at work"):
            keeping.record(folder, draft(), lambda: written.append(True), patience=0.3)
        assert 0.3 <= time.monotonic() - begin < 5
        waiter = threading.Thread(target=add, args=(folder, draft()))
        waiter.start()
        time.sleep(0.1)
        assert read_history(folder).passes == ()
    waiter.join(10)
    assert written == [True]
    assert [one.number for one in read_history(folder).passes] == [1]


def test_a_lock_whose_folder_went_away_while_waiting(tmp_path: Path) -> None:
    # The one before found nothing to record and took the folder away: the waiting one goes on.
    folder = tmp_path / "take.passes"
    got = threading.Event()

    def wait() -> None:
        with locked(folder, 10):
            got.set()
            (folder / "kept").touch()

    with locked(folder, 1):
        waiter = threading.Thread(target=wait)
        waiter.start()
        time.sleep(0.1)
    waiter.join(10)
    assert got.is_set()
    assert (folder / "kept").exists()


def test_the_lock_is_the_system_s_own(tmp_path: Path) -> None:
    # Outside check: flock(2), through another open file.
    folder = tmp_path / "take.passes"
    with locked(folder, 1), (folder / ".lock").open() as other, pytest.raises(BlockingIOError):
        fcntl.flock(other, fcntl.LOCK_EX | fcntl.LOCK_NB)


def test_many_at_once_all_end_up_in_the_index(tmp_path: Path) -> None:
    folder = tmp_path / "take.passes"
    drafts = [draft(Recipe(strength=10 * number), note=str(number)) for number in range(8)]
    with ThreadPoolExecutor(8) as pool:
        numbers = list(pool.map(lambda one: add(folder, one).number, drafts * 3))
    assert sorted(numbers) == list(range(1, 25))
    history = read_history(folder)
    assert (len(history.passes), history.unlisted, history.problems) == (24, (), ())
    for one in history.passes:
        assert stored_output(history, one) == drafts[int(one.note)].output


def _crash(folder: Path, how: str, count: int = 0) -> dict[str, int]:
    done = subprocess.run(
        [sys.executable, _CRASH, folder, how, str(count)],
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": PYTHONPATH},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    seen: dict[str, int] = json.loads(done.stdout)
    return seen


@pytest.mark.apart
def test_killed_at_random_instants(tmp_path: Path) -> None:
    seen = _crash(tmp_path / "take.passes", "random", 50)
    assert seen["killed"] >= 50
    # The instants must have been spread: some in the middle of a pass, some passes done.
    assert seen["leftovers"] >= 6
    assert seen["passes"] > 10


def test_killed_between_any_two_steps(tmp_path: Path) -> None:
    seen = _crash(tmp_path / "take.passes", "every")
    assert all(count >= 2 for count in seen.values())
    assert len(seen) == 4
    assert sum(seen.values()) > 30
