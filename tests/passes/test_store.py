import contextlib
import hashlib
import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest
from tests.passes.history import add, contents, draft, fill

from evenhand.errors import DiskError
from evenhand.passes.again import original_of, output_of
from evenhand.passes.store import (
    INDEX,
    find_folder,
    folder_beside,
    read_history,
    stored_input,
    stored_original,
    stored_output,
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    fill(tmp_path / "take.passes")
    return tmp_path / "take.passes"


def test_what_comes_back_is_what_went_in(folder: Path) -> None:
    history, drafts = read_history(folder), fill(folder.with_name("again.passes"))
    assert (history.problems, history.unlisted) == ((), ())
    assert [(one.number, one.start) for one in history.passes] == [(1, 0), (2, 0), (3, 1)]
    for one, wanted in zip(history.passes, drafts, strict=True):
        assert stored_output(history, one) == wanted.output
        assert stored_input(history, one) == wanted.source
        assert (folder / one.folder / "changes.csv").read_bytes() == wanted.changes
    assert stored_original(history, history.passes[2].original) == drafts[0].source


def test_many_passes_share_one_original(folder: Path) -> None:
    assert len(list((folder / "originals").iterdir())) == 1


def test_hashes_are_those_of_sha256sum(folder: Path) -> None:
    # Outside check: the program sha256sum (GNU coreutils).
    told = subprocess.run(
        ["sha256sum", *sorted(folder.rglob("output.mid")), *(folder / "originals").iterdir()],
        capture_output=True, text=True, check=True,
    ).stdout.split("\n")[:-1]  # fmt: skip
    sums = [line.split()[0] for line in told]
    history = read_history(folder)
    assert sums == [one.output for one in history.passes] + [history.passes[0].original]
    assert sums[-1] == told[-1].split("/")[-1].removesuffix(".mid")


def test_the_folder_can_be_moved(folder: Path, tmp_path: Path) -> None:
    shutil.make_archive(str(tmp_path / "sent"), "zip", tmp_path, "take.passes")
    shutil.unpack_archive(tmp_path / "sent.zip", tmp_path / "elsewhere")
    moved = read_history(tmp_path / "elsewhere" / "take.passes")
    assert moved.passes == read_history(folder).passes
    assert all(stored_output(moved, one) for one in moved.passes)
    text = b"".join(contents(folder).values())
    assert str(tmp_path).encode() not in text


def test_half_a_line_is_no_line_and_loses_nothing(folder: Path) -> None:
    """Cut the index anywhere in its last line, as a crash may: all passes stay readable."""
    index = folder / "passes.jsonl"
    whole, passes = index.read_bytes(), read_history(folder).passes
    begin = whole[:-1].rfind(b"\n") + 1
    for cut in {*range(begin, len(whole), 7), len(whole) - 2, len(whole) - 1}:
        index.write_bytes(whole[:cut])
        history = read_history(folder)
        assert (history.passes, history.problems) == (passes, ())
        assert len(history.unlisted) == (0 if cut == len(whole) - 1 else 1)


@pytest.mark.parametrize("left", [0, 1, 100, -1])
def test_the_next_recording_mends_the_index(folder: Path, left: int) -> None:
    index = folder / "passes.jsonl"
    whole = index.read_bytes()
    begin = whole[:-1].rfind(b"\n") + 1
    index.write_bytes(whole[: begin + left] if left >= 0 else whole[:-1])
    add(folder, draft())
    lines = index.read_bytes().split(b"\n")
    assert b"\n".join(lines[:3]) + b"\n" == whole
    assert len(lines) == 5
    assert read_history(folder).unlisted == ()


def test_zeros_at_the_end_are_cut_off(folder: Path) -> None:
    # What a file system may leave behind a power failure.
    index = folder / "passes.jsonl"
    whole = index.read_bytes()
    index.write_bytes(whole + b"\0" * 300)
    assert len(read_history(folder).passes) == 3
    add(folder, draft())
    assert index.read_bytes().startswith(whole + b"{")


def test_a_lost_index_is_made_again(folder: Path) -> None:
    index = folder / "passes.jsonl"
    whole, passes = index.read_bytes(), read_history(folder).passes
    index.unlink()
    assert read_history(folder).passes == passes
    add(folder, draft())
    assert index.read_bytes().startswith(whole)


def test_a_damaged_line_is_told_and_made_up_for(folder: Path) -> None:
    index = folder / "passes.jsonl"
    lines = index.read_bytes().split(b"\n")
    index.write_bytes(b"\n".join([lines[0], b"rubbish", *lines[2:]]))
    history = read_history(folder)
    assert [one.number for one in history.passes] == [1, 2, 3]
    assert history.problems == ("passes.jsonl, line 2, can't be read: it is not JSON",)
    add(folder, draft())
    assert [one.number for one in read_history(folder).passes] == [1, 2, 3, 4]


def test_two_lines_of_one_pass_that_differ_are_told(folder: Path) -> None:
    index = folder / "passes.jsonl"
    text = index.read_text()
    index.write_text(text + text.split("\n")[1].replace("looser", "tighter") + "\n")
    history = read_history(folder)
    assert history.get(2).note == "second verse looser"
    assert history.problems == ("passes.jsonl, line 4, tells otherwise of pass 2",)


def test_lines_of_a_newer_schema_don_t_hide_the_others(folder: Path) -> None:
    with (folder / "passes.jsonl").open("a") as index:
        index.write('{"schema": 2, "pass": 4}\n')
    (folder / "0004").mkdir()
    history = read_history(folder)
    assert [one.number for one in history.passes] == [1, 2, 3]
    assert "newer evenhand" in history.problems[0]
    assert add(folder, draft()).number == 5


def test_a_changed_file_is_not_given_out(folder: Path) -> None:
    output = folder / "0002" / "output.mid"
    output.write_bytes(output.read_bytes() + b"\0")
    history = read_history(folder)
    with pytest.raises(DiskError, match=r"0002/output\.mid was changed"):
        stored_output(history, history.get(2))


@pytest.mark.parametrize("kind", ["missing", "folder", "endless", "queue"])
def test_what_only_looks_like_a_file_is_not_read(folder: Path, kind: str) -> None:
    output = folder / "0002" / "output.mid"
    output.unlink()
    if kind == "folder":
        output.mkdir()
    elif kind == "endless":
        output.symlink_to("/dev/zero")
    elif kind == "queue":
        os.mkfifo(output)
    history = read_history(folder)
    with pytest.raises(DiskError, match="missing" if kind == "missing" else "not a plain file"):
        stored_output(history, history.get(2))


def test_a_pass_that_is_not_there_is_told(folder: Path) -> None:
    with pytest.raises(DiskError, match="there is no pass 9; there are: 1, 2, 3"):
        read_history(folder).get(9)


def test_where_the_folder_is_looked_for(folder: Path, tmp_path: Path) -> None:
    assert folder_beside(Path("out/verse.mid"), "take") == Path("out/take.passes")
    for name in ("take.mid", "take", "take.passes", "take.MID"):
        assert find_folder(str(tmp_path / name)) == folder
    with pytest.raises(DiskError, match=r"there is no .*other\.passes; there are take\.passes"):
        find_folder(str(tmp_path / "other.mid"))
    with pytest.raises(DiskError, match="is a folder"):
        find_folder(str(tmp_path))
    with pytest.raises(DiskError, match="can't be read"):
        find_folder(str(tmp_path / "nowhere" / "take.mid"))


def test_originals_are_told_apart(folder: Path) -> None:
    other = draft().output
    add(folder, draft(source=other))
    history = read_history(folder)
    assert list(history.originals().values()) == [[1, 2, 3], [4]]
    assert hashlib.sha256(stored_original(history, history.get(4).original)).digest() == (
        hashlib.sha256(other).digest()
    )


def _lines(folder: Path) -> list[dict[str, object]]:
    return [json.loads(line) for line in (folder / INDEX).read_text().splitlines()]


def _write_lines(folder: Path, lines: list[dict[str, object]]) -> None:
    (folder / INDEX).write_text("".join(json.dumps(line) + "\n" for line in lines))


def test_an_index_that_contradicts_the_pass_is_not_believed(folder: Path) -> None:
    """Of two takes in a folder, the line of one named the original of the other."""
    add(folder, draft(source=draft().output))
    lines = _lines(folder)
    lines[3]["original"] = lines[3]["input"] = lines[0]["original"]
    _write_lines(folder, lines)
    with pytest.raises(DiskError, match=r"different things of pass 4 \(original, input\)"):
        original_of(read_history(folder), 4)


def test_a_pass_whose_input_is_not_what_came_before_is_not_believed(folder: Path) -> None:
    lines = _lines(folder)
    lines[1]["original"] = "0" * 64
    _write_lines(folder, lines)
    (folder / "0002" / "pass.json").write_text(json.dumps(lines[1]))
    with pytest.raises(DiskError, match="what pass 2 read is not what pass"):
        output_of(read_history(folder), read_history(folder).get(2))


@pytest.mark.parametrize("name", ["passes.jsonl", ".staging", ".lock", "originals", "0002"])
def test_nothing_is_written_or_read_through_a_link(folder: Path, tmp_path: Path, name: str) -> None:
    outside = tmp_path / "outside"
    path = folder / name
    if path.is_dir() or path.exists():
        path.rename(outside)
    else:
        outside.mkdir()
    before = {one: one.read_bytes() for one in outside.rglob("*") if one.is_file()}
    before |= {outside: outside.read_bytes()} if outside.is_file() else {}
    path.symlink_to(outside)
    with contextlib.suppress(DiskError):
        add(folder, draft(source=draft().output))
    after = {one: one.read_bytes() for one in outside.rglob("*") if one.is_file()}
    after |= {outside: outside.read_bytes()} if outside.is_file() else {}
    assert after == before
    if name == "0002":
        with pytest.raises(DiskError, match="but a link"):
            output_of(read_history(folder), read_history(folder).get(2))


def test_a_number_that_is_too_large_stops_nobody(folder: Path) -> None:
    lines = _lines(folder)
    for number in (999_999, 1_000_000):
        _write_lines(folder, [*lines, {**lines[0], "pass": number}])
        one = add(folder, draft())
        assert read_history(folder).get(one.number).output == one.output
