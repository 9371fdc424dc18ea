"""The tamperer: `python -m tests.attack.histories --seed 1 --count 3000 --workers 2`.

A folder of passes, of two takes of one name, is tampered with: values, lines, files, links, pipes.
Then every pass is asked for again. It comes back with its own bytes, or `restore` refuses; every
time, soon, and nothing outside the folder is touched. At the end another pass is recorded there.
"""

import atexit
import json
import os
import random
import shutil
import signal
import tempfile
from collections.abc import Callable
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from tests.attack.inside import promised, scratch_root
from tests.attack.trial import chance_of, expect, main
from tests.build import drum_bytes

#: How long a command may take, s; a hang is broken off.
PATIENCE = 20

_TAKES = tuple(
    drum_bytes([(line * 240 + line % wobble * 9, 42 if line % 2 else 36) for line in range(40)])
    for wobble in (5, 7)
)
_RUNS = (
    (0, ["--strength", "60"]),
    (0, ["--window", "0"]),
    (1, ["--hold", "2:1-3:1", "--note", "second"]),
    (0, ["--from", "2", "--grid", "1/8"]),
)

#: Words that stand where something else belongs.
_VALUES: tuple[Any, ...] = (
    *(None, True, False, 0, 1, 2, 3, -1, 4, 10**6, 10**6 - 1, 10**18, 0.5, 1e300, "", "a\0b"),
    *("\ud800", "../../outside.mid", "/etc/passwd", "x" * 5000, [], {}, [[]], "0" * 64, "=1+1"),
    *("2026-11-02T10:00:00Z", "9999-99-99", "\u202e", {"a": {"b": {"c": {"d": {"e": {}}}}}}),
)


@cache
def _whole() -> tuple[Path, dict[int, bytes], dict[int, bytes]]:
    """A sound folder, what each pass wrote, and the original of each."""
    root = Path(tempfile.mkdtemp(dir=scratch_root() or None))
    atexit.register(shutil.rmtree, root, ignore_errors=True)
    outputs, originals = {}, {}
    for number, (which, words) in enumerate(_RUNS, 1):
        (root / "take.mid").write_bytes(_TAKES[which])
        ended = promised(["tighten", str(root / "take.mid"), *words, "--overwrite", "--quiet"])
        expect(not ended.code, ended.err)
        outputs[number] = (root / "take-tight.mid").read_bytes()
        originals[number] = _TAKES[which]
    return root, outputs, originals


Tampering = Callable[[random.Random, Path], None]


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file() and not path.is_symlink())


def _index(folder: Path) -> Path:
    """The index, unless a link, a pipe or a device has been put in its place."""
    index = folder / "passes.jsonl"
    if index not in _files(folder):
        raise FileNotFoundError(index)
    return index


def _json_files(folder: Path) -> list[Path]:
    return [path for path in _files(folder) if path.suffix == ".json"]


def _change(chance: random.Random, value: Any, siblings: list[Any]) -> Any:
    """The same with one value in it changed."""
    if isinstance(value, dict) and value:
        key = chance.choice(list(value))
        other = [one[key] for one in siblings if isinstance(one, dict) and key in one]
        changed = dict(value)
        roll = chance.random()
        if roll < 0.1:
            del changed[key]
        elif roll < 0.4 and other:
            changed[key] = chance.choice(other)
        elif roll < 0.6 or not isinstance(value[key], (dict, list)):
            changed[key] = chance.choice(_VALUES)
        else:
            changed[key] = _change(chance, value[key], other)
        return changed
    return chance.choice(_VALUES)


def _index_value(chance: random.Random, folder: Path) -> None:
    """A value of a line, of another pass if that is at hand."""
    index = _index(folder)
    lines = [json.loads(line) for line in index.read_text().splitlines()]
    place = chance.randrange(len(lines))
    lines[place] = _change(chance, lines[place], lines)
    index.write_text("".join(json.dumps(line) + "\n" for line in lines))


def _about_value(chance: random.Random, folder: Path) -> None:
    path = chance.choice(_json_files(folder))
    siblings = [json.loads(one.read_text()) for one in _json_files(folder) if one.name == path.name]
    path.write_text(json.dumps(_change(chance, json.loads(path.read_text()), siblings)))


def _both_values(chance: random.Random, folder: Path) -> None:
    """The same value in the index and in `pass.json`: only bytes can contradict."""
    index = _index(folder)
    lines = [json.loads(line) for line in index.read_text().splitlines()]
    place = chance.randrange(len(lines))
    lines[place] = _change(chance, lines[place], lines)
    index.write_text("".join(json.dumps(line) + "\n" for line in lines))
    (folder / f"{place + 1:04d}" / "pass.json").write_text(json.dumps(lines[place]))


def _index_lines(chance: random.Random, folder: Path) -> None:
    index = _index(folder)
    lines = index.read_bytes().splitlines(keepends=True)
    how = chance.randrange(6)
    if how == 0:
        chance.shuffle(lines)
    elif how == 1:
        lines.append(chance.choice(lines))
    elif how == 2:
        del lines[chance.randrange(len(lines))]
    elif how == 3:
        lines[-1] = lines[-1][: chance.randrange(len(lines[-1]))]
    elif how == 4:
        lines.insert(chance.randrange(len(lines) + 1), chance.randbytes(40) + b"\n")
    else:
        lines.append(b"[" * 50_000 + b"\n")
    index.write_bytes(b"".join(lines))


def _bytes(chance: random.Random, folder: Path) -> None:
    path = chance.choice(_files(folder))
    data = bytearray(path.read_bytes())
    for _ in range(chance.choice([1, 1, 8])):
        place = chance.randrange(len(data) + 1)
        data[place : place + chance.randint(0, 3)] = chance.randbytes(chance.randint(0, 3))
    path.write_bytes(data)


