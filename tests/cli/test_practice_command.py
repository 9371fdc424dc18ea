"""`evenhand practice`: what it prints, writes and refuses, and how it is interrupted."""

import json
import os
import pty
import resource
import shutil
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.commands import EVENHAND, run

from evenhand.jobs.practice.demo_days import demo_series

_FILES = [
    "practice-bests.csv",
    "practice-limbs.csv",
    "practice-takes.csv",
    "practice-trends.csv",
    "practice-work-on.csv",
    "practice.html",
]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    days = tmp_path / "days"
    days.mkdir()
    for name, data in demo_series().items():
        (days / name).write_bytes(data)
    return tmp_path


def _run(*words: object, cwd: Path) -> subprocess.CompletedProcess[bytes]:
    return run("practice", *words, cwd=cwd)


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir() if path.name != "days")


def test_page_and_tables_are_written_here(folder: Path) -> None:
    done = _run("days", cwd=folder)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.startswith(b"13 takes on 8 days, 2026-09-01 to 2026-09-23\n")
    assert done.stdout.count(b"Work on ") == 3
    assert _names(folder) == _FILES


def test_same_takes_same_bytes(folder: Path) -> None:
    _run("days", "-o", "one", cwd=folder)
    for path in (folder / "days").iterdir():
        # The names and the TOML tell the dates: those of the files don't matter.
        os.utime(path, (0, 1_000_000_000))
    _run("days", "-o", "two", "--workers", "1", cwd=folder)
    for name in _FILES:
        assert (folder / "one" / name).read_bytes() == (folder / "two" / name).read_bytes()


def test_existing_files_stay(folder: Path) -> None:
    (folder / "practice-takes.csv").write_bytes(b"mine")
    done = _run("days", cwd=folder)
    assert done.returncode == 1
    assert b"practice-takes.csv exists; give --overwrite" in done.stderr
    assert _names(folder) == ["practice-takes.csv"]
    assert _run("days", "--overwrite", "-q", cwd=folder).stdout == b""
    assert (folder / "practice-takes.csv").read_bytes() != b"mine"


def test_json(folder: Path) -> None:
    done = _run("days", "--json", "-o", "out", "--since", "2026-09-18", cwd=folder)
    told = json.loads(done.stdout)
    assert [take["date"][:10] for take in told["takes"]] == [
        *["2026-09-18"] * 2,
        *["2026-09-22"] * 2,
        "2026-09-23",
    ]
    assert told["written"] == [f"out/{name}" for name in ("practice.html", *_order(_FILES))]
    assert told["failed"] == []


def _order(names: list[str]) -> list[str]:
    wanted = ("takes", "limbs", "trends", "bests", "work-on")
    return [f"practice-{one}.csv" for one in wanted if f"practice-{one}.csv" in names]


def test_a_bad_take_fails_alone(folder: Path) -> None:
    (folder / "days" / "2026-09-05 torn.mid").write_bytes(b"MThd")
    done = _run("days", cwd=folder)
    assert done.returncode == 1
    assert b"2026-09-05 torn.mid: " in done.stdout
    assert b"Traceback" not in done.stderr
    assert _names(folder) == _FILES


def test_only_bad_takes(tmp_path: Path) -> None:
    (tmp_path / "a.mid").write_bytes(b"MThd")
    done = _run(".", cwd=tmp_path)
    assert done.returncode == 1
    assert b"there are too few hits to tell" in done.stdout
    assert b"Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (("nothing",), 1, "there is no folder nothing"),
        (("empty",), 1, "there are no takes (.mid, .midi, .smf) in empty"),
        (("days/practice.toml",), 1, "is a file"),
        (("days", "--since", "2027-01-01"), 1, "none of 13 takes was played since 2027-01-01"),
        (("days", "--since", "soon"), 2, "--since"),
        (("days", "--workers", "0"), 2, "--workers"),
        (("days", "--tempo-step", "0"), 2, "--tempo-step"),
        (("days", "--grid", "1/7"), 2, "--grid"),
        (("days", "-o", "days/practice.toml"), 1, "is a file"),
        (("days", "--recipe", "gone.toml"), 1, "gone.toml"),
    ],
)
def test_what_makes_no_sense(folder: Path, words: tuple[str, ...], code: int, message: str) -> None:
    (folder / "empty").mkdir()
    done = _run(*words, cwd=folder)
    assert done.returncode == code
    assert message in done.stderr.decode()
    assert done.stderr.count(b"\n") == 1
    assert _names(folder) == ["empty"]


def test_a_toml_that_makes_no_sense(folder: Path) -> None:
    (folder / "days" / "practice.toml").write_text("[days]")
    done = _run("days", cwd=folder)
    assert done.returncode == 1
    assert b"practice.toml: 'days' is not known" in done.stderr


def _run_bound(*words: str, cwd: Path) -> subprocess.CompletedProcess[bytes]:
    """Run where permissions count: the superuser gives up the power to pass over them."""
    command = [str(EVENHAND), "practice", *words]
    if os.geteuid() == 0:
        if not shutil.which("setpriv"):
            pytest.skip("the superuser may do anything, and there is no setpriv (util-linux)")
        command = ["setpriv", "--bounding-set=-dac_override,-dac_read_search", *command]
    return subprocess.run(command, cwd=cwd, capture_output=True, check=False)


