"""Locales, streams and names: `python -m tests.attack.streams --seed 1 --count 500`.

Commands in processes of their own, in poor surroundings: closed or full streams, locales without
letters, no home, hostile names. Each is done, or refuses with one line, and there is never a
traceback.
"""

import atexit
import os
import random
import shutil
import subprocess
import tempfile
from functools import cache
from pathlib import Path

from tests.attack.inside import Ended, check_end, scratch_root
from tests.attack.outside import COMMAND, LINES, environment, stage
from tests.attack.trial import chance_of, expect, main

_LOCALES: tuple[dict[str, str | None], ...] = (
    {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
    {"LC_ALL": "C.UTF-8"},
    {"LC_ALL": "xx_YY.nonsense"},
    {"PYTHONIOENCODING": "ascii"},
    {"PYTHONIOENCODING": "latin-1:strict"},
    {"PYTHONIOENCODING": "utf-16"},
    {"LANG": None, "LC_ALL": None, "HOME": None},
    {"HOME": "/nonexistent", "TMPDIR": "/nonexistent"},
    {"COLUMNS": "1", "LINES": "1"},
    {"COLUMNS": "0", "TERM": "nonsense", "FORCE_COLOR": "1"},
    {"COLUMNS": "99999999999", "NO_COLOR": "1"},
    {"TZ": "Nowhere/Nothing", "SOURCE_DATE_EPOCH": "99999999999999999999"},
    {"SOURCE_DATE_EPOCH": "-1"},
    {"SOURCE_DATE_EPOCH": "nan"},
    {"PYTHONWARNINGS": "error"},
    {"PATH": None},
)

#: Appended to the command by a shell.
_STREAMS = (
    *("", "", "", ">&-", "2>&-", "<&-", ">&- 2>&-", "<&- >&- 2>&-", ">/dev/full", "2>/dev/full"),
    *("</dev/full", "| true", "2>&1 | head -c 10", ">/dev/full 2>&1"),
)

_NAMES: tuple[bytes, ...] = (
    *(b"take\xff\xfe.mid", "tak\u00e9.mid".encode(), "take\u0301.mid".encode(), b"a\nb.mid"),
    *(b"\x1b[31mred.mid", b" .mid", b".mid", b"-.mid", b"--help.mid", b"a;b$(x).mid", b"'.mid"),
    *(b"x" * 251 + b".mid", b"x" * 245 + b".mid", b"x" * 240 + b".mid", b"x" * 230 + b".mid"),
    *("\U0001f941".encode() * 60 + b".mid", b"[bold]x[/] [/.mid", b"=1+1.mid", b"con.mid"),
    *("\u202efdp.mid".encode(), b"take.MID", b"no-suffix", b"dots...mid", b"take.tar.mid"),
    *(b"\xc0\x80.mid", b"a" * 120 + b".passes.mid", b"%s%n{}.mid", b"take-tight.mid"),
)

_LINES_FOR_NAMES = (
    "tighten NAME",
    "tighten NAME -o short.mid",
    "tighten NAME --write-recipe r.toml --note NAME -o short.mid",
    "tighten NAME --json --dry-run",
    "assess NAME",
    "fit NAME",
    "kit NAME",
    "listen NAME",
    "render NAME",
    "render NAME -o s.wav --samples .",
    "triggers NAME -o clean --pulses",
    "triggers take.mid -o NAME",
    "batch . -o many --workers 1",
    "batch NAME -o many --workers 1",
    "practice . -o practice",
    "passes NAME",
    "restore take.mid --pass 1 -o NAME",
    "compare NAME take.mid",
    "tighten take.mid --recipe NAME",
    "tighten take.mid --kit NAME.toml",
    "tighten take.mid --hold NAME",
    "demo NAME",
)


@cache
def _staged() -> Path:
    folder = Path(tempfile.mkdtemp(dir=scratch_root() or None))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    stage(folder)
    return folder


def _in_words(line: str, name: bytes) -> list[bytes]:
    return [word.encode().replace(b"NAME", name) for word in line.split()]


def case(seed: int, number: int) -> str:
    """Run a command in poor surroundings."""
    chance = chance_of(seed, number, "streams")
    folder = Path(tempfile.mkdtemp(dir=scratch_root() or None))
    shutil.copytree(_staged(), folder, dirs_exist_ok=True)
    try:
        how = number % 3
        surroundings = chance.choice(_LOCALES) if how == 0 or chance.random() < 0.3 else {}
        streams = chance.choice(_STREAMS) if how == 1 or chance.random() < 0.2 else ""
        words = [word.encode() for word in chance.choice(LINES).split()]
        if how == 2:
            words = _named(chance, folder)
        elif chance.random() < 0.1:
            words = chance.choice(([b"--install-completion"], [b"--show-completion"], [b"tighten"]))
            surroundings = {**surroundings, "HOME": None if chance.random() < 0.7 else str(folder)}
        ended = _run(words, folder, surroundings, streams)
    finally:
        shutil.rmtree(folder)
    what = f"{b' '.join(words)!r} {streams} {surroundings}"
    _check(ended, what, streams)
    return ("surroundings", "streams", "names")[how]


def _named(chance: random.Random, folder: Path) -> list[bytes]:
    """A command about a file with a hostile name."""
    name = chance.choice(_NAMES)
    try:
        path = os.fsencode(folder) + b"/" + name
        with open(path, "wb") as file:  # noqa: PTH123 -- a name of bytes
            file.write((folder / "take.mid").read_bytes())
    except OSError:
        pass
    return _in_words(chance.choice(_LINES_FOR_NAMES), name)


def _run(
    words: list[bytes], folder: Path, surroundings: dict[str, str | None], streams: str
) -> Ended:
    """Through a shell, which closes and bends the streams, and tells the status of the first."""
    first, _, rest = streams.partition("|")
    script = f'("$@"; echo $? >&9) 9>status {first}' + (f"|{rest}" if rest else "")
    done = subprocess.run(
        ["/bin/sh", "-c", script, "sh", *COMMAND, *words],
        cwd=folder,
        env={**environment(**surroundings), "PATH": os.environ.get("PATH", "")},
        capture_output=True,
        stdin=None if "<" in streams else subprocess.DEVNULL,
        timeout=120,
        check=False,
    )
    status = (folder / "status").read_text().strip()
    err = done.stderr + (done.stdout if "2>&1" in streams else b"")
    # Read as it was asked for; what is told of no letter is no control character then.
    code = "utf-16" if surroundings.get("PYTHONIOENCODING") == "utf-16" else "utf-8"
    return Ended(int(status), done.stdout, err.decode(code, "replace").replace("\0", ""))


def _check(ended: Ended, what: str, streams: str) -> None:
    expect("Traceback" not in ended.err and b"Traceback" not in ended.out, f"{what}: {ended.err}")
    expect("Exception ignored" not in ended.err, f"{what}: {ended.err}")
    expect("lost sys.std" not in ended.err, f"{what}: {ended.err}")
    if "2>" in streams:
        expect(ended.code in (0, 1, 2, 3), f"{what}: exit code {ended.code}")
    elif "|" in streams and ended.code == 1 and not ended.err:
        return  # whoever read its words has gone
    else:
        check_end(ended, what)


if __name__ == "__main__":
    main(case, "Locales, closed streams and names.", 500)
