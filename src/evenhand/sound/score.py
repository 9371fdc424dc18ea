"""A score for listening: which voice sounds when and how loud, and the click beside it."""

from dataclasses import dataclass

import numpy as np

from evenhand.columns import Bools, Floats, Ints
from evenhand.errors import MidiFileError
from evenhand.kit import KitMap
from evenhand.sound.samples import OneShot
from evenhand.sound.voice_names import CHOKED, voices_of
from evenhand.take import Hits, Take

#: Longest take that is rendered or put on a page, hours; and most beats of the click in it.
LONGEST_H = 4
_MOST_BEATS = 200_000

#: The click: a short sine, higher on the first beat of a bar.
CLICK, CLICK_FIRST = "click", "click first"
_CLICK_HZ = {CLICK: 1000.0, CLICK_FIRST: 1500.0}
_CLICK_S, _CLICK_FALL_S, CLICK_RATE = 0.03, 0.006, 44_100


@dataclass(frozen=True, eq=False)
class Score:
    """The hits of a take as sounds, in time order.

    Attributes
    ----------
    hit : int64 array, shape (n,)
        Index of the hit in the take, in file order.
    ms : float64 array, shape (n,)
        When each begins, from the start of the file.
    voice : int64 array, shape (n,)
        Index into `voices`.
    velocity : int64 array, shape (n,)
        1 to 127.
    until_ms : float64 array, shape (n,)
        When the next hit chokes it; infinite where none does.
    voices : list of str
    """

    hit: Ints
    ms: Floats
    voice: Ints
    velocity: Ints
    until_ms: Floats
    voices: list[str]

    def of(self, which: Bools) -> "Score":
        """Return some of the hits only."""
        return Score(
            self.hit[which],
            self.ms[which],
            self.voice[which],
            self.velocity[which],
            self.until_ms[which],
            self.voices,
        )


def score_of(hits: Hits, ms: Floats, kit: KitMap) -> Score:
    """Turn hits into a score.

    Parameters
    ----------
    hits : Hits
    ms : float64 array, shape (hits,)
        When each hit sounds.
    kit : KitMap
    """
    voices, index = voices_of(hits.note, kit)
    order = np.argsort(ms, kind="stable")
    voice = np.array(index, np.int64)[order]
    score = Score(
        hit=order,
        ms=ms[order],
        voice=voice,
        velocity=hits.velocity[order],
        until_ms=np.full(len(order), np.inf),
        voices=voices,
    )
    choked = np.flatnonzero(np.isin(voice, [voices.index(one) for one in CHOKED & {*voices}]))
    score.until_ms[choked[:-1]] = score.ms[choked[1:]]
    return score


def beats_of(take: Take, end_ms: float) -> tuple[Floats, Ints, Bools]:
    """The beats of a take from its start to a little behind its end.

    Returns
    -------
    ms : float64 array, shape (n,)
    bar : int64 array, shape (n,)
        The bar of each beat, from 1.
    first : bool array, shape (n,)
        Whether it is the first of its bar.

    Raises
    ------
    MidiFileError
        If the take is too long, or has far too many beats, to be listened to.
    """
    if not end_ms <= LONGEST_H * 3_600_000:
        raise MidiFileError(
            f"{take.name}: it is {end_ms / 3_600_000:.3g} hours long; "
            f"up to {LONGEST_H} hours can be heard"
        )
    meter, stop = take.meter, float(take.tempo.to_tick(end_ms))
    borders = [*meter.tick.astype(float).tolist(), np.inf]
    parts: list[tuple[Floats, Ints, Bools]] = []
    many = 0.0
    for here, begin in enumerate(borders[:-1]):
        end = min(borders[here + 1], stop)
        gap = 4.0 * take.division / float(meter.unit[here])
        many += max(0.0, (end - begin) / gap)
        if many > _MOST_BEATS:
            raise MidiFileError(
                f"{take.name}: it has more than {_MOST_BEATS} beats; its tempo makes no sense"
            )
        if end <= begin:
            continue
        tick = np.arange(begin, end, gap)
        count, beats = np.arange(len(tick)), int(meter.beats[here])
        bar = int(meter.bar[here]) + count // beats
        parts.append((take.tempo.to_ms(tick), bar, count % beats == 0))
    if not parts:
        return np.zeros(0), np.zeros(0, np.int64), np.zeros(0, np.bool_)
    ms, bar, first = (np.concatenate(column) for column in zip(*parts, strict=True))
    return ms, bar, first


def click_score(ms: Floats, first: Bools) -> Score:
    """The click on some beats as a score of its own, all at full velocity."""
    return Score(
        hit=np.arange(len(ms)),
        ms=ms,
        voice=first.astype(np.int64),
        velocity=np.full(len(ms), 127),
        until_ms=np.full(len(ms), np.inf),
        voices=[CLICK, CLICK_FIRST],
    )


def click_samples() -> dict[str, OneShot]:
    """The two sounds of the click, with a peak of 1."""
    seconds = np.arange(int(_CLICK_S * CLICK_RATE)) / CLICK_RATE
    sounds = {}
    for name, hertz in _CLICK_HZ.items():
        wave = np.cos(2 * np.pi * hertz * seconds) * np.exp(-seconds / _CLICK_FALL_S)
        # A click that begins at full swing has its onset in its first sample.
        sounds[name] = OneShot(CLICK_RATE, (wave / np.abs(wave).max()).astype(np.float32))
    return sounds
