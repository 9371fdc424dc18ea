"""What is read: plain files up to a limit, and standard input; nothing that hangs or never ends."""

import io
import os
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.build import drum_bytes
from tests.raw import chunk, header

from evenhand import MidiFileError, SettingError, Take, read_take
from evenhand.errors import DiskError
from evenhand.take import in_roles, read_bytes, read_stdin, reading, reading_up_to


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


class _Somewhere:
    """A path that is neither a string nor a `Path`."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __fspath__(self) -> str:
        return str(self.path)


def test_a_take_from_any_path(tmp_path: Path) -> None:
    (tmp_path / "take.mid").write_bytes(drum_bytes([(0, 36)]))
    assert len(read_take(_Somewhere(tmp_path / "take.mid")).hits()) == 1


def test_settings_that_nobody_writes_by_hand(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_bytes(b"# " + b"x" * 600_000)
    with pytest.raises(SettingError, match=r"has 0\.6 MB; a file of settings has 0\.5 MB"):
        reading.read_toml(path)


def test_more_hits_than_a_take_has() -> None:
    body = b"\x00\x99\x24\x64" + b"\x01\x24\x64" * 60_000 + b"\x00\xff\x2f\x00"
    take = Take.from_bytes(header() + chunk(b"MTrk", body))
    with pytest.raises(MidiFileError, match="there are 60001 hits in it"):
        take.struck()


def test_a_note_may_be_of_more_than_one_piece() -> None:
    hits = replace(read_take(drum_bytes([(0, 36), (480, 38), (960, 36)])).hits())
    names, which = hits.by_piece
    assert (names.tolist(), which.tolist()) == (["kick", "snare"], [0, 1, 0])
    renamed = replace(hits, piece=np.array(["kick", "snare", "tom 1"]))
    names, which = renamed.by_piece
    assert (names.tolist(), which.tolist()) == (["kick", "snare", "tom 1"], [0, 1, 2])


def test_in_other_roles_the_pieces_are_the_same() -> None:
    hits = replace(read_take(drum_bytes([(0, 36), (480, 38), (960, 36)])).hits())
    fresh = in_roles(hits, np.array(["ghost", "anchor", "anchor"]))
    assert fresh.role.tolist() == ["ghost", "anchor", "anchor"]
    pieces = hits.by_piece
    again = in_roles(hits, fresh.role)
    assert again.by_piece is pieces
    assert again.role.tolist() == fresh.role.tolist()
    assert fresh.by_piece[1].tolist() == pieces[1].tolist()
