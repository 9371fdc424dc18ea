"""One track: its events as columns beside their untouched bytes, and the way back to bytes."""

from array import array
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from evenhand.columns import Bools, Brief, Bytes, Column, Ints, differences, indices
from evenhand.errors import MidiFileError
from evenhand.take import vlq
from evenhand.take.plain_rows import all_starts, hop_on, hop_sizes, plain_sizes

META, END_OF_TRACK, TEMPO, METER, MARKER = 0xFF, 0x2F, 0x51, 0x58, 0x06

#: Data bytes behind a channel status, by its upper half (program change and channel pressure: 1).
_WIDTH = [0] * 8 + [2, 2, 2, 2, 1, 1, 2] + [0]

#: What says itself how long it is: meta and exclusive events.
_LONG = (META, 0xF0, 0xF7)

#: Bytes of a delta time, at the most.
_LONGEST = 4

#: Data bytes of most events.
_PLAIN = 2


@dataclass(frozen=True, eq=False)
class Track(Brief):
    """The events of one MTrk chunk.

    Attributes
    ----------
    data : bytes
        The chunk's body as read.
    tick : int64 array, shape (n,)
        Time of each event from the start of the track.
    status : uint8 array, shape (n,)
        Status byte, running status resolved: 0x80-0xEF channel, 0xF0 / 0xF7 exclusive, 0xFF meta.
    data1, data2 : uint8 array, shape (n,)
        Data bytes of channel events (0 where there is none); `data1` of a meta event is its type.
    start : int64 array, shape (n + 1,)
        Where each event's delta time begins in `data`; last, where the events end.
    body : int64 array, shape (n,)
        Where the bytes behind the delta time begin.
    """

    data: bytes
    tick: Ints
    status: Bytes
    data1: Bytes
    data2: Bytes
    start: Ints
    body: Ints

    def __len__(self) -> int:
        return len(self.tick)

    @cached_property
    def has_status(self) -> Bools:
        """Whether the status byte is spelled out (False: running status)."""
        return np.frombuffer(self.data, np.uint8)[self.body] >= 0x80

    @cached_property
    def by_voice(self) -> Ints:
        """The order of the events channel by channel, note by note, controller by controller.

        Events of one voice (a note with its releases and chokes) never overtake each other;
        those of several may.
        """
        kind = (self.status & 0xF0).astype(np.int64)
        number = np.where(kind <= 0xB0, self.data1, 0)
        voice = np.where(kind <= 0xA0, 0, kind) << 8 | number
        channel = np.where(kind < 0xF0, self.status & 0x0F, 16)
        return np.lexsort((voice, channel))

    def on_channel(self, channel: int) -> Bools:
        """Which events belong to `channel` (0 to 15).

        Parameters
        ----------
        channel : int
            From 0.
        """
        return np.asarray((self.status < 0xF0) & (self.status & 0x0F == channel))

    def note_ons(self) -> Bools:
        """Which events are note-ons with velocity above zero, on any channel."""
        return np.asarray((self.status & 0xF0 == 0x90) & (self.data2 > 0))

    def notes(self, which: Bools) -> tuple[Ints, Ints]:
        """Kind (1 note-on, 0 release, -1 anything else) and note number of the chosen events.

        Parameters
        ----------
        which : bool array, shape (events,)
        """
        upper = self.status[which] & 0xF0
        released = (upper == 0x80) | (upper == 0x90) & (self.data2[which] == 0)
        kind = np.where(released, 0, np.where(upper == 0x90, 1, -1))
        return kind, self.data1[which].astype(np.int64)

    def metas(self, kind: int) -> list[tuple[int, bytes]]:
        """Tick and payload of the meta events of one type, in file order.

        Parameters
        ----------
        kind : int
            The number behind the FF: 0x51 is a tempo.
        """
        # In most tracks of most files there is none, and that is seen at once.
        if bytes((META, kind)) not in self.data:
            return []
        found = []
        for index in indices((self.status == META) & (self.data1 == kind)):
            _, begin = vlq.read(self.data, int(self.body[index]) + 2)
            found.append((int(self.tick[index]), self.data[begin : self.start[index + 1]]))
        return found

    def retimed(self, tick: Ints) -> "Track":
        """Return the same events at other times, merged into time order, bytes rebuilt.

        Events at one tick keep their order. Bytes are kept but for the delta times that differ,
        and for status bytes that have to be spelled out where a neighbour changed.
        An end of track stays last: it gives way if an event has moved behind it.

        Parameters
        ----------
        tick : int64 array, shape (events,)
            From 0.

        Raises
        ------
        MidiFileError
            If a gap becomes too long for a delta time, or an event would split a system-exclusive
            message that is spread over several events.
        """
        if tick is self.tick or np.array_equal(tick, self.tick):
            return self
        tick = tick.copy()
        if self.ends_with_end():
            tick[-1] = tick.max()
        order = np.argsort(tick, kind="stable")
        return self.rebuilt(tick, order)

    def ends_with_end(self) -> bool:
        """Whether the last event is an end of track."""
        return bool(len(self) and self.status[-1] == META and self.data1[-1] == END_OF_TRACK)

    def rebuilt(self, tick: Ints, order: Ints) -> "Track":
        """Return the events of `order`, in that order, at the times `tick`, bytes rebuilt.

        Parameters
        ----------
        tick : int64 array, shape (events,)
            From 0.
        order : int64 array
            Indices of events.
        """
        if not len(order):
            none, rest = order[:0], self.data[self.start[-1] :]
            byte = self.status[:0]
            return Track(rest, none, byte, byte, byte, np.zeros(1, np.int64), none)
        delta = differences(tick[order], 0)
        if delta.max() > vlq.LARGEST:
            raise MidiFileError(
                "a pause would become longer than a MIDI file can hold; "
                "leave the division as it is, or shorten the pause"
            )
        size = differences(self.start)
        length = vlq.lengths(delta)
        # A delta time that did not change keeps its bytes, also where they are not the shortest.
        same = delta == differences(self.tick, 0)[order]
        length = np.where(same, (self.body - self.start[:-1])[order], length)
        spelled = self._spelled_out(order)

        event_size = (self.start[1:] - self.body)[order]
        total = length + spelled + event_size
        stop = np.cumsum(total)
        start = stop - total
        out = np.empty(int(stop[-1]) if len(size) else 0, np.uint8)
        vlq.encode_into(out, start, delta, length)
        out[(start + length)[spelled]] = self.status[order][spelled]
        body = start + length + spelled
        source = np.frombuffer(self.data, np.uint8)
        place, before = np.arange(event_size.sum()), np.cumsum(event_size) - event_size
        read = source[place + np.repeat(self.body[order] - before, event_size)]
        out[place + np.repeat(body - before, event_size)] = read
        return replace(
            self,
            data=out.tobytes() + self.data[self.start[-1] :],
            tick=tick[order],
            status=self.status[order],
            data1=self.data1[order],
            data2=self.data2[order],
            start=np.append(start, stop[-1]),
            body=body - spelled,
        )

    def _spelled_out(self, order: Ints) -> Bools:
        """Which events (in the new order) need a status byte that they did without."""
        if np.array_equal(order, np.arange(len(order))):
            return np.zeros(len(order), np.bool_)
        before = np.append(-1, order[:-1])
        neighbours = before == order - 1
        if (self._continues_exclusive()[order] & ~neighbours).any():
            raise MidiFileError(
                "an event would land inside a system-exclusive message that is spread over "
                "several events; hold that place with --hold"
            )
        status = self.status[order]
        # As read, running status lasts through meta events; none is newly made to.
        running = np.where(status < 0xF0, status, 0)
        told = np.maximum.accumulate(np.where(status != META, np.arange(len(order)), -1))
        last = np.append(-1, told[:-1])
        lasts = neighbours | (self.status[before] < 0xF0)
        goes_on = lasts & (last >= 0) & (running[last] == status)
        return np.asarray(~self.has_status[order] & ~goes_on)

    def _continues_exclusive(self) -> Bools:
        """Which events are further packets of an exclusive message begun just before them."""
        exclusive = (self.status == 0xF0) | (self.status == 0xF7)
        after = np.append(False, exclusive[:-1]) & (self.status == 0xF7)
        ends = np.frombuffer(self.data, np.uint8)[self.start[:-1] - 1]
        return np.asarray(after & (ends != 0xF7))


