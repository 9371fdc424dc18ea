"""What lies beside a take: `python -m tests.attack.sides --seed 1 --count 2000`.

Songs, other parts, habits, other takes, choices, kits, target maps, samples and recordings, all
damaged, or a pipe, a folder, a link to an endless device in their place. Each command is done or
refuses with one line, in bounded time and memory, and changes nothing but its outputs.
"""

import io
import os
import random
import shutil
import signal
import socket
import tempfile
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from tests.attack.bases import all_bases
from tests.attack.inside import promised, scratch_root
from tests.attack.mutations import damaged, distorted
from tests.attack.trial import bounded, chance_of, expect, main
from tests.build import drum_bytes

#: Processor time, s, and memory, MB, that a command may take; no file is larger than 100 kB.
SECONDS, MEGABYTES = 6.0, 150.0
#: After so many seconds a command hangs.
_PATIENCE = 60

_NOTES = [(line * 120 + line % 7 * 5, 42 if line % 4 else 36) for line in range(64)]
_TAKE = drum_bytes(_NOTES)
_TIGHT = drum_bytes([(line * 120, note) for line, (_, note) in enumerate(_NOTES)])

#: Commands, by the kind of the file `bad` that they read.
_MIDI = (
    "tighten take.mid -o out.mid --song bad.mid",
    "tighten take.mid -o out.mid --song bad.mid --song-at 2:1",
    "tighten take.mid -o out.mid --song bad.mid --song-at 1.5 --sections markers",
    "tighten bad.mid -o out.mid --song tight.mid",
    "tighten take.mid -o out.mid --against bad.mid",
    "tighten take.mid -o out.mid --against bad.mid:snare --share 50",
    "tighten take.mid -o out.mid --against bad.mid:2",
    "assess take.mid --song bad.mid",
    "pick take.mid bad.mid -o out.mid",
    "pick bad.mid take.mid tight.mid -o out.mid --json",
    "pick take.mid tight.mid --song bad.mid -o out.mid",
    "pick take.mid bad.mid --song bad.mid -o out.mid",
    "habit take.mid bad.mid -o out.toml",
    "habit bad.mid -o out.toml --song tight.mid",
    "compare take.mid bad.mid --json",
    "listen take.mid bad.mid -o out.html",
    "triggers take.mid -o out --match bad.mid",
    "conform take.mid good.wav -o out --to bad.mid",
    "conform bad.mid good.wav -o out --to tight.mid --offset 0",
)
_TOML = {
    "habit": (
        "tighten take.mid -o out.mid --habit-from bad",
        "compare --habit good.toml bad --json",
        "listen take.mid -o out.html --habit-from bad",
    ),
    "choices": ("pick take.mid tight.mid --by-hand bad -o out.mid",),
    "kit": ("kit take.mid --kit bad", "tighten take.mid -o out.mid --kit bad"),
    "target": ("triggers take.mid -o out --to bad", "triggers take.mid -o out --to bad --merge"),
    "marks": ("review take.mid --no-browser --port PORT",),
}
_SOUND = (
    "conform take.mid bad good.wav -o out --to tight.mid --offset 0",
    "conform take.mid good.wav bad -o out --to tight.mid",
    "conform take.mid bad -o out --to tight.mid --drift --markers",
    "conform take.mid bad --to tight.mid --dry-run --json",
)
_SAMPLES = ("render take.mid -o out.wav --samples kit", "listen take.mid -o out.html --samples kit")


@cache
def _taken() -> socket.socket:
    """A port that is taken, so that a review reads all there is and then gives up."""
    return socket.create_server(("127.0.0.1", 0))


@cache
def _habit() -> bytes:
    folder = Path(tempfile.mkdtemp(dir=scratch_root() or None))
    (folder / "take.mid").write_bytes(_TAKE)
    promised(["habit", str(folder / "take.mid"), "-o", str(folder / "habit.toml")])
    data = (folder / "habit.toml").read_bytes()
    shutil.rmtree(folder)
    return data


