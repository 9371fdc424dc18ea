"""What arrives in a folder is tightened once, and never by halves."""

import itertools
import json
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.jobs.batch.few import Here, run, small_take, tree

from evenhand.errors import DiskError
from evenhand.jobs.batch import BatchSettings
from evenhand.jobs.watch import Arrived, Waits, wake_ups, watch

_Step = Callable[[], object]


def _play(folder: Path, steps: dict[float, _Step], until: float, out: Path | None = None) -> list:
    """Watch for some invented seconds, doing things at their times."""
    now = [0.0]
    todo = dict(steps)

    def wakes() -> Iterator[bool]:
        for quarter in itertools.count():
            now[0] = quarter / 4
            due = [at for at in sorted(todo) if at <= now[0]]
            for at in due:
                todo.pop(at)()
            if now[0] > until:
                return
            yield bool(due) or quarter == 0

    settings = BatchSettings(out or folder / "tight")
    return [(now[0], one) for one in watch(folder, settings, Here(), wakes(), clock=lambda: now[0])]


def _told(events: list) -> list[tuple[float, str, str]]:
    return [
        (at, one.outcome.row["take"], one.outcome.state)
        if isinstance(one, Arrived)
        else (at, one.source.name, "waits")
        for at, one in events
    ]


def test_a_file_counts_when_it_has_been_still_for_two_seconds(tmp_path: Path) -> None:
    data, path = small_take(1), tmp_path / "a.mid"

    def append(first: int, last: int) -> _Step:
        def write() -> None:
            with path.open("ab") as file:
                file.write(data[first:last])

        return write

    third = len(data) // 3
    steps = {1.0: append(0, third), 2.5: append(third, 2 * third), 4.0: append(2 * third, 10**6)}
    assert _told(_play(tmp_path, steps, 9)) == [(6.0, "a.mid", "done")]
    batch = tmp_path / "by-batch"
    run(tmp_path / "a.mid", batch)
    written = tree(tmp_path / "tight")
    assert written["a-tight.mid"] == tree(batch)["a-tight.mid"]
    assert {"a-tight.mid", "a-tight.changes.csv", "a-tight.record.json", "batch.csv"} <= set(
        written
    )


def test_half_a_file_waits_for_the_other_half(tmp_path: Path) -> None:
    data, path = small_take(2), tmp_path / "half.mid"
    steps: dict[float, _Step] = {
        0.0: lambda: path.write_bytes(data[: len(data) // 2]),
        8.0: lambda: path.write_bytes(data),
    }
    events = _play(tmp_path, steps, 14)
    assert _told(events) == [(2.0, "half.mid", "waits"), (10.0, "half.mid", "done")]
    waits = events[0][1]
    assert isinstance(waits, Waits)
    assert "cut short" in waits.reason


def test_a_take_is_done_once_however_often_it_is_seen(tmp_path: Path) -> None:
    data, path = small_take(3), tmp_path / "a.mid"
    path.write_bytes(data)
    assert _told(_play(tmp_path, {4.0: path.touch}, 12)) == [(2.0, "a.mid", "done")]
    before = tree(tmp_path)
    assert _told(_play(tmp_path, {}, 5)) == []
    assert tree(tmp_path) == before


def test_a_take_recorded_anew_is_done_anew(tmp_path: Path) -> None:
    path = tmp_path / "a.mid"
    path.write_bytes(small_take(3))
    steps: dict[float, _Step] = {5.0: lambda: path.write_bytes(small_take(4))}
    assert [name for _, name, _ in _told(_play(tmp_path, steps, 10))] == ["a.mid", "a.mid"]
    run(path, tmp_path / "by-batch")
    assert (tmp_path / "tight" / "a-tight.mid").read_bytes() == (
        tmp_path / "by-batch" / "a-tight.mid"
    ).read_bytes()


def test_a_file_renamed_into_place_and_a_take_in_a_folder(tmp_path: Path) -> None:
    takes = tmp_path / "takes"
    takes.mkdir()
    (tmp_path / "b.part").write_bytes(small_take(5))

    def arrive() -> None:
        (takes / "monday").mkdir()
        (tmp_path / "b.part").replace(takes / "monday" / "b.mid")

    events = _play(takes, {3.0: arrive}, 9, tmp_path / "out")
    assert _told(events) == [(5.0, "monday/b.mid", "done")]
    assert (tmp_path / "out" / "monday" / "b-tight.mid").is_file()


def test_a_recipe_beside_a_take_counts(tmp_path: Path) -> None:
    (tmp_path / "a.recipe.toml").write_text("[defaults]\nstrength = 31\n")
    (tmp_path / "a.mid").write_bytes(small_take(6))
    _play(tmp_path, {}, 4)
    record = json.loads((tmp_path / "tight" / "a-tight.record.json").read_bytes())
    assert record["recipe"]["strength"] == 31


def test_one_that_fails_is_told_once_and_the_others_go_on(tmp_path: Path) -> None:
    empty = small_take(0, bars=0)
    (tmp_path / "silent.mid").write_bytes(empty)
    steps: dict[float, _Step] = {4.0: lambda: (tmp_path / "b.mid").write_bytes(small_take(1))}
    told = _told(_play(tmp_path, steps, 10))
    assert told == [(2.0, "silent.mid", "failed"), (6.0, "b.mid", "done")]


def test_a_folder_that_goes_away_is_told(tmp_path: Path) -> None:
    takes = tmp_path / "takes"
    takes.mkdir()
    with pytest.raises(DiskError, match="no longer there"):
        _play(takes, {1.0: takes.rmdir}, 5, tmp_path / "out")


def test_with_the_real_clock_and_the_real_system(tmp_path: Path) -> None:
    stop = threading.Event()
    (tmp_path / "a.mid").write_bytes(small_take(1))
    done = []
    for one in watch(tmp_path, BatchSettings(tmp_path / "tight"), Here(), wake_ups(tmp_path, stop)):
        assert isinstance(one, Arrived)
        done.append(one.outcome.row["take"])
        if len(done) == 1:
            (tmp_path / "b.mid").write_bytes(small_take(2))
        else:
            stop.set()
    assert done == ["a.mid", "b.mid"]