def _cut(chance: random.Random, folder: Path) -> None:
    path = chance.choice(_files(folder))
    os.truncate(path, chance.choice([0, 1, path.stat().st_size // 2]))


def _swap(chance: random.Random, folder: Path) -> None:
    """Two files of one kind, or two folders, for one another."""
    kinds = ["output.mid", "recipe.toml", "pass.json", "details.json", "changes.csv", "originals"]
    kind = chance.choice([*kinds, "folder"])
    if kind == "originals":
        some = sorted((folder / "originals").iterdir())
    elif kind == "folder":
        some = sorted(path for path in folder.iterdir() if path.name.isdigit())
    else:
        some = sorted(folder.glob(f"*/{kind}"))
    if len(some) > 1:
        one, other = chance.sample(some, 2)
        aside = folder / "aside"
        one.rename(aside)
        other.rename(one)
        aside.rename(other)


def _take_away(chance: random.Random, folder: Path) -> None:
    path = chance.choice([*_files(folder), *(one for one in folder.iterdir() if one.is_dir())])
    shutil.rmtree(path) if path.is_dir() else path.unlink()


def _put_instead(chance: random.Random, folder: Path) -> None:
    """A link, a pipe, a folder or an endless device in place of a file."""
    paths = [*_files(folder), *(one for one in folder.iterdir() if one.is_dir())]
    path = chance.choice([*paths, folder / "passes.jsonl", folder / ".lock"])
    keep = folder.parent / "kept"
    if path.is_dir():
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)
    outside = folder.parent / "outside.txt"
    how = chance.randrange(6)
    if how == 0:
        path.symlink_to(outside)
    elif how == 1:
        path.symlink_to("/dev/zero")
    elif how == 2:
        os.mkfifo(path)
    elif how == 3:
        path.mkdir()
    elif how == 4:
        path.symlink_to(keep / "nowhere")
    else:
        path.symlink_to(chance.choice(_files(folder)))


def _add(chance: random.Random, folder: Path) -> None:
    """Folders and files that nobody has recorded."""
    name = chance.choice(["0005", "0000", "999999", "1000000", "00001", "0009", ".staging", "x"])
    if chance.random() < 0.5:
        shutil.copytree(folder / "0001", folder / name, dirs_exist_ok=True, symlinks=True)
    elif chance.random() < 0.5:
        (folder / name).symlink_to("/")
    else:
        (folder / name).mkdir(exist_ok=True)


_TAMPERINGS: tuple[Tampering, ...] = (
    *(_index_value, _index_value, _about_value, _both_values, _index_lines, _bytes, _cut),
    *(_swap, _take_away, _put_instead, _put_instead, _add),
)


@contextmanager
def _in_time(what: str) -> Any:
    """Break off a command that hangs."""

    def over(*_: object) -> None:
        raise TimeoutError(f"{what} hangs")

    before = signal.signal(signal.SIGALRM, over)
    signal.alarm(PATIENCE)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def case(seed: int, number: int) -> str:
    """Tamper with a copy, then ask for everything in it."""
    chance = chance_of(seed, number, "history")
    whole, outputs, originals = _whole()
    root = Path(tempfile.mkdtemp(dir=scratch_root() or None))
    try:
        shutil.copytree(whole, root, dirs_exist_ok=True)
        (root / "outside.txt").write_bytes(b"not yours\n")
        folder = root / "take.passes"
        for _ in range(chance.choice([1, 1, 1, 2, 3])):
            try:
                chance.choice(_TAMPERINGS)(chance, folder)
            except (
                OSError,
                ValueError,
                IndexError,
                KeyError,
                AttributeError,
                TypeError,
                RecursionError,
            ):
                continue  # what was tampered with before is in the way of this one
        fates = [_restored(root, number, ["--pass"], outputs[number]) for number in outputs]
        fates += [
            _restored(root, number, ["--original-of"], originals[number]) for number in originals
        ]
        _look_at(root)
        _record_once_more(root)
        expect((root / "outside.txt").read_bytes() == b"not yours\n", "a file outside was changed")
    finally:
        shutil.rmtree(root)
    given = fates.count("given")
    return "all given" if given == len(fates) else "some refused" if given else "all refused"


def _restored(root: Path, number: int, how: list[str], right: bytes) -> str:
    output = root / "restored.mid"
    words = ["restore", str(root / "take.mid"), *how, str(number), "-o", str(output)]
    with _in_time(" ".join(how)):
        ended = promised(words)
    if ended.code:
        expect(not output.exists(), "refused, and written all the same")
        return "refused"
    expect(output.read_bytes() == right, f"{how[0]} {number} gave other bytes than were recorded")
    output.unlink()
    return "given"


def _look_at(root: Path) -> None:
    take = str(root / "take.mid")
    for words in ([], ["--verify"], ["--json"], ["--show", "2"]):
        with _in_time(f"passes {words}"):
            promised(["passes", take, *words])


def _record_once_more(root: Path) -> None:
    (root / "take.mid").write_bytes(_TAKES[0])
    output = root / "again.mid"
    with _in_time("tighten"):
        ended = promised(["tighten", str(root / "take.mid"), "-o", str(output), "--quiet"])
    expect(output.exists(), f"the take was not tightened: {ended.err}")
    for words in (["--pass", "5"], ["--original-of", "5"]):
        with _in_time("restore of the new pass"):
            promised(["restore", str(root / "take.mid"), *words, "-o", str(root / "fifth.mid")])
        (root / "fifth.mid").unlink(missing_ok=True)


if __name__ == "__main__":
    main(case, "Tampered histories.", 3_000)
