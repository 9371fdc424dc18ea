"""A second opinion on the whole job: slow, obvious, exact, and written from the design alone.

It shares no code with the package: mido decodes, `fractions.Fraction` counts, every bar and every
line is listed one by one. What the design says in words stands here as loops. Its first version
was written before the code it judges was read. What the design leaves open follows the docstrings
of the package since:

- triplet grids have no pairs, nor have those of five and seven in a quarter, so swing does nothing
  there; no line lies before tick 0;
- what lies below a millionth of a ms or a tick decides nothing;
- a stroke is held if any hit of it or the line it has taken lies in a hold, and the hold then
  reaches around all of it; the edges of a hold stand in the guard like strokes that don't move;
- the guard looks at the room between the last hit of a stroke and the first of the next, in two
  sweeps, forwards and backwards; the larger shift gives way to the smaller, then both alike;
- a move that strength 0 or the guard has taken away altogether is no move: the hit is kept;
- the start limits places, not strokes: whatever would go before tick 0 goes to tick 0.
"""

import io
from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

import mido

# Below this, ms or ticks, differences don't count.
SLACK = Fraction(1, 10**6)

# The notes that the tests use. General MIDI Level 1 percussion map; 22 and 26 are the hat edges
# of e-kits.
PIECES = {
    **dict.fromkeys((35, 36), "kick"),
    37: "side stick",
    **dict.fromkeys((38, 40), "snare"),
    **dict.fromkeys((22, 26, 42, 44, 46), "hat"),
    **dict.fromkeys((51, 53, 59), "ride"),
    56: "cowbell",
}
ANCHORS = ("kick", "snare", "side stick")


@dataclass
class Settings:
    """What a pass is told; times in ms, shares in percent. `window` None: noticeable difference."""

    ghost_below: int
    grid: str = "1/16"
    swing: Fraction = Fraction(50)
    window: Fraction | None = None
    strength: Fraction = Fraction(75)
    reach: Fraction = Fraction(40)
    together: Fraction = Fraction(20)
    latency: Fraction = Fraction(0)
    anchors: tuple[str, ...] = ANCHORS
    holds: tuple[str, ...] = ()
    channel: int = 10


@dataclass
class Hit:
    """One hit, and what became of it."""

    track: int
    file_tick: int
    note: int
    velocity: int
    tick: Fraction = Fraction(0)  # without the latency
    ms: Fraction = Fraction(0)
    action: str = "carried"
    line: Fraction | None = None
    deviation: Fraction | None = None
    exact: Fraction = Fraction(0)  # where it goes, before rounding
    tick_after: int = 0


@dataclass
class Stroke:
    """Anchor hits struck together."""

    hits: list[Hit]
    line: Fraction | None = None
    deviation: Fraction = Fraction(0)
    shift: Fraction = Fraction(0)  # in ticks
    action: str = "carried"

    @property
    def reference(self) -> Hit:
        return max(self.hits, key=lambda hit: (hit.velocity, -hit.tick))


@dataclass
class Music:
    """Tempo and meter of a file, and its bars listed one by one."""

    division: int
    tempi: list[tuple[int, int]]  # tick, microseconds per quarter
    meters: list[tuple[int, int, int]]  # tick, beats, unit
    end: int  # the last tick of the longest track
    bars: list[tuple[int, Fraction, Fraction, Fraction]] = field(default_factory=list)

    def to_ms(self, tick: Fraction) -> Fraction:
        ms = Fraction(0)
        for index, (begin, tempo) in enumerate(self.tempi):
            last = index + 1 == len(self.tempi) or tick < self.tempi[index + 1][0]
            end = tick if last else Fraction(self.tempi[index + 1][0])
            ms += (end - begin) * Fraction(tempo, 1000 * self.division)
            if last:
                break
        return ms

    def to_tick(self, ms: Fraction) -> Fraction:
        left = ms
        for index, (begin, tempo) in enumerate(self.tempi):
            per_tick = Fraction(tempo, 1000 * self.division)
            if index + 1 == len(self.tempi):
                return begin + left / per_tick
            whole = (self.tempi[index + 1][0] - begin) * per_tick
            if left < whole:
                return begin + left / per_tick
            left -= whole
        raise AssertionError("a file has at least one tempo")

    def list_bars(self, first: Fraction, last: Fraction) -> None:
        """Number, start, stop and beat of every bar around everything there is."""
        self.bars = []
        number = 1
        for index, (begin, beats, unit) in enumerate(self.meters):
            beat = Fraction(4 * self.division, unit)
            following = self.meters[index + 1][0] if index + 1 < len(self.meters) else None
            start = Fraction(begin)
            while start <= last + 2 * beats * beat if following is None else start < following:
                stop = start + beats * beat
                if following is not None:
                    stop = min(stop, Fraction(following))
                self.bars.append((number, start, stop, beat))
                number, start = number + 1, stop
        _, beats, unit = self.meters[0]
        beat = Fraction(4 * self.division, unit)
        while self.bars[0][1] > first - 2 * beats * beat:
            number, start, _, _ = self.bars[0]
            self.bars.insert(0, (number - 1, start - beats * beat, start, beat))

    def place(self, position: str) -> tuple[Fraction, Fraction]:
        """Tick of `bar:beat`, and the beat there."""
        bar, beat = position.split(":")
        for number, start, _, beat_ticks in self.bars:
            if number == int(bar):
                return start + (Fraction(beat) - 1) * beat_ticks, beat_ticks
        raise AssertionError(f"no bar {bar} is listed")

    def beat_at(self, tick: Fraction) -> Fraction:
        """Length in ms of the beat under way at `tick`."""
        beat = next(beat for _, start, stop, beat in self.bars if start <= tick < stop)
        tempo = [tempo for begin, tempo in self.tempi if begin <= tick] or [self.tempi[0][1]]
        return beat * Fraction(tempo[-1], 1000 * self.division)

    def lines(self, grid: str, swing: Fraction) -> list[Fraction]:
        """Every line of every bar."""
        gap = Fraction(4 * self.division, int(grid.rstrip("TQS").split("/")[1]))
        if grid.endswith("T"):
            gap, swing = gap * Fraction(2, 3), Fraction(50)
        elif grid[-1] in "QS":
            gap, swing = Fraction(self.division, {"Q": 5, "S": 7}[grid[-1]]), Fraction(50)
        found = []
        for _, start, stop, _ in self.bars:
            pair = start
            while pair < stop:
                found.append(pair)
                second = pair + 2 * gap * swing / 100
                if second < stop:
                    found.append(second)
                pair += 2 * gap
        return found


