"""The demo take as four microphones heard it: a session that can be conformed."""

import io

import numpy as np

from evenhand.columns import Floats
from evenhand.jobs.conform.encoding import Signal
from evenhand.jobs.demo_take import demo_take
from evenhand.kit import label, load_kit
from evenhand.sound import render_take
from evenhand.take import Take

#: Samples per second; the recorder was started so many ms before the take.
_RATE, _LATE_MS = 44_100, 137.2
#: What each microphone hears: the piece it stands at, how far away all else is (ms), and how
#: loud that is beside it.
_MICROPHONES = {
    "kick": ("kick", 2.0, 0.06),
    "snare": ("snare", 1.5, 0.1),
    "over": ("", 4.5, 0.6),
    "room": ("", 16.0, 0.5),
}
_ROOM_S, _NOISE = 0.5, 1e-4


def demo_session() -> dict[str, bytes]:
    """The files by name: WAV, 16 bits, one channel."""
    import soundfile

    take = Take.from_bytes(demo_take(), "demo")
    kit = load_kit("ekit")
    hits, _ = label(take.struck(), kit, ())
    stems = render_take(take, hits, kit, rate=_RATE, stems=True)
    pieces: dict[str, Signal] = {
        name: np.concatenate([factor * block for mix, factor in parts for block in mix.blocks()])
        for name, parts in stems.files.items()
    }
    frames = round((stems.seconds + 0.5) * _RATE)
    files = {}
    for number, (name, (own, away_ms, level)) in enumerate(_MICROPHONES.items()):
        heard = np.zeros(frames, np.float32)
        for piece, sound in pieces.items():
            near = piece == own
            late = _LATE_MS + (0.0 if near else away_ms)
            begin = round(late / 1000 * _RATE)
            part = sound[: frames - begin]
            heard[begin : begin + len(part)] += np.float32(1.0 if near else level) * part
        sent = _in_room(heard) if name == "room" else heard.astype(np.float64)
        noise = np.random.default_rng(number).normal(size=frames)
        sent = sent / np.abs(sent).max() * 0.5 + _NOISE * noise
        file = io.BytesIO()
        soundfile.write(file, sent, _RATE, "PCM_16", format="WAV")
        files[f"{name}.wav"] = file.getvalue()
    return files


def _in_room(sound: Signal) -> Floats:
    """A sound in a room of half a second."""
    time = np.arange(int(_ROOM_S * _RATE)) / _RATE
    walls = np.random.default_rng(17).normal(size=len(time)) * 10 ** (-3 * time / _ROOM_S)
    walls[0] = 8
    size = 1 << (len(sound) + len(walls)).bit_length()
    product = np.fft.rfft(sound, size) * np.fft.rfft(walls, size)
    return np.asarray(np.fft.irfft(product, size)[: len(sound)])
