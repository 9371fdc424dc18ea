"""Files in the making: what a killed run left goes, what a run at work owns stays."""

import os
from pathlib import Path

import pytest

from evenhand.take import parts, write_files
from evenhand.take.parts import claim, drop


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_what_nobody_owns_is_cleared(tmp_path: Path) -> None:
    for name in (".a.part", ".a.1.part", ".a.2.part"):
        (tmp_path / name).write_bytes(b"half")
    write_files({tmp_path / "a": b"whole"})
    assert _names(tmp_path) == ["a"]


def test_what_another_run_makes_stays(tmp_path: Path) -> None:
    other = claim(tmp_path, "a")
    os.write(other.handle, b"in the making")
    write_files({tmp_path / "a": b"whole"})
    assert _names(tmp_path) == [".a.part", "a"]
    assert other.path.read_bytes() == b"in the making"
    drop(other)
    assert _names(tmp_path) == ["a"]


def test_links_in_the_place_of_a_part_are_not_followed(tmp_path: Path) -> None:
    (tmp_path / "outside").write_bytes(b"not yours")
    (tmp_path / ".a.part").symlink_to(tmp_path / "outside")
    os.mkfifo(tmp_path / ".a.1.part")
    write_files({tmp_path / "a": b"whole"})
    assert (tmp_path / "outside").read_bytes() == b"not yours"
    assert _names(tmp_path) == [".a.1.part", ".a.part", "a", "outside"]


def test_a_link_to_a_part_does_no_harm(tmp_path: Path) -> None:
    """A second name of somebody's file: taken away, never written to."""
    (tmp_path / "outside").write_bytes(b"not yours")
    os.link(tmp_path / "outside", tmp_path / ".a.part")
    write_files({tmp_path / "a": b"whole"})
    assert (tmp_path / "outside").read_bytes() == b"not yours"


def test_names_as_long_as_a_disk_allows(tmp_path: Path) -> None:
    for name in ("x" * 255, "é" * 127):
        write_files({tmp_path / name: b"whole"})
        assert (tmp_path / name).read_bytes() == b"whole"


def test_a_log_never_stands_beside_another_take(tmp_path: Path) -> None:
    take, log = tmp_path / "take", tmp_path / "log"
    write_files({take: b"old take", log: b"old log"})
    seen = []
    real = os.replace

    def watched(*words: object) -> None:
        real(*words)  # type: ignore[arg-type]
        seen.append((take.read_bytes(), log.read_bytes() if log.exists() else None))

    os.replace = watched  # type: ignore[assignment]
    try:
        write_files({log: b"new log", take: b"new take"}, overwrite=True, tied=[log])
    finally:
        os.replace = real
    assert seen == [(b"old take", None), (b"new take", None), (b"new take", b"new log")]
    assert _names(tmp_path) == ["log", "take"]


def test_too_many_at_work_on_one_file_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parts, "_MOST", 3)
    mine = [claim(tmp_path, "a") for _ in range(3)]
    with pytest.raises(FileExistsError, match="too many runs are at work on it"):
        claim(tmp_path, "a")
    for one in mine:
        drop(one)
    assert _names(tmp_path) == []


def test_a_part_that_another_run_cleared_is_not_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between opening it and locking it another run may take it away."""
    real, gone = parts.try_lock, []

    def too_late(handle: int) -> bool:
        if not gone:
            gone.append(handle)
            (tmp_path / ".a.part").unlink()
        return real(handle)

    monkeypatch.setattr(parts, "try_lock", too_late)
    part = claim(tmp_path, "a")
    assert part.path.name == ".a.1.part"
    drop(part)


def test_a_folder_whose_replacement_was_killed_comes_back(tmp_path: Path) -> None:
    (tmp_path / ".out.part").write_bytes(b"")
    (tmp_path / ".out.part-old").mkdir()
    (tmp_path / ".out.part-old" / "a").write_text("old")
    drop(claim(tmp_path, "out"))
    assert (tmp_path / "out" / "a").read_text() == "old"
    assert _names(tmp_path) == ["out"]
