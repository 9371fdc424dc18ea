"""FLAC: what stands before the sound is carried over from the old file to the new one.

Blocks of a FLAC file, from memory (RFC 9639, section 8): a byte of kind, whose highest bit marks
the last one, and three of length. The first describes the stream and must be the new file's own;
the table of seek points holds for the old frames only and goes, a player makes do without. All
else (tags, pictures, blocks of applications, cue sheets, padding) is carried over byte by byte.
"""

from pathlib import Path

from evenhand.errors import SoundError

#: Bits per sample by libsndfile's name.
SUBTYPES = {"PCM_S8": 8, "PCM_16": 16, "PCM_24": 24}

_STREAM, _SEEK_POINTS, _LAST = 0, 3, 0x80
_COPY = 1 << 22


def blocks(path: Path) -> tuple[list[tuple[int, bytes]], int]:
    """Kind and content of each block of metadata, and where the sound begins."""
    found = []
    with path.open("rb") as file:
        file.seek(4)
        last = False
        while not last:
            head = file.read(4)
            content = file.read(int.from_bytes(head[1:], "big")) if len(head) == 4 else b""
            if len(head) < 4 or len(content) < int.from_bytes(head[1:], "big"):
                raise SoundError(f"{path} is cut short inside its header")
            last = bool(head[0] & _LAST)
            found.append((head[0] & ~_LAST, content))
        return found, file.tell()


def keep_blocks(old: Path, bare: Path, new: Path) -> None:
    """Write `new`: the sound of `bare` under the blocks of `old`."""
    kept = [block for block in blocks(old)[0] if block[0] not in (_STREAM, _SEEK_POINTS)]
    made, begin = blocks(bare)
    parts = [block for block in made if block[0] == _STREAM] + kept
    with bare.open("rb") as source, new.open("wb") as target:
        target.write(b"fLaC")
        for number, (kind, content) in enumerate(parts):
            mark = _LAST if number == len(parts) - 1 else 0
            target.write(bytes([kind | mark]) + len(content).to_bytes(3, "big") + content)
        source.seek(begin)
        while block := source.read(_COPY):
            target.write(block)