def _tables(kind: str) -> bytes:
    """A file of a kind that is right."""
    if kind == "habit":
        return _habit()
    texts = {
        "choices": '[take]\n"1-2" = 2\n"3" = "tight.mid"\n',
        "kit": 'base = "ekit"\n[notes]\n36 = "kick"\n42 = "hat"\n',
        "target": '[notes]\nkick = 24\n"hat closed" = 30\nsnare = 26\n',
        "marks": 'take = "0"\n[[heard]]\nkey = "a"\nas = "right"\nhit = 1\nms = 3.0\n',
    }
    return texts[kind].encode()


def sound(seed: int = 3, frames: int = 16_000, kind: str = "WAV", subtype: str = "PCM_16") -> bytes:
    """Bursts where the hits are, as a file of sound."""
    noise = np.random.default_rng(seed)
    heard = noise.normal(size=frames) * 1e-4
    for tick, _ in _NOTES:
        begin = round(tick / 960 * 2000)
        heard[begin : begin + 60] += noise.normal(size=len(heard[begin : begin + 60])) * 0.2
    buffer = io.BytesIO()
    soundfile.write(buffer, heard, 2000, format=kind, subtype=subtype)
    return buffer.getvalue()


@cache
def _sounds() -> tuple[bytes, ...]:
    kinds = (
        *(("WAV", "PCM_16"), ("WAV", "PCM_24"), ("WAV", "FLOAT"), ("WAV", "DOUBLE")),
        *(("WAVEX", "PCM_16"), ("RF64", "PCM_16"), ("W64", "PCM_16"), ("AIFF", "PCM_16")),
        *(("AIFF", "FLOAT"), ("FLAC", "PCM_16"), ("FLAC", "PCM_24"), ("WAV", "PCM_U8")),
    )
    return tuple(sound(kind=kind, subtype=subtype) for kind, subtype in kinds)


#: What stands in the fields of a header.
_FIELDS = (
    0,
    1,
    2,
    3,
    7,
    8,
    17,
    32,
    64,
    255,
    0x7FFF,
    0x8000,
    0xFFFE,
    0xFFFF,
    0x7FFFFFFF,
    0xFFFFFFFF,
)


def _bad_sound(chance: random.Random) -> bytes:
    """Sound with a header that lies, cut, or with numbers that are none."""
    data = bytearray(chance.choice(_sounds()))
    for _ in range(chance.choice([1, 1, 2, 4])):
        how, at = chance.random(), chance.randrange(min(len(data), 120))
        if how < 0.55:
            size, order = chance.choice([2, 4, 4, 8]), chance.choice(["little", "big"])
            value = chance.choice(_FIELDS) % 256**size
            data[at : at + size] = value.to_bytes(size, "little" if order == "little" else "big")
        elif how < 0.7:
            del data[chance.randrange(1, len(data)) :]
        elif how < 0.8:
            data[at:at] = chance.randbytes(chance.randint(1, 40))
        elif how < 0.9:
            for _ in range(50):
                data[chance.randrange(len(data))] = chance.choice([0, 0x7F, 0x80, 0xFF])
        else:
            odd = [np.nan, np.inf, -np.inf, 3e38, -3e38]
            heard = np.random.default_rng(1).normal(size=4000).astype(np.float32)
            heard[chance.randrange(4000)] = chance.choice(odd)
            buffer = io.BytesIO()
            soundfile.write(buffer, heard, chance.choice([1, 2000, 48_000]), "FLOAT", format="WAV")
            data = bytearray(buffer.getvalue())
    return bytes(data)


_VALUES = (
    *("0", "-1", "1e308", "nan", "inf", "-inf", '""', '"\\u0000"', '"\\u202e"', "[]", "{}", "true"),
    *("9223372036854775807", "1" * 400, '"kick"', '"4/4"', '"999/64"', "2026-11-02", "[[]]"),
    *('["\\u0000"]', '"../../x.mid"', '"/dev/zero"', '"1-999999999"', "[1e9, 1e9]", "128", "1000"),
)


