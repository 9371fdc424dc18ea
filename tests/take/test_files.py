"""Files on disk: whole or not at all, and never over an input."""

import errno
import os
from pathlib import Path

import pytest

from evenhand.errors import DiskError
from evenhand.take import files


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_files_appear_whole(tmp_path: Path) -> None:
    files.write_files({tmp_path / "a": b"one", tmp_path / "b": b"two"})
    assert (tmp_path / "a").read_bytes() == b"one"
    assert _names(tmp_path) == ["a", "b"]
    mask = os.umask(0)
    os.umask(mask)
    assert (tmp_path / "a").stat().st_mode & 0o777 == 0o666 & ~mask


def test_existing_file_is_kept_unless_told(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"old")
    with pytest.raises(DiskError, match="--overwrite"):
        files.write_files({path: b"new"})
    assert path.read_bytes() == b"old"
    files.write_files({path: b"new"}, overwrite=True)
    assert path.read_bytes() == b"new"
    assert _names(tmp_path) == ["a"]


def test_first_file_goes_if_the_second_cannot_come(tmp_path: Path) -> None:
    (tmp_path / "b").write_bytes(b"old")
    with pytest.raises(DiskError, match="b exists"):
        files.write_files({tmp_path / "a": b"new", tmp_path / "b": b"new"})
    assert _names(tmp_path) == ["b"]
    assert (tmp_path / "b").read_bytes() == b"old"


def test_full_disk_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    (tmp_path / "a").write_bytes(b"old")
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(DiskError, match="No space left"):
        files.write_files({tmp_path / "a": b"new"}, overwrite=True)
    assert _names(tmp_path) == ["a"]
    assert (tmp_path / "a").read_bytes() == b"old"


def test_interruption_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(handle: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        files.write_files({tmp_path / "a": b"new"})
    assert _names(tmp_path) == []


def test_file_system_without_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(source: object, target: object) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", no_links)
    files.write_files({tmp_path / "a": b"new"})
    assert _names(tmp_path) == ["a"]
    with pytest.raises(DiskError, match="a exists"):
        files.write_files({tmp_path / "a": b"newer"})
    assert (tmp_path / "a").read_bytes() == b"new"


@pytest.mark.parametrize("link", ["same", "symbolic", "hard"])
def test_output_that_is_the_input(tmp_path: Path, link: str) -> None:
    source, output = tmp_path / "take.mid", tmp_path / "other.mid"
    source.write_bytes(b"take")
    if link == "same":
        output = source
    elif link == "symbolic":
        output.symlink_to(source)
    else:
        output.hardlink_to(source)
    with pytest.raises(DiskError, match="never written"):
        files.check_outputs([output], [source], overwrite=True)


def test_output_named_twice(tmp_path: Path) -> None:
    with pytest.raises(DiskError, match="twice"):
        files.check_outputs([tmp_path / "a", tmp_path / "." / "a"], [], overwrite=True)


def test_output_without_a_folder(tmp_path: Path) -> None:
    with pytest.raises(DiskError, match="does not exist"):
        files.check_outputs([tmp_path / "none" / "a"], [], overwrite=False)
    with pytest.raises(DiskError, match="is a folder"):
        files.check_outputs([tmp_path], [], overwrite=True)


def test_dangling_link_counts_as_existing(tmp_path: Path) -> None:
    (tmp_path / "a").symlink_to(tmp_path / "nowhere")
    with pytest.raises(DiskError, match="exists"):
        files.check_outputs([tmp_path / "a"], [], overwrite=False)


def test_content_may_be_written_by_a_function(tmp_path: Path) -> None:
    def write(path: Path) -> None:
        path.write_bytes(b"long")

    files.write_files({tmp_path / "a": write})
    assert (tmp_path / "a").read_bytes() == b"long"
    assert _names(tmp_path) == ["a"]


def test_function_that_fails_leaves_nothing(tmp_path: Path) -> None:
    def fail(path: Path) -> None:
        path.write_bytes(b"half of it")
        raise OSError(errno.ENOSPC, "no space left")

    with pytest.raises(DiskError, match="a can't be written: no space left"):
        files.write_files({tmp_path / "b": b"whole", tmp_path / "a": fail})
    assert _names(tmp_path) == []


@pytest.mark.parametrize("overwrite", [False, True])
def test_a_device_or_a_pipe_is_never_replaced(tmp_path: Path, overwrite: bool) -> None:
    """A rename would put a plain file where the device was, for the whole system."""
    os.mkfifo(tmp_path / "pipe")
    device = tmp_path / "device"
    device.symlink_to(os.devnull)
    for path in (tmp_path / "pipe", device):
        before = path.stat()
        with pytest.raises(DiskError, match="is a device or a pipe and is not replaced"):
            files.write_files({path: b"new"}, overwrite)
        with pytest.raises(DiskError, match="is a device or a pipe and is not replaced"):
            files.check_outputs([path], [], overwrite)
        assert path.stat() == before
    assert _names(tmp_path) == ["device", "pipe"]


def test_files_may_be_made_elsewhere(tmp_path: Path) -> None:
    for name in ("work", "out"):
        (tmp_path / name).mkdir()
    seen = []

    def write(path: Path) -> None:
        seen.append(path.parent)
        path.write_bytes(b"new")

    files.write_files({tmp_path / "out" / "a": write}, staging=tmp_path / "work")
    assert seen == [tmp_path / "work"]
    assert (_names(tmp_path / "work"), _names(tmp_path / "out")) == ([], ["a"])


def test_what_is_tied_goes_with_its_file_or_comes_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    take, log = tmp_path / "take", tmp_path / "log"
    for path in (take, log):
        path.write_bytes(b"old")
    files.write_files({log: b"new log", take: b"new"}, overwrite=True, tied=[log])
    assert (take.read_bytes(), log.read_bytes()) == (b"new", b"new log")
    real = os.replace

    def replace(one: Path, other: Path) -> None:
        if Path(other) == take:
            raise OSError(errno.EACCES, os.strerror(errno.EACCES))
        real(one, other)

    # The take can't get its place: the log, which was aside already, is there as it was.
    monkeypatch.setattr(os, "replace", replace)
    with pytest.raises(DiskError, match="can't be written"):
        files.write_files({take: b"newer", log: b"newer log"}, overwrite=True, tied=[log])
    assert (take.read_bytes(), log.read_bytes()) == (b"new", b"new log")
    assert _names(tmp_path) == ["log", "take"]


def test_names_that_are_one_on_other_systems(tmp_path: Path) -> None:
    assert files.folded("STRASSE.mid") == files.folded("straße.mid")
    assert files.folded("caf\u00e9") == files.folded("cafe\u0301")
    with pytest.raises(DiskError, match="one file on systems that don't tell capitals apart"):
        files.check_outputs([tmp_path / "Take.mid", tmp_path / "take.MID"], [], False)


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(DiskError, match="can't be written"):
        files.write_files({tmp_path / "none" / "a": b"one"})


def test_folders_are_made_or_refused(tmp_path: Path) -> None:
    files.make_folder(tmp_path / "a" / "b")
    files.make_folder(tmp_path / "a" / "b")
    assert (tmp_path / "a" / "b").is_dir()
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(DiskError, match=r"file.* can't be made"):
        files.make_folder(tmp_path / "file" / "c")
    if os.name != "nt":
        assert files.name_for_library(Path("caf\udce9")) == b"caf\xe9"