def joined(tracks: Sequence[Track], column: str) -> Column:
    """One column of the events of all tracks, one track after the other.

    Parameters
    ----------
    tracks : sequence of Track
    column : str
        `tick`, `status`, `data1` or `data2`.
    """
    columns = [getattr(track, column) for track in tracks]
    return np.concatenate(columns) if columns else np.zeros(0, np.int64)


def parse(data: bytes) -> Track:
    """Take a track's bytes apart.

    Parameters
    ----------
    data : bytes
        The body of an MTrk chunk. What stands behind its end of track is kept as it is.

    Raises
    ------
    MidiFileError
        If the bytes are not a track; the message names the byte.
    """
    # Arrays, not lists: a list of a million numbers takes a million objects.
    start, hops = array("q"), array("q")
    problem = ""
    at, size, running = 0, len(data), 0
    plain = plain_sizes(data, _LONGEST)
    hop = hop_sizes(plain)
    # Only where events begin is found in the loop, which is the hot part of reading; all else is
    # taken from that as whole columns below.
    try:
        while at < size:
            start.append(at)
            while data[at] >= 0x80:
                at += 1
            at += 1
            byte = data[at]
            if byte < 0xF0:
                if byte >= 0x80:
                    running = byte
                    at += 1
                elif not running:
                    problem = f"byte {at}: a data byte where a status byte should be"
                    start.pop()
                    break
                width = _WIDTH[running >> 4]
                at += width
                if width == _PLAIN and at < size:
                    # The status that a row ends with is as wide as this one.
                    at = hop_on(hop, at, hops)
            elif byte in _LONG:
                meta = byte == META
                length, begin = vlq.read(data, at + 1 + meta)
                kind, at = data[at + 1], begin + length
                if meta and kind == END_OF_TRACK:
                    break
                running = running if meta else 0
            else:
                problem = f"byte {at}: status {byte:02X} is not allowed in a MIDI file"
                start.pop()
                break
    except IndexError:
        at = size + 1
    except MidiFileError as error:
        problem = f"byte {at}: {error}"
    if at > size and not problem:
        problem = f"byte {start[-1]}: the track ends in the middle of an event"
    return _columns(data, all_starts(start, hops, plain), at, problem)


