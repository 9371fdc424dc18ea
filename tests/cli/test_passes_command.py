"""`evenhand tighten` on record, `evenhand passes`, `evenhand restore`."""

import hashlib
import json
import signal
import subprocess
import time
from pathlib import Path

import pytest
from tests.commands import EVENHAND, run, run_whole
from tests.lengths import LONG

from evenhand.jobs.demo_take import demo_take
from evenhand.passes.lock import locked
from evenhand.passes.store import read_history

_FIXED = {"SOURCE_DATE_EPOCH": "1793613600", "TZ": "UTC"}


def _run(*words: str, cwd: Path, stdin: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    return run(*words, cwd=cwd, stdin=stdin, env=_FIXED)


def _done(*words: str, cwd: Path, stdin: bytes = b"") -> str:
    done = _run(*words, cwd=cwd, stdin=stdin)
    assert (done.returncode, done.stderr) == (0, b"")
    return done.stdout.decode()


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A take with three passes, the third from the first."""
    folder = tmp_path_factory.mktemp("recorded")
    (folder / "take.mid").write_bytes(demo_take())
    _done("tighten", "take.mid", "-q", "-o", "one.mid", cwd=folder)
    _done(
        "tighten", "take.mid", "-q", "-o", "two.mid", "--strength", "60", "--note", "looser",
        cwd=folder,
    )  # fmt: skip
    _done("tighten", "take.mid", "-q", "-o", "three.mid", "--from", "1", cwd=folder)
    return folder


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "take.mid").write_bytes(demo_take())
    return tmp_path


def test_the_list(recorded: Path) -> None:
    text = _done("passes", "take.mid", cwd=recorded)
    lines = text.splitlines()
    assert lines[0] == "take.passes"
    assert [line.split()[0] for line in lines[3:6]] == ["1", "3", "2"]
    assert lines[6:] == [
        "  changed   1  2026-11-02 10:00  the defaults",
        "            3  2026-11-02 10:00  from pass 1: recipe as in pass 1",
        '            2  2026-11-02 10:00  strength 60 (was 75) "looser"',
    ]


def test_the_list_for_machines(recorded: Path) -> None:
    told = json.loads(_done("passes", "take.mid", "--json", cwd=recorded))
    lines = (recorded / "take.passes" / "passes.jsonl").read_text().splitlines()
    assert told["passes"] == [json.loads(line) for line in lines]
    assert told["problems"] == []
    figures = told["passes"][0]["figures"]
    tightened = json.loads(_done("tighten", "take.mid", "--dry-run", "--json", cwd=recorded))
    assert figures["moved"] == tightened["figures"]["actions"]["moved"]
    assert figures["flags"] == sum(flag["listed"] for flag in tightened["flags"]) > 0


def test_one_pass_in_full(recorded: Path) -> None:
    text = _done("passes", "take.mid", "--show", "2", cwd=recorded)
    sha = hashlib.sha256((recorded / "two.mid").read_bytes()).hexdigest()
    for word in ("looser", "strength = 60.0", f"two.mid  {sha}", "strength 60 (was 75)", "20:3"):
        assert word in text
    assert "the output of pass 1" in _done("passes", "take.mid", "--show", "3", cwd=recorded)
    told = json.loads(_done("passes", "take.mid", "--show", "2", "--json", cwd=recorded))
    assert told["pass"] == 2
    listed = sum(flag["listed"] for flag in told["details"]["flags"])
    assert listed == told["figures"]["flags"] > 0


def test_proof(recorded: Path) -> None:
    text = _done("passes", "take.mid", "--verify", cwd=recorded)
    assert text.count("as recorded; its recipe gives the same bytes") == 3
    assert json.loads(_done("passes", "take.mid", "--verify", "--json", cwd=recorded))["holds"]


def test_proof_that_fails(folder: Path) -> None:
    _done("tighten", "take.mid", "-q", cwd=folder)
    (folder / "take.passes" / "0001" / "output.mid").write_bytes(b"oops")
    (folder / "take.mid").write_bytes(demo_take()[:-1])
    for words in ((), ("--json",)):
        done = _run("passes", "take.mid", "--verify", *words, cwd=folder)
        assert done.returncode == 1
        assert done.stderr.count(b"\n") == 1
        assert b"output.mid was changed" in done.stdout
        assert b"take.mid is no longer any original" in done.stdout


@pytest.mark.parametrize(("number", "name"), [(0, "take"), (1, "one"), (2, "two"), (3, "three")])
def test_restoring(recorded: Path, tmp_path: Path, number: int, name: str) -> None:
    data = (recorded / f"{name}.mid").read_bytes()
    out = tmp_path / "out.mid"
    _done("restore", "take.mid", "--pass", str(number), "-o", str(out), cwd=recorded)
    assert out.read_bytes() == data
    piped = _run("restore", "take.passes", "--pass", str(number), "-o", "-", cwd=recorded)
    assert piped.stdout == data


@pytest.mark.parametrize("words", [["--fit"], ["--fit", "--follow", "--near", "100"]])
def test_a_fit_is_part_of_the_recipe(folder: Path, words: list[str]) -> None:
    _done("tighten", "take.mid", "-q", *words, cwd=folder)
    _done("passes", "take.mid", "--verify", cwd=folder)
    _done("restore", "take.mid", "--pass", "0", "-o", "first.mid", cwd=folder)
    assert (folder / "first.mid").read_bytes() == demo_take()


def test_restored_files_have_names_of_their_own(folder: Path) -> None:
    _done("tighten", "take.mid", "-q", cwd=folder)
    (folder / "take.mid").unlink()
    assert "take-original.mid" in _done("restore", "take.mid", "--pass", "0", cwd=folder)
    assert (folder / "take-original.mid").read_bytes() == demo_take()
    _done("restore", "take.mid", "--pass", "1", cwd=folder)
    done = _run("restore", "take.mid", "--pass", "1", cwd=folder)
    assert (done.returncode, done.stderr.count(b"\n")) == (1, 1)
    assert b"exists" in done.stderr


def test_the_stored_recipe_can_be_used_again(recorded: Path, tmp_path: Path) -> None:
    out = str(tmp_path / "again.mid")
    recipe = "take.passes/0002/recipe.toml"
    _done("tighten", "take.mid", "-q", "--no-record", "--recipe", recipe, "-o", out, cwd=recorded)
    assert Path(out).read_bytes() == (recorded / "two.mid").read_bytes()


def test_starting_from_a_pass_means_from_its_output(recorded: Path, tmp_path: Path) -> None:
    out = str(tmp_path / "x.mid")
    _done("tighten", "one.mid", "-q", "--no-record", "-o", out, cwd=recorded)
    assert Path(out).read_bytes() == (recorded / "three.mid").read_bytes()


def _folders(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*.passes"))


@pytest.mark.parametrize(
    ("words", "where"),
    [
        (["take.mid"], ["take.passes"]),
        (["take.mid", "-o", "verse.mid"], ["take.passes"]),
        (["take.mid", "-o", "out"], ["out/take.passes"]),
        (["take.mid", "-o", "out/verse.mid"], ["out/take.passes"]),
        (["-", "-o", "out/verse.mid"], ["out/verse.passes"]),
        (["-", "-o", "out"], ["out/take-tight.passes"]),
        (["take.mid", "-o", "-"], []),
        (["-"], []),
        (["take.mid", "--no-record"], []),
        (["take.mid", "--dry-run"], []),
        (["take.mid", "--dry-run", "--note", "x"], []),
    ],
)
def test_where_passes_are_recorded(folder: Path, words: list[str], where: list[str]) -> None:
    (folder / "out").mkdir()
    done = _run("tighten", *words, cwd=folder, stdin=demo_take())
    assert done.returncode == 0
    assert _folders(folder) == where
    for name in where:
        assert _done("passes", name, cwd=folder).count("the defaults") == 1


def test_a_run_from_a_pass_stays_with_it(folder: Path) -> None:
    (folder / "out").mkdir()
    _done("tighten", "take.mid", "-q", cwd=folder)
    text = _done("tighten", "take.mid", "--from", "1", "-o", "out", cwd=folder)
    assert _folders(folder) == ["take.passes"]
    assert "take.passes: pass 2" in text
    assert read_history(folder / "take.passes").get(2).wrote == "out/take-tight.mid"
    piped = _run("tighten", "take.mid", "--from", "1", "-o", "-", cwd=folder)
    assert piped.stdout == (folder / "out" / "take-tight.mid").read_bytes()


def test_two_takes_of_one_name(folder: Path) -> None:
    for name in ("monday", "tuesday", "out"):
        (folder / name).mkdir()
    other = demo_take()[:-4] + bytes([0x10]) + demo_take()[-3:]  # a later end of track
    (folder / "monday" / "take.mid").write_bytes(demo_take())
    (folder / "tuesday" / "take.mid").write_bytes(other)
    _done("tighten", "monday/take.mid", "-q", "-o", "out/m.mid", cwd=folder)
    _done("tighten", "tuesday/take.mid", "-q", "-o", "out/t.mid", cwd=folder)
    text = _done("passes", "out/take.mid", cwd=folder)
    assert "(of pass 1)" in text
    assert "(of pass 2)" in text
    done = _run("restore", "out/take.mid", "--pass", "0", cwd=folder)
    assert (done.returncode, done.stderr.count(b"\n")) == (1, 1)
    assert b"--original-of 1 or 2" in done.stderr
    _done("restore", "out/take.mid", "--original-of", "2", "-o", "x.mid", cwd=folder)
    assert (folder / "x.mid").read_bytes() == other


def test_the_summary_names_the_pass(folder: Path) -> None:
    assert _done("tighten", "take.mid", cwd=folder).endswith("take.passes: pass 1\n")
    told = json.loads(_done("tighten", "take.mid", "--overwrite", "--json", cwd=folder))
    assert (told["passes"], told["pass"]) == ("take.passes", 2)
    told = json.loads(
        _done("tighten", "take.mid", "--overwrite", "--no-record", "--json", cwd=folder)
    )
    assert (told["passes"], told["pass"]) == (None, None)


_WRONG = [
    (2, "tighten take.mid --note x --no-record", b"--note"),
    (2, "tighten take.mid --note x -o -", b"--note"),
    (2, "tighten - --from 1", b"--from"),
    (2, "tighten take.mid --from -1", b"--from"),
    (1, "tighten take.mid --from 1", b"there is no folder take.passes"),
    (1, "passes take.mid", b"there is no take.passes"),
    (1, "passes .", b"is a folder"),
    (2, "passes take.mid --show 1 --verify", b"one at a time"),
    (2, "restore take.mid", b"--pass"),
    (2, "restore take.mid --pass 1 --original-of 2", b"--pass"),
    (1, "restore take.mid --pass 1", b"there is no take.passes"),
]


@pytest.mark.parametrize(("code", "words", "told"), _WRONG)
def test_wrong_usage(folder: Path, code: int, words: str, told: bytes) -> None:
    done = _run(*words.split(), cwd=folder)
    assert done.returncode == code
    assert told in done.stderr
    assert b"Traceback" not in done.stderr
    assert sorted(path.name for path in folder.iterdir()) == ["take.mid"]


def test_a_pass_that_is_not_there(recorded: Path) -> None:
    for words in ("restore take.mid --pass 7", "passes take.mid --show 7"):
        done = _run(*words.split(), cwd=recorded)
        assert done.returncode == 1
        assert b"there is no pass 7; there are: 1, 2, 3" in done.stderr
    done = _run("tighten", "take.mid", "--from", "7", "-o", "x.mid", cwd=recorded)
    assert (done.returncode, (recorded / "x.mid").exists()) == (1, False)


def test_a_record_that_can_t_be_kept_does_not_hold_up_the_take(folder: Path) -> None:
    (folder / "take.passes").write_bytes(b"in the way")
    done = _run("tighten", "take.mid", cwd=folder)
    assert done.returncode == 1
    assert done.stderr.startswith(b"evenhand: take-tight.mid is written, but this pass is not on")
    assert done.stderr.count(b"\n") == 1
    assert (folder / "take-tight.mid").exists()


def test_two_at_once(folder: Path) -> None:
    with locked(folder / "take.passes", 1):
        running = [
            subprocess.Popen(
                [EVENHAND, "tighten", "take.mid", "-q", "-o", f"{number}.mid"], cwd=folder
            )
            for number in range(3)
        ]
        time.sleep(0.5)
    assert [one.wait(30) for one in running] == [0, 0, 0]
    history = read_history(folder / "take.passes")
    assert [one.number for one in history.passes] == [1, 2, 3]
    assert {one.wrote for one in history.passes} == {"0.mid", "1.mid", "2.mid"}
    assert history.unlisted == ()


@pytest.mark.apart
def test_killed_as_a_whole(folder: Path) -> None:
    """Kill the command itself at instants all over its run: outputs and record stay whole."""
    _done("tighten", "take.mid", "-q", "-o", "first.mid", cwd=folder)
    begin = time.monotonic()
    run_whole("tighten", "take.mid", "-q", "-o", "second.mid", cwd=folder)
    length = time.monotonic() - begin
    wanted = (folder / "first.mid").read_bytes()
    for turn in range(0, 5, 1 if LONG else 2):
        child = subprocess.Popen(
            [EVENHAND, "tighten", "take.mid", "-q", "-o", f"{turn}.mid"], cwd=folder
        )
        time.sleep(length * (0.6 + 0.1 * turn))
        child.send_signal(signal.SIGKILL)
        child.wait()
        history = read_history(folder / "take.passes")
        assert history.problems == ()
        output = folder / f"{turn}.mid"
        assert not output.exists() or output.read_bytes() == wanted
        for one in history.passes:
            assert (folder / one.wrote).read_bytes() == wanted
    _done("passes", "take.mid", "--verify", cwd=folder)
