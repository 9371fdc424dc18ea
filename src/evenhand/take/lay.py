"""A take laid on the tempo, meter and markers of its song: times stay, bars and beats change."""

from dataclasses import replace

import numpy as np

from evenhand.errors import MidiFileError
from evenhand.take import vlq
from evenhand.take.meter import MeterMap
from evenhand.take.regrid import edited, meter_event, tempo_events
from evenhand.take.take import Take
from evenhand.take.track import MARKER, META, METER, TEMPO, Track

_LARGEST_DIVISION = 0x7FFF

#: An event this little before the song is put on its start: the noise of arithmetic, ms.
_SLACK_MS = 1e-6


def lay(take: Take, song: Take, at_ms: float = 0.0) -> Take:
    """Lay a take on the map of its song, moving nothing in time.

    The take gets the song's tempo, meter and markers in place of its own (its own markers stay if
    the song has none), and the song's division, or the smallest multiple of it that is no coarser
    than the take's own. Every event keeps its time to half a tick; an event other than a note or a
    controller that would lie before the song stands on its start.

    Parameters
    ----------
    take : Take
    song : Take
        Only its tempo, meter and markers count.
    at_ms : float
        Where the start of the take lies, in ms from the start of the song; below 0 if the take
        begins earlier.

    Raises
    ------
    MidiFileError
        If the take sounds before the song begins, or the file can't hold the new times.
    """
    division = song.division * -(-take.division // song.division)
    if division > _LARGEST_DIVISION:
        division = song.division
    factor = division // song.division
    tempo = replace(song.tempo, tick=song.tempo.tick * factor, division=division)
    markers = [
        (tick * factor, bytes((META, MARKER)) + vlq.encode(len(text)) + text)
        for track in song.smf.tracks
        for tick, text in track.metas(MARKER)
    ]
    events = [*tempo_events(tempo), *_meter_events(song.meter, factor), *markers]
    events.sort(key=lambda event: event[0])
    dropped = (TEMPO, METER, MARKER) if markers else (TEMPO, METER)

    parts: list[Track | bytes] = []
    extra = events
    for part in take.smf.parts:
        if not isinstance(part, Track):
            parts.append(part)
            continue
        ms = take.tempo.to_ms(part.tick) + at_ms
        sounds = part.status < 0xF0
        if (ms[sounds] < -_SLACK_MS).any():
            raise MidiFileError(
                f"{take.name} would begin {-float(ms[sounds].min()) / 1000:.3f} s before its song "
                f"{song.name}; say with --song-at where its start lies"
            )
        tick = np.rint(tempo.to_tick(np.maximum(ms, 0.0))).astype(np.int64)
        keep = ~((part.status == META) & np.isin(part.data1, dropped))
        parts.append(edited(part, tick, keep, extra))
        extra = []
    head = take.smf.head[:12] + division.to_bytes(2, "big") + take.smf.head[14:]
    return replace(take, smf=replace(take.smf, head=head, division=division, parts=tuple(parts)))


def _meter_events(meter: MeterMap, factor: int) -> list[tuple[int, bytes]]:
    return [
        (int(tick) * factor, meter_event(int(beats), int(unit)))
        for tick, beats, unit in zip(meter.tick, meter.beats, meter.unit, strict=True)
    ]