def _columns(data: bytes, starts: Ints, stop: int, problem: str) -> Track:
    """Check the events in file order, then fill the columns; the first fault is the one told."""
    # An event that runs past the end is not looked at.
    count = len(starts) - (stop > len(data))
    buffer = np.frombuffer(data, np.uint8)
    start = np.append(starts[:count], stop)
    length = _delta_lengths(buffer, start[:-1])
    body = start[:-1] + length
    byte = buffer[np.minimum(body, len(buffer) - 1)]
    has_status = byte >= 0x80
    # Running status is that of the last channel event that spells it out.
    told = np.maximum.accumulate(np.where(has_status & (byte < 0xF0), np.arange(count), 0))
    status = np.where(has_status, byte, byte[told])
    width = np.array(_WIDTH, np.uint8)[status >> 4]
    first = body + has_status
    last = len(buffer) - 1
    data1 = np.where((width > 0) | (status == META), buffer[np.minimum(first, last)], 0)
    data2 = np.where(width > 1, buffer[np.minimum(first + 1, last)], 0)
    bad = (length > _LONGEST) | (data1 | data2 > 0x7F)
    if bad.any():
        index = int(np.argmax(bad))
        if length[index] > _LONGEST:
            problem = f"byte {start[index]}: a delta time is longer than four bytes"
        else:
            problem = f"byte {body[index]}: a data byte is above 127"
    if problem:
        raise MidiFileError(problem)
    tick = np.cumsum(vlq.decode(buffer, start[:-1], length))
    return Track(data, tick, status, data1.astype(np.uint8), data2.astype(np.uint8), start, body)


def _delta_lengths(buffer: Bytes, start: Ints) -> Ints:
    """Bytes of each delta time; one more than `_LONGEST` for all that are longer than that."""
    length = np.ones(len(start), np.int64)
    longer = indices(buffer[start] >= 0x80)
    while len(longer) and length[longer[0]] <= _LONGEST:
        length[longer] += 1
        at = start[longer] + length[longer] - 1
        longer = longer[buffer[np.minimum(at, len(buffer) - 1)] >= 0x80]
    return length
