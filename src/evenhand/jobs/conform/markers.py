"""What to listen to as markers, for any program that shows them in its ruler."""

import numpy as np

from evenhand.jobs.conform.cut_plan import CutPlan
from evenhand.jobs.conform.doubts import Doubt
from evenhand.paper import KINDS, LISTEN, Mark, markers_csv, markers_mid
from evenhand.take import Take


def marker_files(take: Take, plan: CutPlan, doubts: tuple[Doubt, ...]) -> tuple[bytes, bytes]:
    """The doubts as a MIDI file without notes, and as CSV in seconds and samples of the audio.

    Parameters
    ----------
    take : Take
        The take as played: its tempo and meter.
    plan : CutPlan
    doubts : tuple of Doubt
    """
    doubts = tuple(sorted(doubts, key=lambda one: one.seconds))
    clock = plan.match.clock
    seconds = np.array([one.seconds for one in doubts])
    ms = 1000 * (seconds - clock.offset) / (1 + clock.drift * 1e-6)
    ticks = np.maximum(np.rint(take.tempo.to_tick(ms)), 0).astype(int).tolist()
    marks = [
        Mark(tick, KINDS.index(LISTEN), f"{LISTEN}: {one.kind}", one.text)
        for tick, one in zip(ticks, doubts, strict=True)
    ]
    return markers_mid(take, marks), markers_csv(take, marks, plan.size.rate, seconds)
