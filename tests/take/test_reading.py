"""What is read: plain files up to a limit, and standard input; nothing that hangs or never ends."""

import io
import os
import sys
from pathlib import Path

import pytest

from evenhand.errors import DiskError
from evenhand.take import read_bytes, read_stdin, reading_up_to


@pytest.mark.parametrize("name", ["none.mid", ".", "null\0byte", "x" * 5000])
def test_inputs_that_cannot_be_read(tmp_path: Path, name: str) -> None:
    with pytest.raises(DiskError) as caught:
        read_bytes(tmp_path / name)
    assert "\n" not in str(caught.value)


def test_a_pipe_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(DiskError, match="not a plain file"):
        read_bytes(tmp_path / "pipe")


def test_an_endless_device_is_refused_also_behind_a_link(tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to("/dev/zero")
    for path in (Path("/dev/zero"), tmp_path / "link"):
        with pytest.raises(DiskError, match="not a plain file"):
            read_bytes(path)


def test_links_are_followed_unless_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"one")
    (tmp_path / "link").symlink_to(tmp_path / "file")
    assert read_bytes(tmp_path / "link") == b"one"
    with pytest.raises(DiskError, match="but a link"):
        read_bytes(tmp_path / "link", follow=False)


def test_a_file_is_read_up_to_the_limit(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"x" * 2_000_000)
    with reading_up_to(2):
        assert len(read_bytes(path)) == 2_000_000
    with reading_up_to(1.9), pytest.raises(DiskError, match="--largest"):
        read_bytes(path)


def test_no_memory_is_taken_for_a_file_that_is_too_large(tmp_path: Path) -> None:
    with (tmp_path / "a").open("wb") as file:
        file.truncate(2**40)
    with pytest.raises(DiskError, match="1099512 MB, and files are read up to 256 MB"):
        read_bytes(tmp_path / "a")


def test_standard_input_is_read_up_to_the_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"x" * 3_000_000)))
    with reading_up_to(2.5), pytest.raises(DiskError, match=r"more than 2\.5 MB"):
        read_stdin()


def test_standard_input_may_be_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", None)
    with pytest.raises(DiskError, match="closed"):
        read_stdin()