def read(data: bytes, channel: int) -> tuple[Music, list[Hit]]:
    """Tempo, meter and hits of a file."""
    midi = mido.MidiFile(file=io.BytesIO(data))
    tempi: dict[int, int] = {}
    meters: dict[int, tuple[int, int]] = {}
    hits, end = [], 0
    for number, track in enumerate(midi.tracks):
        tick = 0
        own_tempi: dict[int, int] = {}
        own_meters: dict[int, tuple[int, int]] = {}
        for message in track:
            tick += message.time
            end = max(end, tick)
            if message.type == "set_tempo":
                own_tempi[tick] = message.tempo
            elif message.type == "time_signature":
                own_meters[tick] = (message.numerator, message.denominator)
            elif message.type == "note_on" and message.velocity and message.channel == channel - 1:
                hits.append(Hit(number, tick, message.note, message.velocity))
        for tick, tempo in own_tempi.items():
            tempi[tick] = max(tempo, tempi.get(tick, 0))
        for tick, meter in own_meters.items():
            both = [meter, meters.get(tick, meter)]
            meters[tick] = max(both, key=lambda one: (Fraction(*one), one[1]))
    tempi.setdefault(0, 500_000)
    meters.setdefault(0, (4, 4))
    music = Music(
        midi.ticks_per_beat,
        sorted(tempi.items()),
        [(tick, *meter) for tick, meter in sorted(meters.items())],
        end,
    )
    return music, hits


def judge(data: bytes, settings: Settings) -> list[Hit]:
    """Every hit of a file in file order, and what becomes of it."""
    music, hits = read(data, settings.channel)
    for hit in hits:
        hit.ms = music.to_ms(Fraction(hit.file_tick)) - settings.latency
        hit.tick = music.to_tick(hit.ms)
    music.list_bars(min(hit.tick for hit in hits), max(music.end, *(hit.tick for hit in hits)))
    in_time = sorted(hits, key=lambda hit: hit.tick)
    strokes = find_strokes(in_time, settings)
    find_lines(strokes, music, settings)
    ranges = hold_ranges(music, settings.holds)
    edges = hold(in_time, strokes, ranges)
    move(strokes, music, settings)
    carry(in_time, strokes, edges)
    for stroke in strokes:
        if stroke.action == "moved" and stroke.shift == 0:
            stroke.action = "kept"
        for hit in stroke.hits:
            hit.action = stroke.action
            if stroke.line is not None:
                hit.line, hit.deviation = stroke.line, hit.ms - music.to_ms(stroke.line)
    for hit in in_time:
        if held_by(hit.tick, ranges):
            hit.action = "held"
    return hits


def find_strokes(in_time: list[Hit], settings: Settings) -> list[Stroke]:
    """Semantics 3 and 4."""
    strokes: list[Stroke] = []
    for hit in in_time:
        piece = PIECES.get(hit.note, "other")
        ghost = piece == "snare" and hit.velocity < settings.ghost_below
        if piece not in settings.anchors or ghost:
            continue
        if strokes and hit.ms - strokes[-1].hits[-1].ms <= settings.together + SLACK:
            strokes[-1].hits.append(hit)
        else:
            strokes.append(Stroke([hit]))
    return strokes


