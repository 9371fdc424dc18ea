"""The server from outside: who may ask, what two pages see of each other, what is on disk."""

import http.client
import json
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.commands import as_text, run
from tests.lengths import LONG
from tests.review.client import COMMAND, Client, Running, review
from websockets.exceptions import ConnectionClosed, InvalidStatus

from evenhand import Recipe, read_recipe, read_take, tighten
from evenhand.jobs.demo_take import demo_take


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("review") / "take.mid"
    path.write_bytes(demo_take())
    return path


@pytest.fixture(scope="module")
def running(take: Path) -> Iterator[Running]:
    with review(take) as server:
        yield server


def ask(server: Running, path: str, method: str = "GET", **headers: str) -> tuple[int, bytes]:
    line = http.client.HTTPConnection("127.0.0.1", server.port, timeout=5)
    line.putrequest(method, path, skip_host="Host" in headers)
    for name, value in headers.items():
        line.putheader(name, value)
    line.endheaders()
    answer = line.getresponse()
    body = answer.read()
    line.close()
    return answer.status, body


def test_the_first_address_gives_a_cookie_and_then_the_page(running: Running) -> None:
    line = http.client.HTTPConnection("127.0.0.1", running.port, timeout=5)
    line.request("GET", f"/?token={running.token}")
    answer = line.getresponse()
    answer.read()
    cookie = answer.getheader("Set-Cookie") or ""
    assert (answer.status, answer.getheader("Location")) == (303, "/")
    assert "SameSite=Strict" in cookie
    assert "HttpOnly" in cookie
    line.request("GET", "/", headers={"Cookie": cookie.partition(";")[0]})
    answer = line.getresponse()
    page = answer.read().decode()
    line.close()
    assert answer.status == 200
    # Nothing on the page runs that is not a file of ours.
    policy = answer.getheader("Content-Security-Policy") or ""
    assert "script-src 'self';" in policy
    assert "frame-ancestors 'none'" in policy
    assert page.count("<script") == page.count("<script src=") + page.count("<script type=") == 2
    assert running.token not in page


HERE = {"Host": "127.0.0.1:{port}"}


@pytest.mark.parametrize(
    ("path", "method", "headers", "status"),
    [
        ("/", "GET", {}, 403),
        ("/?token=", "GET", {}, 403),
        ("/?token=guess", "GET", {}, 403),
        ("/page.js", "GET", {}, 403),
        ("/page.js", "GET", {"Authorization": "Bearer guess"}, 403),
        ("/page.js", "GET", {"Cookie": "evenhand-{port}=guess"}, 403),
        ("/page.js", "GET", {"Cookie": "evenhand-{port}={token}"}, 200),
        ("/page.js", "GET", {"Authorization": "Bearer {token}"}, 200),
        # Another name for this computer, as after rebinding.
        ("/", "GET", {"Host": "evil.example:{port}", "Authorization": "Bearer {token}"}, 403),
        ("/", "GET", {"Host": "127.0.0.1", "Authorization": "Bearer {token}"}, 403),
        ("/?token={token}", "GET", {"Host": "evil.example:{port}"}, 403),
        # Another page.
        ("/", "GET", {"Origin": "https://evil.example", "Authorization": "Bearer {token}"}, 403),
        ("/", "GET", {"Origin": "null", "Authorization": "Bearer {token}"}, 403),
        ("/", "GET", {"Origin": "http://127.0.0.1:{port}", "Authorization": "Bearer {token}"}, 200),
        # What can't be asked for.
        ("/", "POST", {"Authorization": "Bearer {token}", "Content-Length": "0"}, 405),
        ("/../pyproject.toml", "GET", {"Authorization": "Bearer {token}"}, 404),
        ("/listen/%2e%2e/data.py", "GET", {"Authorization": "Bearer {token}"}, 404),
        ("/sound/backing", "GET", {"Authorization": "Bearer {token}"}, 404),
        ("/talk", "GET", {"Authorization": "Bearer {token}"}, 404),
    ],
)
def test_who_may_ask_what(
    running: Running, path: str, method: str, headers: dict[str, str], status: int
) -> None:
    def filled(text: str) -> str:
        return text.format(port=running.port, token=running.token)

    given = {name: filled(value) for name, value in headers.items()}
    assert ask(running, filled(path), method, **given)[0] == status