@pytest.fixture
def shut() -> Iterator[Callable[[Path, int], None]]:
    """Take permissions away; they come back at the end, so that the folder can be cleared."""
    paths: list[Path] = []

    def take_away(path: Path, mode: int) -> None:
        paths.append(path)
        path.chmod(mode)

    yield take_away
    for path in reversed(paths):
        path.chmod(0o755)


def test_no_permission_to_read_some(folder: Path, shut: Callable[[Path, int], None]) -> None:
    (folder / "days" / "shut").mkdir()
    shut(folder / "days" / "shut", 0)
    shut(folder / "days" / "2026-09-01 kettle-weather 96.mid", 0)
    done = _run_bound("days", cwd=folder)
    words = done.stdout.decode()
    assert (done.returncode, done.stderr) == (1, b"")
    assert "shut: Permission denied" in words
    assert "2026-09-01 kettle-weather 96.mid: can't be read: Permission denied" in words
    assert _names(folder) == _FILES


def test_no_permission_to_read_all(folder: Path, shut: Callable[[Path, int], None]) -> None:
    shut(folder / "days", 0)
    done = _run_bound("days", cwd=folder)
    assert done.returncode == 1
    assert done.stderr == b"evenhand: days can't be read: Permission denied\n"
    assert _names(folder) == []


def test_no_permission_to_write(folder: Path, shut: Callable[[Path, int], None]) -> None:
    (folder / "out").mkdir()
    shut(folder / "out", 0o555)
    done = _run_bound("days", "-o", "out", cwd=folder)
    assert done.returncode == 1
    assert b"can't be written: Permission denied" in done.stderr
    assert done.stderr.count(b"\n") == 1
    assert list((folder / "out").iterdir()) == []


def test_a_disk_that_fills_up(folder: Path) -> None:
    # No file may grow beyond 100 kB: the page does not fit, and then nothing is left.
    def small() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))

    done = subprocess.run(
        [EVENHAND, "practice", "days", "-o", "out"],
        cwd=folder, capture_output=True, check=False, preexec_fn=small,
    )  # fmt: skip
    assert done.returncode == 1
    assert b"can't be written" in done.stderr
    assert done.stderr.count(b"\n") == 1
    assert _names(folder) == []


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGKILL])
def test_interruption_leaves_nothing(folder: Path, number: signal.Signals) -> None:
    for copy in range(8):
        for name, data in demo_series().items():
            if name.endswith(".mid"):
                (folder / "days" / f"{copy} {name}").write_bytes(data)
    child = subprocess.Popen(
        [EVENHAND, "practice", "days", "--workers", "2"],
        cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True,
    )  # fmt: skip
    deadline = time.monotonic() + 20
    while not _children(child.pid) and time.monotonic() < deadline:
        time.sleep(0.01)
    time.sleep(0.2)
    started = _children(child.pid)
    assert started
    if number == signal.SIGINT:
        # As from the keyboard: it reaches all.
        os.killpg(child.pid, number)
    else:
        child.send_signal(number)
    _, errors = child.communicate(timeout=20)
    assert child.returncode == (130 if number == signal.SIGINT else -signal.SIGKILL)
    assert b"Traceback" not in errors
    assert _names(folder) == []
    deadline = time.monotonic() + 5
    while any(map(_alive, started)) and time.monotonic() < deadline:
        time.sleep(0.02)
    assert not any(map(_alive, started))


def _children(pid: int) -> list[int]:
    try:
        return [int(one) for one in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except OSError:
        return []


def _alive(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def test_a_terminal_shows_how_far_it_is(folder: Path) -> None:
    ours, theirs = pty.openpty()
    done = subprocess.run(
        [EVENHAND, "practice", "days"],
        cwd=folder, stdout=subprocess.PIPE, stderr=theirs, check=False,
    )  # fmt: skip
    os.close(theirs)
    shown = os.read(ours, 100_000)
    os.close(ours)
    assert done.returncode == 0
    assert b"13/13" in shown
    assert b"\x1b" not in done.stdout


def test_names_that_are_no_text(folder: Path) -> None:
    name = os.fsdecode(b"2026-09-30 take\xff\x1b[2J.mid")
    (folder / "days" / name).write_bytes(demo_series()["2026-09-01 kettle-weather 96.mid"])
    for words in (["--overwrite"], ["--overwrite", "--json"]):
        done = _run("days", *words, cwd=folder)
        assert (done.returncode, done.stderr) == (0, b"")
        assert b"\x1b" not in done.stdout


def test_real_takes(takes: list[Path], tmp_path: Path) -> None:
    some = tmp_path / "some"
    some.mkdir()
    for path in takes[::4]:
        (some / path.name).symlink_to(path)
    done = _run("some", "--json", "-o", "out", cwd=tmp_path)
    told = json.loads(done.stdout)
    assert (done.returncode, told["failed"]) == (0, [])
    assert len(told["takes"]) == len(takes[::4])
    long = [take for take in told["takes"] if take["hits"] > 1000]
    assert len(long) >= 10
    # Played to a click by professionals: no take is without a figure, and none is absurd.
    for take in long:
        assert take["click"]
        assert 5 < take["spread_ms"] < 50
        assert 4 < take["stray_ms"] < 40
        assert 0 < take["wander"] < 0.7
        assert 0.4 < take["wander_off_click"] < 1.4
    assert len(told["work_on"]) == 3


def test_help_has_examples(tmp_path: Path) -> None:
    text = _run("--help", cwd=tmp_path).stdout.decode()
    assert "evenhand practice takes --since 2026-11-01" in text