def find_lines(strokes: list[Stroke], music: Music, settings: Settings) -> None:
    """Semantics 5 to 8, all but the move itself."""
    lines = music.lines(settings.grid, settings.swing)
    keeper: dict[Fraction, Stroke] = {}
    for stroke in strokes:
        at = stroke.reference.tick
        after = bisect_right(lines, at)
        before, behind = lines[after - 1], lines[after]
        line = max(Fraction(0), before if at - before <= behind - at + SLACK else behind)
        stroke.deviation = stroke.reference.ms - music.to_ms(line)
        gap = music.to_ms(behind) - music.to_ms(before)
        if abs(stroke.deviation) > settings.reach / 100 * gap + SLACK:
            continue
        rival = keeper.get(line)
        if rival is None or abs(stroke.deviation) + SLACK < abs(rival.deviation):
            keeper[line] = stroke
    for line, stroke in keeper.items():
        stroke.line = line
        window = settings.window
        if window is None:
            window = max(Fraction(6), music.beat_at(line) / 40)
        stroke.action = "kept" if abs(stroke.deviation) <= window + SLACK else "moved"


def hold_ranges(music: Music, holds: Iterable[str]) -> list[tuple[Fraction, Fraction]]:
    """First and last tick of each hold; a place stands for all that is written so (0.001 beat)."""
    ranges = []
    for text in holds:
        first, _, last = text.partition("-")
        begin, begin_beat = music.place(first)
        end, end_beat = music.place(last or first)
        ranges.append((begin - begin_beat / 1000, end + end_beat / 1000))
    return ranges


def held_by(tick: Fraction, ranges: list[tuple[Fraction, Fraction]]) -> bool:
    return any(begin <= tick <= end for begin, end in ranges)


def hold(
    in_time: list[Hit], strokes: list[Stroke], ranges: list[tuple[Fraction, Fraction]]
) -> list[Fraction]:
    """Semantics 13: mark held strokes, widen the ranges; the ticks of the knots at the edges."""
    edges = []
    for index, (begin, end) in enumerate(ranges):
        held = [stroke for stroke in strokes if touches(stroke, begin, end)]
        for stroke in held:
            stroke.action = "held"
        first = min([begin, *(stroke.hits[0].tick for stroke in held)])
        last = max([end, *(stroke.hits[-1].tick for stroke in held)])
        ranges[index] = (first, last)
        inside = [hit.tick for hit in in_time if first <= hit.tick <= last]
        if inside:
            edges += [inside[0], inside[-1]]
    return edges


def touches(stroke: Stroke, begin: Fraction, end: Fraction) -> bool:
    if stroke.line is not None and begin <= stroke.line <= end:
        return True
    return stroke.hits[0].tick <= end and stroke.hits[-1].tick >= begin


def move(strokes: list[Stroke], music: Music, settings: Settings) -> None:
    """Semantics 9."""
    for stroke in strokes:
        if stroke.action != "moved":
            continue
        reference = stroke.reference
        target = reference.ms - settings.strength / 100 * stroke.deviation
        stroke.shift = music.to_tick(target) - reference.tick


def carry(in_time: list[Hit], strokes: list[Stroke], edges: list[Fraction]) -> None:
    """Semantics 10 to 12."""
    posts = [stroke for stroke in strokes if stroke.action != "carried"]
    posts += [Stroke([Hit(0, 0, 0, 0, tick=edge)]) for edge in edges]
    posts.sort(key=lambda post: post.hits[0].tick)
    pairs = list(pairwise(posts))
    for one, other in pairs + pairs[::-1]:
        guard(one, other)
    knots = sorted((hit.tick, post.shift) for post in posts for hit in post.hits)
    for hit in in_time:
        hit.exact = round(hit.tick + shift_at(hit.tick, knots), 6)
        hit.tick_after = max(0, round(hit.exact))


def guard(one: Stroke, other: Stroke) -> None:
    """Semantics 11 for one pair of neighbours."""
    gap = other.hits[0].tick - one.hits[-1].tick
    apart = other.shift - one.shift
    most = gap if apart > gap else -gap / 2 if apart < -gap / 2 else None
    if most is None:
        return
    large, small = (one, other) if abs(one.shift) > abs(other.shift) else (other, one)
    over = abs(apart - most)
    alone = min(over, abs(large.shift) - abs(small.shift))
    rest = (over - alone) / 2
    large.shift -= (alone + rest) * (1 if large.shift > 0 else -1)
    small.shift -= rest * (1 if small.shift > 0 else -1)


def shift_at(tick: Fraction, knots: list[tuple[Fraction, Fraction]]) -> Fraction:
    """The shift on the straight line between the knots around `tick`."""
    if not knots:
        return Fraction(0)
    after = bisect_left(knots, (tick,))
    if after == 0 or after == len(knots):
        return knots[min(after, len(knots) - 1)][1]
    (begin, first), (end, last) = knots[after - 1], knots[after]
    return first + (last - first) * (tick - begin) / (end - begin)