@pytest.mark.parametrize(
    "headers",
    [
        {"Cookie": "evenhand=guess"},
        {"Authorization": "Bearer guess"},
        {"Authorization": "Bearer {token}", "Origin": "https://evil.example"},
        {"Authorization": "Bearer {token}", "Origin": "null"},
    ],
)
def test_who_may_talk(running: Running, headers: dict[str, str]) -> None:
    given = {name: value.format(token=running.token) for name, value in headers.items()}
    with pytest.raises(InvalidStatus) as refused:
        running.talk(**given)
    assert refused.value.response.status_code == 403


@pytest.mark.parametrize("known", [True, False])
def test_a_hundred_megabytes_are_refused_unread(running: Running, take: Path, known: bool) -> None:
    before = sorted((path.name, path.read_bytes()) for path in take.parent.iterdir())
    with socket.create_connection(("127.0.0.1", running.port), timeout=10) as line:
        length = f"Content-Length: {100_000_000}" if known else "Transfer-Encoding: chunked"
        head = f"POST / HTTP/1.1\r\nHost: 127.0.0.1:{running.port}\r\n{length}\r\n"
        line.sendall(f"{head}Authorization: Bearer {running.token}\r\n\r\n".encode())
        # Whoever goes on sending is cut off.
        try:
            for _ in range(100):
                line.sendall(b"f4240\r\n" + bytes(1_000_000) + b"\r\n")
        except OSError:
            pass
        try:
            answer = line.recv(100)
        except OSError:
            answer = b""
    # The answer can be lost where the sender was cut off; then ask without sending any more.
    assert answer[:12] in (b"HTTP/1.1 413", b"")
    status, _ = ask(running, "/", "POST", **running.headers(**{"Content-Length": str(100_000_000)}))
    assert status == 413
    assert sorted((path.name, path.read_bytes()) for path in take.parent.iterdir()) == before


def test_a_long_message_ends_the_talk(running: Running) -> None:
    with running.talk() as line:
        line.recv()
        line.send("x" * 100_000)
        with pytest.raises(ConnectionClosed) as closed:
            line.recv(timeout=5)
        assert closed.value.rcvd is not None
        assert closed.value.rcvd.code == 1009


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("no json", "no JSON"),
        ("[" * 60_000, "no JSON"),
        ("[]", "an object with"),
        ('{"op": "undo"}', "an object with"),
        ('{"id": true, "op": "undo"}', "an object with"),
        ('{"id": 1, "op": "keep everything"}', "is none of"),
        ('{"id": 1, "op": "hold", "at": "900:1", "on": true}', "lies behind the end"),
        ('{"id": 1, "op": "nudge", "at": "5:1.3", "piece": "crash", "ms": 4}', "there is no crash"),
    ],
)
def test_nonsense_is_answered_and_changes_nothing(
    running: Running, take: Path, text: str, said: str
) -> None:
    before = sorted(path.name for path in take.parent.iterdir())
    with running.talk() as line:
        client = Client(line)
        line.send(text)
        answer = client.listen()
        assert answer["kind"] == "refused"
        assert said in answer["text"]
        assert client.ask("undo")["kind"] == "changed"
        assert client.data["own"] == {"defaults": {}, "sections": [], "holds": [], "nudges": []}
    assert sorted(path.name for path in take.parent.iterdir()) == before


@pytest.fixture
def own(tmp_path: Path) -> Path:
    path = tmp_path / "take.mid"
    path.write_bytes(demo_take())
    return path