def _bad_table(chance: random.Random, kind: str) -> bytes:
    """A small file of settings with other values, lines and bytes in it."""
    lines = _tables(kind).decode().splitlines()
    for _ in range(chance.choice([1, 1, 2, 5])):
        at = chance.randrange(len(lines))
        how = chance.random()
        head, equals, _ = lines[at].rpartition("=")
        if how < 0.5 and equals and "{" not in lines[at]:
            lines[at] = f"{head}= {chance.choice(_VALUES)}"
        elif how < 0.7:
            words = lines[at].split(" ")
            words[chance.randrange(len(words))] = chance.choice(_VALUES)
            lines[at] = " ".join(words)
        elif how < 0.8:
            lines.insert(at, chance.choice(lines))
        elif how < 0.9:
            lines[at : at + 1] = [lines[at]] * chance.choice([0, 2, 500])
        else:
            lines[at] = "[" * chance.choice([1, 20_000])
        if not lines:
            lines = [""]
    data = bytearray("\n".join(lines).encode())
    for _ in range(chance.choice([0, 0, 0, 1, 4])):
        if data:
            data[chance.randrange(len(data))] = chance.randrange(256)
    return bytes(data[:100_000])


def _bad_midi(chance: random.Random) -> bytes:
    base = chance.choice(all_bases())
    return damaged(chance, base) if chance.random() < 0.3 else distorted(chance, base)


def _put(chance: random.Random, path: Path, data: bytes) -> None:
    """The damaged file; now and then something that is no file at all."""
    how = chance.random()
    if how > 0.06:
        path.write_bytes(data)
    elif how > 0.045:
        os.mkfifo(path)
    elif how > 0.03:
        path.symlink_to("/dev/zero")
    elif how > 0.02:
        path.mkdir()
    elif how > 0.01:
        path.symlink_to(path)
    else:
        path.write_bytes(b"")


@contextmanager
def _in_time(what: str) -> Any:
    def over(*_: object) -> None:
        raise TimeoutError(f"{what} hangs")

    before = signal.signal(signal.SIGALRM, over)
    signal.alarm(_PATIENCE)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def case(seed: int, number: int) -> str:
    """Give a command a damaged file beside its take."""
    chance = chance_of(seed, number, "side")
    folder = Path(tempfile.mkdtemp(dir=scratch_root() or None))
    try:
        whole = {"take.mid": _TAKE, "tight.mid": _TIGHT, "good.wav": _sounds()[0]}
        whole["good.toml"] = _habit()
        for name, data in whole.items():
            (folder / name).write_bytes(data)
        what, line = _prepare(chance, folder)
        line = line.replace("PORT", str(_taken().getsockname()[1]))
        first, *rest = line.split()
        names = ("bad", "out", "kit", *whole)
        words = [first, *(str(folder / one) if one.startswith(names) else one for one in rest)]
        with _in_time(line):
            ended = bounded(SECONDS, MEGABYTES, line, lambda: promised(words))
        for name, data in whole.items():
            expect((folder / name).read_bytes() == data, f"{line} changed {name}")
        parts = [path for path in folder.rglob("*") if ".part" in path.name]
        expect(not parts, f"{line} left {parts}")
        if ended.code == 1:
            expect(not list(folder.glob("out*")), f"{line} refused and wrote")
    finally:
        shutil.rmtree(folder)
    return f"{what} {'refused' if ended.code in (1, 2) else 'done'}"


def _prepare(chance: random.Random, folder: Path) -> tuple[str, str]:
    """Put a damaged file there, and choose a command for it."""
    what = chance.choice(["midi", "midi", "table", "sound", "samples"])
    if what == "midi":
        _put(chance, folder / "bad.mid", _bad_midi(chance))
        return what, chance.choice(_MIDI)
    if what == "table":
        kind = chance.choice(list(_TOML))
        line = chance.choice(_TOML[kind])
        _put(chance, folder / "bad", _bad_table(chance, kind))
        if kind == "marks":
            (folder / "bad").rename(folder / "take.heard.toml")
        elif "--kit" in line or "--to" in line:
            (folder / "bad").rename(folder / "bad.toml")
            line = line.replace(" bad", " bad.toml")
        return what, line
    if what == "sound":
        _put(chance, folder / "bad", _bad_sound(chance))
        return what, chance.choice(_SOUND)
    (folder / "kit").mkdir()
    for name in chance.sample(["kick.wav", "hat.flac", "snare.aif", "hat.ogg"], 2):
        _put(chance, folder / "kit" / name, _bad_sound(chance))
    return what, chance.choice(_SAMPLES)


if __name__ == "__main__":
    main(case, "Damaged files beside a take.", 2_000)
