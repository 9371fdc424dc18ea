"""The demo take as bad triggers would send it, and a list of every misfire in it."""

import random

import numpy as np

from evenhand.columns import Floats
from evenhand.jobs.demo_take import NAME, demo_take
from evenhand.jobs.triggers.midi_out import Events, PlainScore, list_events, midi_file
from evenhand.jobs.triggers.noise import plant_crosstalk, plant_echoes, with_misfires
from evenhand.jobs.triggers.sheet import NOTE_OFF, read_sheet
from evenhand.kit import KIT_MAPS
from evenhand.take import Take

NOISY_NAME = f"{NAME}-noisy"

_SNARE = 38
_ECHOES, _CROSSTALK = 0.025, 0.2
#: Every so many hits one never ends.
_STUCK_EVERY = 120


def noisy_take() -> tuple[bytes, bytes]:
    """Make the take and its list: the same bytes every time.

    Returns
    -------
    take : bytes
        A MIDI file: the demo take with pads that ring, a kick that shakes the snare's pad, and
        notes that are stuck.
    misfires : bytes
        CSV: hit, position, piece, what it is, which hit caused it.
    """
    kit = KIT_MAPS["ekit"]
    take = Take.from_bytes(demo_take(), NAME)
    sheet = read_sheet(take, kit)
    # Only random() is used: its sequence is the same in every version of Python.
    chance = random.Random(14).random

    def dice(count: int) -> Floats:
        return np.array([chance() for _ in range(count)])

    hits = sheet.hits
    faults = [
        plant_echoes(dice, hits.velocity, hits.note, _ECHOES),
        plant_crosstalk(dice, hits.velocity, sheet.pad, "kick", _SNARE, _CROSSTALK),
    ]
    noisy, kind, of = with_misfires(sheet, kit, faults)
    score = PlainScore(noisy, noisy.hits.note, noisy.hits.velocity, noisy.length, np.arange(128))
    events = list_events(score)
    stuck = (events.status == NOTE_OFF) & (events.owner % _STUCK_EVERY == _STUCK_EVERY - 1)
    events = Events(**{name: column[~stuck] for name, column in vars(events).items()})
    data = midi_file(take, events, int(noisy.hits.channel[0]), "drums")

    rows = ["hit,at,piece,what,because_of"]
    for hit in np.flatnonzero(kind).tolist():
        place = take.meter.position(float(noisy.hits.tick[hit]))
        what = ("double trigger", "crosstalk")[kind[hit] - 1]
        rows.append(f"{hit + 1},{place},{noisy.hits.piece[hit]},{what},{of[hit] + 1}")
    return data, "\n".join([*rows, ""]).encode()