def test_a_review_from_start_to_keep_and_on(own: Path) -> None:
    recipe_file = own.with_name("take.recipe.toml")
    with review(own) as server, server.talk() as one, server.talk() as two:
        first, second = Client(one), Client(two)
        assert not recipe_file.exists()
        untouched = json.dumps(first.data)

        # A change is answered once it is on disk, and both pages see the same.
        first.ask("set", name="strength", value=30)
        assert read_recipe(recipe_file) == Recipe(strength=30)
        flag = first.data["flags"][0]
        second.ask(
            "several",
            ops=[
                {"op": "hold", "at": flag["place"], "on": True},
                {**flag, "op": "mark", "as": "left", "hit": flag["hits"][0]},
            ],
        )
        first.listen()
        assert json.dumps(first.data) == json.dumps(second.data)
        expected = tighten(read_take(own), read_recipe(recipe_file))
        assert first.data["hits"]["after"] == pytest.approx(expected.changes.ms_after, abs=5e-4)
        assert first.data["own"]["holds"] == [flag["place"]]

        # Undone, it is what it was; done again, it is that again.
        decided = json.dumps(first.data)
        for _ in range(2):
            first.ask("undo")
        for name in ("hits", "own", "marks", "flags", "sentence"):
            assert first.data[name] == json.loads(untouched)[name]
        for _ in range(2):
            first.ask("redo")
        assert json.loads(json.dumps(first.data)) == {
            **json.loads(decided),
            "steps": first.data["steps"],
        }

        # Keep writes what `evenhand tighten` writes, and records a pass.
        assert not own.with_name("take-tight.mid").exists()
        kept = first.ask("keep")
        assert kept["kind"] == "kept"
        assert len(first.data["passes"]) == 1
        assert own.with_name("take.passes").is_dir()
        # What it wrote itself it replaces.
        first.ask("set", name="lean", value=0)
        assert first.ask("keep")["kind"] == "kept"
        held = first.data
    by_hand = own.with_name("by-hand.mid")
    subprocess.run(
        [*COMMAND[:-1], "tighten", own, "--recipe", recipe_file, "-o", by_hand, "--no-record"],
        check=True,
        capture_output=True,
    )
    for mark in (".mid", ".changes.csv"):
        written = own.with_name(f"take-tight{mark}").read_bytes()
        assert written == own.with_name(f"by-hand{mark}").read_bytes()

    # The next review goes on from there, and asks before it replaces what it did not write.
    with review(own) as server, server.talk() as line:
        client = Client(line)
        for name in ("hits", "own", "marks", "flags", "passes"):
            assert client.data[name] == held[name]
        asked = client.ask("keep")
        assert asked["kind"] == "exists"
        assert "take-tight.mid" in asked["text"]
        assert client.ask("keep", replace=True)["kind"] == "kept"


def test_a_recipe_that_another_program_changed_is_not_replaced(own: Path) -> None:
    recipe_file = own.with_name("take.recipe.toml")
    with review(own) as server, server.talk() as line:
        client = Client(line)
        client.ask("set", name="strength", value=30)
        recipe_file.write_text("strength = 12\n", encoding="utf-8")
        answer = client.ask("set", name="strength", value=31)
        assert answer["kind"] == "refused"
        assert "another program has changed it" in answer["text"]
        assert recipe_file.read_text(encoding="utf-8") == "strength = 12\n"


@pytest.mark.apart
def test_killed_at_random_instants_it_loses_the_change_in_flight_at_most(own: Path) -> None:
    # Thirty instants are tried by tests/review/crash.py; here one, in a long run two.
    from tests.review.crash import kill_once

    for delay in (0.004, 0.07) if LONG else (0.07,):
        kill_once(own, delay)


def test_ends_with_ctrl_c_and_when_all_pages_said_goodbye(own: Path) -> None:
    with review(own) as server, server.talk() as line:
        line.recv()
        server.process.send_signal(signal.SIGINT)
        assert server.process.wait(timeout=10) == 0
    # A shorter patience than a minute: it is the last argument of `serve`.
    script = (
        "from evenhand import review as room\n"
        "serve = room.serve\n"
        "room.serve = lambda *given: serve(*given, patience=0.3)\n"
        "from evenhand.cli.app import main\n"
        "main()"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", script, "review", str(own), "--no-browser"],
        stdout=subprocess.PIPE,
        text=True,
    )
    server = Running(process)
    with server.talk() as line:
        client = Client(line)
        # A line that breaks is no goodbye.
    time.sleep(0.6)
    assert process.poll() is None
    with server.talk() as line:
        client = Client(line)
        client.send("bye")
    assert process.wait(timeout=5) == 0
    process.communicate()


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["missing.mid"], "missing.mid"),
        (["-"], "needs a take on disk"),
        (["take.mid", "--port", "99999"], "--port"),
        (["take.mid", "--host", "0.0.0.0"], "--host"),
    ],
)
def test_what_cannot_be_reviewed(own: Path, options: list[str], said: str) -> None:
    done = as_text(run("review", *options, cwd=own.parent))
    assert done.returncode in (1, 2)
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_a_port_that_is_taken_is_told(own: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        done = subprocess.run(
            [*COMMAND, own, "--port", port], capture_output=True, text=True, check=False
        )
    assert done.returncode == 1
    assert f"port {port}" in done.stderr


def test_what_the_take_refuses_ends_the_review_and_is_told_on_the_page(own: Path) -> None:
    recipe_file = own.with_name("take.recipe.toml")
    recipe_file.write_text('[[hold]]\nat = "900:1"\n', encoding="utf-8")
    with review(own) as server:
        with server.talk() as line:
            answer = json.loads(line.recv(timeout=20))
        assert answer["kind"] == "refused"
        assert "lies behind the end" in answer["text"]
        assert server.process.wait(timeout=10) == 1
        _, said = server.process.communicate()
        assert "lies behind the end" in said
        assert "Traceback" not in said
