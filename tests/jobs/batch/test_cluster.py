"""A real Dask scheduler with two worker processes: same bytes, whoever dies on the way."""

import contextlib
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.commands import PYTHONPATH
from tests.jobs.batch import chores
from tests.jobs.batch.few import run, some_takes, tree

from evenhand.errors import DiskError, SettingError
from evenhand.jobs.batch.order import DONE
from evenhand.jobs.cluster import Cluster
from evenhand.jobs.workers import WorkerLostError

pytestmark = pytest.mark.apart


class Machines:
    """A scheduler and its workers, each a process."""

    def __init__(self, folder: Path, *words: str, **settings: str) -> None:
        self.folder = folder
        self.file = folder / "scheduler.json"
        self.processes: list[subprocess.Popen[bytes]] = []
        self.start("scheduler", "--port", "0", "--host", "127.0.0.1", *words, **settings)
        _until(lambda: self.file.exists() and self.file.stat().st_size)

    def start(self, *words: str, **more: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "dask", *words, "--no-dashboard"]
        process = subprocess.Popen(
            [*command, "--scheduler-file", str(self.file)],
            cwd=self.folder,
            # Whoever is gone is not waited for half a minute.
            env={
                "DASK_DISTRIBUTED__COMM__TIMEOUTS__CONNECT": "5s",
                **os.environ,
                "PYTHONPATH": PYTHONPATH,
                **more,
            },
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        self.processes.append(process)
        return process

    def worker(self) -> subprocess.Popen[bytes]:
        return self.start("worker", "--nthreads", "1", "--no-nanny")

    def end(self) -> None:
        for process in self.processes:
            with contextlib.suppress(ProcessLookupError):
                process.kill()
            process.wait()

    @property
    def address(self) -> str:
        return str(json.loads(self.file.read_text())["address"])


def _until(condition: Callable[[], object], seconds: float = 60.0) -> None:
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.05)


@pytest.fixture
def machines(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Machines]:
    """A scheduler with two workers, and settings of Dask if the test gives some."""
    (tmp_path / "cluster").mkdir()
    these = Machines(tmp_path / "cluster", **getattr(request, "param", {}))
    for _ in range(2):
        these.worker()
    yield these
    these.end()


def test_same_bytes_also_when_a_worker_is_killed_on_the_way(
    machines: Machines, tmp_path: Path
) -> None:
    takes = some_takes(tmp_path / "in", 12)
    (takes / "bad.mid").write_bytes(b"no take")
    run(takes, tmp_path / "here")
    whole = tree(tmp_path / "here")
    run(takes, tmp_path / "there", Cluster(machines.address))
    assert tree(tmp_path / "there") == whole

    class Deadly(Cluster):
        def run(self, function, items):
            for number, result in enumerate(super().run(function, items)):
                if number == 1:
                    machines.processes[1].send_signal(signal.SIGKILL)
                yield result

    run(takes, tmp_path / "again", Deadly(machines.address))
    assert machines.processes[1].wait() == -signal.SIGKILL
    assert tree(tmp_path / "again") == whole


@pytest.mark.parametrize(
    "machines", [{"DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "0"}], indirect=True
)
def test_an_item_that_kills_its_workers_is_given_up(machines: Machines) -> None:
    """This scheduler gives an item up when it has cost one worker."""
    results = dict(Cluster(machines.address).run(chores.die_of_seven, [7]))
    assert isinstance(results.pop(7), WorkerLostError)
    assert dict(Cluster(machines.address).run(chores.die_of_seven, [5, 6])) == {5: 5, 6: 6}


def test_a_cluster_that_goes_away(machines: Machines, tmp_path: Path) -> None:
    takes = some_takes(tmp_path / "in", 6)
    results = Cluster(machines.address).run(chores.slowly, range(100))
    next(results)
    machines.processes[0].kill()
    with pytest.raises(DiskError, match="went away; the same command goes on"):
        list(results)
    outcomes = run(takes, tmp_path / "out")
    assert [outcome.state for outcome in outcomes] == [DONE] * 6


@pytest.mark.parametrize("address", ["", "somewhere", "tcp://a b:1", "tcp://a", "tcp://a:1/x"])
def test_no_address(address: str) -> None:
    with pytest.raises(SettingError, match="is not the address of a scheduler"):
        Cluster(address)


def test_nobody_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("evenhand.jobs.cluster.PATIENCE", 1)
    with pytest.raises(DiskError, match=r"no cluster at tcp://127\.0\.0\.1:9"):
        list(Cluster("tcp://127.0.0.1:9").run(chores.square, [1]))


def test_without_the_package(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(SettingError, match=r"pip install 'evenhand\[cluster\]'"):
        Cluster("tcp://127.0.0.1:9")


def _certificates(folder: Path) -> dict[str, Path]:
    """A certificate that vouches for itself, by openssl."""
    cert, key = folder / "cert.pem", folder / "key.pem"
    words = [
        "req",
        "-x509",
        "-newkey",
        "rsa:2048",
        "-nodes",
        "-days",
        "2",
        "-subj",
        "/CN=127.0.0.1",
    ]
    where = ["-subj", "/CN=127.0.0.1", "-keyout", str(key), "-out", str(cert)]
    subprocess.run(["openssl", *words, *where], check=True, capture_output=True)
    return {"ca": cert, "cert": cert, "key": key}


@pytest.mark.skipif(shutil.which("openssl") is None, reason="no openssl to make certificates")
def test_over_tls(tmp_path: Path) -> None:
    files = _certificates(tmp_path)
    (tmp_path / "cluster").mkdir()
    tls = ["--tls-ca-file", str(files["ca"]), "--tls-cert", str(files["cert"])]
    tls += ["--tls-key", str(files["key"])]
    machines = Machines(tmp_path / "cluster", *tls, "--protocol", "tls")
    machines.start("worker", "--nthreads", "1", "--no-nanny", *tls)
    try:
        assert machines.address.startswith("tls://")
        cluster = Cluster(machines.address, files)
        assert dict(cluster.run(chores.square, [2, 3])) == {2: 4, 3: 9}
        with pytest.raises(SettingError, match="tls:// takes three files"):
            Cluster(machines.address)
        with pytest.raises(SettingError, match="certificates can't be used"):
            Cluster(machines.address, {**files, "ca": tmp_path / "none.pem"})
    finally:
        machines.end()


def test_certificates_without_encryption() -> None:
    with pytest.raises(SettingError, match="not encrypted"):
        Cluster("tcp://127.0.0.1:9", {"ca": Path("ca.pem")})
