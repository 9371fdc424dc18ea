"""Which takes a batch finds, what it calls them, and what it leaves out."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.errors import DiskError, SettingError
from evenhand.jobs.batch.inputs import Source, find_takes, in_shard, parse_shard


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    """A folder with takes and other things."""
    for name in (
        "one.mid",
        "two.MIDI",
        "notes.txt",
        "song.recipe.toml",
        ".hidden.mid",
        ".trash/old.mid",
        "a/three.mid",
        "a/b/four.smf",
        "a/three-tight.mid",
        "a/lone-tight.mid",
        "one.passes/0001/output.mid",
    ):
        path = tmp_path / "in" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")
    return tmp_path / "in"


def _names(*inputs: Path | str, output: Path = Path("nowhere")) -> list[str]:
    return [one.name for one in find_takes([str(one) for one in inputs], output).takes]


def test_a_folder_is_searched_and_its_tree_mirrored(tree: Path) -> None:
    found = find_takes([str(tree)], tree.parent / "out")
    assert [one.name for one in found.takes] == [
        "a/b/four.smf",
        "a/lone-tight.mid",
        "a/three.mid",
        "one.mid",
        "two.MIDI",
    ]
    assert found.takes[0].output == "a/b/four-tight.smf"
    assert Path(found.takes[0].path) == tree / "a/b/four.smf"
    assert found.left_out == {
        "a/three-tight.mid": "tightened already, beside its original",
        "one.passes": "passes on record",
    }


def test_files_and_patterns(tree: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert _names(tree / "a/b/four.smf", tree / "one.mid") == ["four.smf", "one.mid"]
    assert _names(f"{tree}/*.mid") == ["one.mid"]
    assert _names(f"{tree}/a/**/*.smf") == ["b/four.smf"]
    assert _names(f"{tree}/[ab]") == ["a/b/four.smf", "a/lone-tight.mid", "a/three.mid"]
    monkeypatch.chdir(tree)
    assert _names("*.mid", "a") == ["b/four.smf", "lone-tight.mid", "one.mid", "three.mid"]


def test_a_take_that_is_named_is_taken_whatever_its_name(tree: Path) -> None:
    assert _names(tree / "a/three-tight.mid", tree / "notes.txt") == [
        "notes.txt",
        "three-tight.mid",
    ]


def test_the_same_take_twice_is_one(tree: Path) -> None:
    assert _names(tree / "one.mid", tree / "one.mid", f"{tree}/o*.mid") == ["one.mid"]


def test_a_name_with_brackets_is_a_name(tmp_path: Path) -> None:
    (tmp_path / "take [1].mid").write_bytes(b"")
    assert _names(tmp_path / "take [1].mid") == ["take [1].mid"]


@pytest.mark.parametrize("names", [("a/take.mid", "b/take.mid"), ("a/x.mid", "a/x.midi")])
def test_two_takes_for_one_output_are_refused(tmp_path: Path, names: tuple[str, str]) -> None:
    for name in names:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"")
    with pytest.raises(DiskError, match="would both be written") as refused:
        find_takes([str(tmp_path / name) for name in names], tmp_path / "out")
    assert all(str(tmp_path / name) in str(refused.value) for name in names)


def test_a_batch_never_writes_over_one_of_its_takes(tmp_path: Path) -> None:
    for name in ("take.mid", "take-tight.mid"):
        (tmp_path / name).write_bytes(b"")
    inputs = [str(tmp_path / "take.mid"), str(tmp_path / "take-tight.mid")]
    with pytest.raises(DiskError, match="is a take of this batch"):
        find_takes(inputs, tmp_path)
    assert len(find_takes(inputs, tmp_path / "out").takes) == 2


def test_the_output_folder_is_no_input(tree: Path) -> None:
    (tree / "out").mkdir()
    (tree / "out" / "one-tight.mid").write_bytes(b"")
    found = find_takes([str(tree)], tree / "out")
    assert "out/one-tight.mid" not in [one.name for one in found.takes]
    assert found.left_out["out"] == "the output folder"


def test_links_are_followed_only_inside(tree: Path) -> None:
    outside = tree.parent / "outside"
    outside.mkdir()
    (outside / "far.mid").write_bytes(b"")
    links = {
        "near.mid": tree / "one.mid",
        "far.mid": outside / "far.mid",
        "away": outside,
        "a/round": tree,
        "a/b/self": tree / "a/b/self",
        "c": tree / "a/b",
        "d": tree / "a/b",
        "gone.mid": tree / "nothing.mid",
    }
    for name, target in links.items():
        (tree / name).symlink_to(target)
    found = find_takes([str(tree)], tree.parent / "out")
    taken = {one.name for one in found.takes}
    assert "near.mid" in taken
    assert ("c/four.smf" in taken) != ("d/four.smf" in taken)
    assert not taken & {"far.mid", "away/far.mid", "gone.mid"}
    assert not any("round" in name for name in taken)
    out, circle = "a link that leads out of the input", "a link that leads round in a circle"
    told = {name: found.left_out[name] for name in ("far.mid", "away", "a/round", "gone.mid")}
    assert told == {
        "far.mid": out, "away": out, "a/round": circle, "gone.mid": "a link that leads nowhere",
    }  # fmt: skip


def test_many_links_to_each_other_end(tmp_path: Path) -> None:
    for one in range(12):
        (tmp_path / f"f{one}").mkdir()
        (tmp_path / f"f{one}" / "take.mid").write_bytes(b"")
        for other in range(12):
            (tmp_path / f"f{one}" / f"to{other}").symlink_to(tmp_path / f"f{other}")
    assert 12 <= len(_names(tmp_path)) <= 24


def test_a_named_link_is_followed(tree: Path) -> None:
    (tree.parent / "link").symlink_to(tree / "a/b")
    assert _names(tree.parent / "link") == ["four.smf"]


def test_a_pipe_is_no_take(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.mid")
    found = find_takes([str(tmp_path)], tmp_path / "out")
    assert (found.takes, found.left_out) == ([], {"pipe.mid": "no plain file"})
    with pytest.raises(DiskError, match="is no file and no folder"):
        find_takes([str(tmp_path / "pipe.mid")], tmp_path / "out")


def test_what_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(DiskError, match="is no file and no folder"):
        find_takes([str(tmp_path / "none.mid")], tmp_path)
    with pytest.raises(DiskError, match=re.escape("nothing is called") + r".*\*\.mid"):
        find_takes([str(tmp_path / "*.mid")], tmp_path)


def test_a_folder_that_may_not_be_read_is_told(tree: Path) -> None:
    """As another user, if these tests run as one who may read everything."""
    script = (
        "import os, sys; from pathlib import Path\n"
        "from evenhand.jobs.batch.inputs import find_takes\n"
        "if os.getuid() == 0: os.setuid(65534)\n"
        "found = find_takes([sys.argv[1]], Path('nowhere'))\n"
        "print([one.name for one in found.takes], found.unreadable)"
    )
    tree.parent.chmod(0o755)
    for folder in (tree, *tree.parents):
        if "pytest-of" in str(folder):
            folder.chmod(0o755)
    (tree / "a" / "b").chmod(0)
    try:
        done = subprocess.run(
            [sys.executable, "-c", script, str(tree)], capture_output=True, text=True, check=True
        )
    finally:
        (tree / "a" / "b").chmod(0o755)
    assert done.stdout == (
        "['a/lone-tight.mid', 'a/three.mid', 'one.mid', 'two.MIDI'] "
        "{'a/b/': \"the folder can't be read: Permission denied\"}\n"
    )


@given(st.sets(st.text(min_size=1), max_size=12), st.integers(1, 20))
def test_parts_share_the_takes_out(names: set[str], parts: int) -> None:
    takes = [Source(name, name) for name in sorted(names)]
    shares = [list(filter(in_shard(part, parts), takes)) for part in range(1, parts + 1)]
    assert sorted(one for share in shares for one in share) == takes


def test_parts_are_about_equal() -> None:
    takes = [Source(f"take-{number}.mid", "") for number in range(8000)]
    sizes = [len(list(filter(in_shard(part, 16), takes))) for part in range(1, 17)]
    # Binomial: 500 with a standard deviation of 22.
    assert all(abs(size - 500) < 5 * 22 for size in sizes)


def test_a_part_does_not_depend_on_the_machine() -> None:
    # sha256("a/b.mid") begins with 863cf8fbbe3eb931 (sha256sum).
    part = int("863cf8fbbe3eb931", 16) % 16 + 1
    assert in_shard(part, 16)(Source("a/b.mid", "/anywhere/a/b.mid"))


@pytest.mark.parametrize("text", ["", "3", "0/4", "5/4", "1/0", "-1/4", "1/4/2", "a/b", "1.5/4"])
def test_no_part(text: str) -> None:
    with pytest.raises(SettingError, match="is not a part such as 3/16"):
        parse_shard(text)


def test_a_part() -> None:
    assert parse_shard(" 3/16 ") == (3, 16)


@pytest.mark.parametrize(
    ("one", "other"),
    [("Verse.mid", "verse.mid"), ("caf\u00e9.mid", "cafe\u0301.mid"), ("a/x.mid", "A/x.mid")],
)
def test_names_that_are_one_elsewhere_are_refused(tmp_path: Path, one: str, other: str) -> None:
    for name in (one, other):
        (tmp_path / "in" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "in" / name).write_bytes(b"")
    if len(list((tmp_path / "in").rglob("*.mid"))) < 2:
        pytest.skip("this system does not tell the two apart")
    with pytest.raises(DiskError, match="would both be written"):
        find_takes([str(tmp_path / "in")], tmp_path / "out")
