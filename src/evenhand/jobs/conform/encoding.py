"""How samples stand in a file: bytes to numbers and back.

Copies are made of bytes and never come here; only what is listened to, and the few ms of a fade,
become numbers.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.columns import Bytes, Floats

Signal = npt.NDArray[np.float32]


@dataclass(frozen=True)
class Encoding:
    """The encoding of a sample.

    Attributes
    ----------
    width : int
        Bytes per sample: 1, 2, 3, 4, or 8.
    kind : str
        `int`, `unsigned` (only 8 bits: WAV) or `float`.
    big : bool
        Whether the highest byte comes first.
    """

    width: int
    kind: str
    big: bool = False

    @property
    def words(self) -> str:
        """`24-bit`, `32-bit float`."""
        return f"{8 * self.width}-bit{' float' if self.kind == 'float' else ''}"

    @property
    def silence(self) -> bytes:
        """One sample of silence."""
        return b"\x80" if self.kind == "unsigned" else bytes(self.width)

    @property
    def full(self) -> float:
        """Full scale, in the numbers of `exact`."""
        return 1.0 if self.kind == "float" else float(2 ** (8 * self.width - 1))

    def listen(self, raw: Bytes) -> Signal:
        """Samples as float32 with full scale 1; fast, exact to 2⁻²³ of full scale."""
        if self.kind == "int" and self.width == 3:
            whole = _three_bytes(raw, self.big)
            return whole.astype(np.float32) * np.float32(2.0**-31)
        numbers = raw.view(self._type).astype(np.float32)
        if self.kind == "unsigned":
            numbers -= 128
        return numbers if self.kind == "float" else numbers * np.float32(1 / self.full)

    def exact(self, raw: Bytes) -> Floats:
        """Samples as float64 in the file's own numbers: whole ones for integer encodings."""
        if self.kind == "int" and self.width == 3:
            return (_three_bytes(raw, self.big) >> 8).astype(np.float64)
        numbers = raw.view(self._type).astype(np.float64)
        return numbers - 128 if self.kind == "unsigned" else numbers

    def encode(self, numbers: Floats) -> bytes:
        """The inverse of `exact`: to the nearest whole number, kept within full scale."""
        if self.kind == "float":
            return numbers.astype(self._type).tobytes()
        whole = np.clip(np.rint(numbers), -self.full, self.full - 1).astype(np.int64)
        if self.kind == "unsigned":
            return (whole + 128).astype(np.uint8).tobytes()
        if self.width == 3:
            four = whole.astype(">i4" if self.big else "<i4").view(np.uint8).reshape(-1, 4)
            return (four[:, 1:] if self.big else four[:, :3]).tobytes()
        return whole.astype(self._type).tobytes()

    @property
    def _type(self) -> str:
        letter = {"int": "i", "unsigned": "u", "float": "f"}[self.kind]
        return f"{'>' if self.big else '<'}{letter}{self.width}"


def _three_bytes(raw: Bytes, big: bool) -> npt.NDArray[np.int32]:
    """Samples of three bytes as int32, shifted up by eight bits; the lowest byte is the last one's.

    Read as four bytes each, one byte apart too early: a view over the bytes, not a copy.
    """
    count = len(raw) // 3
    spare = np.empty(len(raw) + 1, np.uint8)
    if big:
        spare[:-1], spare[-1] = raw, 0
        view = np.ndarray((count,), ">i4", spare, 0, (3,))
    else:
        spare[0], spare[1:] = 0, raw
        view = np.ndarray((count,), "<i4", spare, 0, (3,))
    return np.asarray(view, np.int32)
