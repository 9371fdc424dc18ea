"""Gathering takes: which files, in which order, each once."""

import datetime as dt
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.errors import DiskError
from evenhand.jobs.practice.gather import gather


def _make(folder: Path, *names: str) -> None:
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")
        os.utime(path, (0, 1_600_000_000))


def test_takes_in_the_order_in_which_they_were_played(tmp_path: Path) -> None:
    _make(tmp_path, "b 2026-11-03.mid", "a 2026-11-04.MID", "c/2026-11-01/x.midi", "old.mid")
    _make(tmp_path, "notes.txt", ".hidden.mid", ".git/2026-11-03.mid", "song.mid.txt")
    found = gather([tmp_path]).takes
    assert [one.name for one in found] == [
        "old.mid",
        "c/2026-11-01/x.midi",
        "b 2026-11-03.mid",
        "a 2026-11-04.MID",
    ]
    assert [one.source for one in found] == ["file date", "name", "name", "name"]


def test_what_evenhand_made_is_left_out(tmp_path: Path) -> None:
    _make(tmp_path, "a.mid", "a-tight.mid", "a-fitted.mid", "a-fitted-tight.mid", "too-tight.mid")
    _make(tmp_path, "a.passes/0001/output.mid")
    found = gather([tmp_path])
    assert [one.name for one in found.takes] == ["a.mid", "too-tight.mid"]
    assert found.made == 3


def test_links_in_circles_are_not_followed(tmp_path: Path) -> None:
    _make(tmp_path, "in/a.mid")
    (tmp_path / "in" / "round").symlink_to(tmp_path)
    (tmp_path / "again.mid").symlink_to(tmp_path / "in" / "a.mid")
    (tmp_path / "gone.mid").symlink_to(tmp_path / "nowhere")
    found = gather([tmp_path])
    assert [one.path.name for one in found.takes] == ["again.mid"]
    assert [name for name, _ in found.closed] == ["gone.mid"]


def test_a_folder_named_twice_counts_once(tmp_path: Path) -> None:
    _make(tmp_path, "week/a.mid", "week/b.mid")
    found = gather([tmp_path / "week", tmp_path])
    assert [one.name for one in found.takes] == ["week/a.mid", "week/b.mid"]


def test_names_and_dates_that_are_said(tmp_path: Path) -> None:
    _make(tmp_path, "a.mid", "b.mid")
    (tmp_path / "practice.toml").write_text('[dates]\n"a.mid"=2026-11-03\n[names]\n"a.mid"="A"\n')
    last = gather([tmp_path]).takes[-1]
    assert (last.name, last.when, last.source) == ("A", dt.datetime(2026, 11, 3), "practice.toml")


def test_since(tmp_path: Path) -> None:
    _make(tmp_path, "2026-11-03.mid", "2026-11-04 0000.mid", "2026-11-05.mid")
    found = gather([tmp_path], dt.date(2026, 11, 4))
    assert [one.when.day for one in found.takes] == [4, 5]
    with pytest.raises(DiskError, match="none of 3 takes was played since 2027-01-01"):
        gather([tmp_path], dt.date(2027, 1, 1))


def test_nothing_there(tmp_path: Path) -> None:
    with pytest.raises(DiskError, match="no takes"):
        gather([tmp_path])
    with pytest.raises(DiskError, match="there is no folder"):
        gather([tmp_path / "gone"])
    _make(tmp_path, "a.mid")
    with pytest.raises(DiskError, match="is a file"):
        gather([tmp_path / "a.mid"])


@given(st.lists(st.sampled_from("abcdef"), unique=True, min_size=1))
def test_the_order_on_disk_does_not_matter(names: list[str]) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        _make(Path(folder), *(f"{name}.mid" for name in names))
        found = [one.name for one in gather([Path(folder)]).takes]
        assert found == sorted(f"{name}.mid" for name in names)
