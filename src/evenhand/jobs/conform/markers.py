"""What to listen to as markers, for any program that shows them in its ruler."""

import io

import numpy as np

from evenhand.jobs.conform.doubts import Doubt
from evenhand.jobs.conform.plan import CutPlan
from evenhand.paper import csv_bytes
from evenhand.take import Take


def markers_mid(take: Take, plan: CutPlan, doubts: tuple[Doubt, ...]) -> bytes:
    """A MIDI file without notes: the take's tempo and meter, a marker for each doubt."""
    import mido

    clock = plan.match.clock
    seconds = np.array([one.seconds for one in doubts])
    ms = 1000 * (seconds - clock.offset) / (1 + clock.drift * 1e-6)
    ticks = np.maximum(np.rint(take.tempo.to_tick(ms)), 0).astype(int).tolist()
    events = [
        (int(tick), mido.MetaMessage("set_tempo", tempo=int(tempo)))
        for tick, tempo in zip(take.tempo.tick, take.tempo.tempo, strict=True)
    ]
    meter = take.meter
    events += [
        (int(tick), mido.MetaMessage("time_signature", numerator=int(beats), denominator=int(unit)))
        for tick, beats, unit in zip(meter.tick, meter.beats, meter.unit, strict=True)
    ]
    events += [
        (tick, mido.MetaMessage("marker", text=f"listen: {one.kind}"))
        for tick, one in zip(ticks, doubts, strict=True)
    ]
    events.sort(key=lambda event: event[0])
    file = mido.MidiFile(type=0, ticks_per_beat=take.division)
    before = [0, *(tick for tick, _ in events[:-1])]
    file.tracks.append(
        mido.MidiTrack(
            message.copy(time=tick - last)
            for (tick, message), last in zip(events, before, strict=True)
        )
    )
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


def markers_csv(plan: CutPlan, doubts: tuple[Doubt, ...]) -> bytes:
    """The same places as CSV."""
    rows = [
        [
            "listen",
            one.place.bar,
            f"{one.place.beat:.3f}",
            f"{one.seconds:.6f}",
            round(one.seconds * plan.size.rate),
            f"listen: {one.kind}",
            one.text,
        ]
        for one in sorted(doubts, key=lambda doubt: doubt.seconds)
    ]
    return csv_bytes(["kind", "bar", "beat", "seconds", "sample", "text", "more"], rows)
