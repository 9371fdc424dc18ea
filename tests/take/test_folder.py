"""Folders: they appear whole, and never over what is not ours."""

import ctypes
import os
from pathlib import Path

import pytest

from evenhand.errors import DiskError
from evenhand.take import folder
from evenhand.take.folder import check_folder, new_folder


def _ours(name: str) -> bool:
    return name == "a"


def _write(path: Path, text: str, overwrite: bool = False) -> None:
    with new_folder(path, overwrite) as work:
        (work / "a").write_text(text)


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_folder_appears_with_its_files(tmp_path: Path) -> None:
    _write(tmp_path / "out", "one")
    assert _names(tmp_path) == ["out"]
    assert (tmp_path / "out" / "a").read_text() == "one"
    mask = os.umask(0)
    os.umask(mask)
    assert (tmp_path / "out").stat().st_mode & 0o777 == 0o777 & ~mask


@pytest.mark.parametrize("error", [OSError(5, "broken"), KeyboardInterrupt(), SystemExit(143)])
def test_nothing_appears_if_it_ends_badly(tmp_path: Path, error: BaseException) -> None:
    raised = DiskError if isinstance(error, OSError) else type(error)

    def write_half() -> None:
        with new_folder(tmp_path / "out", overwrite=False) as work:
            (work / "a").write_text("half")
            raise error

    with pytest.raises(raised):
        write_half()
    assert _names(tmp_path) == []


def test_the_old_folder_stays_until_the_new_one_is_there(tmp_path: Path) -> None:
    _write(tmp_path / "out", "old")

    def write_half() -> None:
        with new_folder(tmp_path / "out", overwrite=True) as work:
            (work / "a").write_text("half")
            assert (tmp_path / "out" / "a").read_text() == "old"
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_half()
    assert (tmp_path / "out" / "a").read_text() == "old"
    _write(tmp_path / "out", "new", overwrite=True)
    assert (tmp_path / "out" / "a").read_text() == "new"
    assert _names(tmp_path) == ["out"]


def test_the_old_folder_comes_back_if_the_new_one_cannot_take_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _write(tmp_path / "out", "old")
    rename = Path.rename

    def stubborn(self: Path, target: Path) -> Path:
        if self.name.endswith(".part-folder"):
            raise OSError(5, "broken")
        return rename(self, target)

    # As on systems where two folders can't change names in one step.
    monkeypatch.setattr(folder, "_exchanged", lambda *_: False)
    monkeypatch.setattr(Path, "rename", stubborn)
    with pytest.raises(DiskError, match="broken"):
        _write(tmp_path / "out", "new", overwrite=True)
    assert (tmp_path / "out" / "a").read_text() == "old"
    assert _names(tmp_path) == ["out"]


def test_a_folder_that_came_up_meanwhile_is_not_replaced(tmp_path: Path) -> None:
    def write_beside_another() -> None:
        with new_folder(tmp_path / "out", overwrite=False) as work:
            (work / "a").write_text("mine")
            _write(tmp_path / "out", "theirs")

    with pytest.raises(DiskError, match="out can't be written"):
        write_beside_another()
    assert (tmp_path / "out" / "a").read_text() == "theirs"
    assert _names(tmp_path) == ["out"]


def test_checks_before_any_work(tmp_path: Path) -> None:
    check_folder(tmp_path / "new", _ours, overwrite=False)
    with pytest.raises(DiskError, match="missing does not exist"):
        check_folder(tmp_path / "missing" / "new", _ours, overwrite=True)
    (tmp_path / "file").write_text("")
    with pytest.raises(DiskError, match="no folder"):
        check_folder(tmp_path / "file", _ours, overwrite=True)
    with pytest.raises(DiskError, match="name a new folder"):
        check_folder(Path("/"), _ours, overwrite=True)


def test_only_folders_of_ours_are_replaced(tmp_path: Path) -> None:
    out = tmp_path / "out"
    _write(out, "old")
    with pytest.raises(DiskError, match="--overwrite"):
        check_folder(out, _ours, overwrite=False)
    check_folder(out, _ours, overwrite=True)
    (out / "song.txt").write_text("precious")
    with pytest.raises(DiskError, match=r"other files \(song\.txt\)"):
        check_folder(out, _ours, overwrite=True)
    (tmp_path / "link").symlink_to(out)
    with pytest.raises(DiskError, match="no folder"):
        check_folder(tmp_path / "link", _ours, overwrite=True)


def test_folders_that_cannot_change_names_in_one_step(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the system has no such call, there are two renames."""
    _write(tmp_path / "out", "old")
    monkeypatch.setattr(ctypes, "CDLL", lambda *_, **__: object())
    _write(tmp_path / "out", "new", overwrite=True)
    assert (tmp_path / "out" / "a").read_text() == "new"
    assert _names(tmp_path) == ["out"]


def test_a_folder_without_a_place_is_told(tmp_path: Path) -> None:
    with pytest.raises(DiskError, match="can't be written"):
        _write(tmp_path / "none" / "out", "new")
