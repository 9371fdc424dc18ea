"""The table of contents: a take and settings in, everything that is to be written out."""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from evenhand.columns import Bools, Ints, Words
from evenhand.errors import SettingError
from evenhand.jobs.triggers.clean import Cleaned, Cleaning, find_faults, length_ticks
from evenhand.jobs.triggers.midi_out import PlainScore, list_events, midi_file
from evenhand.jobs.triggers.pads import pads
from evenhand.jobs.triggers.positions import check_rate, sample_numbers
from evenhand.jobs.triggers.remap import NoteWay, map_notes, openings_by_pedal, parse_pedal
from evenhand.jobs.triggers.shape import Shape, match_velocities, shape_velocities
from evenhand.jobs.triggers.sheet import NOTE_ON, PRESSURE, STUCK, Sheet, read_sheet
from evenhand.jobs.triggers.target import Target
from evenhand.kit import KitMap
from evenhand.recipe import Recipe
from evenhand.take import Take
from evenhand.tightener import Result, tighten

PRESSURE_STAYS, PRESSURE_ENDS = "pressure", "note-off"

#: A cymbal struck longer ago than this is not choked any more, ms.
_RINGS_MS = 10_000.0


@dataclass(frozen=True)
class TriggerSettings:
    """What to do.

    Attributes
    ----------
    cleaning : Cleaning
    shape : Shape
    match : dict of str to int64 array, optional
        Velocities by piece whose distribution is taken over, before the shape.
    to : Target, optional
        The target map; notes stay as they are without one.
    merge : bool
        Whether two pieces may share a note.
    hat_pedal : str, optional
        `auto` or `CLOSED-OPEN`: the pedal says how far the hat is open, not its note.
    chokes : str
        `pressure`: key pressure stays; `note-off`: it ends the cymbal's note.
    tighten : bool
        Whether the take is tightened, after cleaning.
    rate : int
        Samples per second.

    Raises
    ------
    SettingError
        If the rate is unknown, or `chokes` is neither word.
    """

    cleaning: Cleaning = field(default_factory=Cleaning)
    shape: Shape = field(default_factory=Shape)
    match: dict[str, Ints] | None = None
    to: Target | None = None
    merge: bool = False
    hat_pedal: str | None = None
    chokes: str = PRESSURE_STAYS
    tighten: bool = False
    rate: int = 48_000

    def __post_init__(self) -> None:
        check_rate(self.rate)
        if self.chokes not in (PRESSURE_STAYS, PRESSURE_ENDS):
            raise SettingError(f"chokes: {self.chokes!r} is neither pressure nor note-off")


@dataclass(frozen=True, eq=False)
class Prepared:
    """What came of it; n hits are left of those in the take.

    Attributes
    ----------
    played : Sheet
        Every hit as read.
    cleaned : Cleaned
    sheet : Sheet
        The hits that are left, in time order, at the times that are written.
    score : PlainScore
        Their notes, velocities and lengths as they are written.
    ways : tuple of NoteWay
        Where each sound went; empty without a target map.
    tightened : Result, optional
        The pass, if there was one.
    settings : TriggerSettings
    """

    played: Sheet
    cleaned: Cleaned
    sheet: Sheet
    score: PlainScore
    ways: tuple[NoteWay, ...]
    tightened: Result | None
    settings: TriggerSettings

    @cached_property
    def sample(self) -> Ints:
        """The sample of each hit that is left."""
        return sample_numbers(self.sheet.take.tempo, self.sheet.hits.tick, self.settings.rate)

    @cached_property
    def frames(self) -> int:
        """The take's length in samples, to its last event or hit."""
        take = self.sheet.take
        end = sample_numbers(take.tempo, np.array([take.end]), self.settings.rate)
        return max(int(end[0]), int(self.sample.max(initial=0)) + 1)

    @property
    def pieces(self) -> list[str]:
        """The pieces that are left, in order of their names."""
        return [str(piece) for piece in np.unique(self.sheet.hits.piece)]

    def midi(self, piece: str | None = None) -> bytes:
        """A MIDI file of all hits, or of one piece's with the controls that concern it."""
        sheet, channel = self.sheet, int(self.played.hits.channel[0])
        if piece is None:
            return midi_file(sheet.take, list_events(self.score), channel, "drums")
        mine = sheet.hits.piece == piece
        events = list_events(self.score, mine, self._controls_of(mine, piece))
        return midi_file(sheet.take, events, channel, piece)

    def _controls_of(self, mine: Bools, piece: str) -> Bools:
        """Key pressure on the piece's own notes; all other controls go with the hat."""
        controls = self.sheet.controls
        pressed = controls.status == PRESSURE
        own = np.isin(controls.data1, np.unique(self.sheet.hits.note[mine]))
        return np.asarray(np.where(pressed, own, piece == "hat"))


def prepare(take: Take, recipe: Recipe, settings: TriggerSettings) -> Prepared:
    """Make trigger data from a take.

    Parameters
    ----------
    take : Take
        Not changed.
    recipe : Recipe
        Kit map and channel; all of it if the take is tightened.
    settings : TriggerSettings

    Returns
    -------
    Prepared

    Raises
    ------
    MidiFileError
        If the take has no drums.
    SettingError
        If a hit can't be put back or a sound has no note.
    """
    kit = recipe.load_kit()
    played = read_sheet(take, kit, recipe.channel)
    cleaned = find_faults(played, settings.cleaning)
    length = _lengths(played, cleaned, settings, kit)
    keep = cleaned.keep()
    sheet, length = played.only(keep), length[keep]
    order = np.argsort(sheet.hits.tick, kind="stable")
    sheet, length = sheet.only(order), length[order]

    velocity = sheet.hits.velocity
    if settings.match is not None:
        velocity = match_velocities(velocity, sheet.hits.piece, settings.match)
    velocity = shape_velocities(velocity, sheet.hits.piece, settings.shape)

    tightened = None
    if settings.tighten and len(sheet):
        sheet, length, tightened = _tighten(sheet, length, recipe)
    if settings.hat_pedal is not None:
        pedal = parse_pedal(settings.hat_pedal, sheet.pedal)
        sheet = replace(sheet, opening=openings_by_pedal(sheet, pedal))
    note = sheet.hits.note
    ways: tuple[NoteWay, ...] = ()
    if settings.to:
        note, ways = map_notes(sheet, kit, settings.to, settings.merge)
    score = PlainScore(
        sheet,
        note,
        velocity,
        length,
        _pressure_notes(sheet.hits.note, note),
        settings.chokes == PRESSURE_STAYS,
    )
    return Prepared(played, cleaned, sheet, score, ways, tightened, settings)


def _lengths(sheet: Sheet, cleaned: Cleaned, settings: TriggerSettings, kit: KitMap) -> Ints:
    """The length of each note in ticks, at least one; chokes end their cymbal if asked."""
    begin = sheet.hits.tick
    rest = np.maximum(sheet.take.end - begin, 1)
    length = np.where(sheet.length == STUCK, rest, np.maximum(sheet.length, 1))
    fixed = length_ticks(sheet, settings.cleaning.length)
    length = np.where(cleaned.relength, fixed, length)
    if settings.chokes != PRESSURE_ENDS:
        return length
    controls = sheet.controls
    choked = (controls.status == PRESSURE) & (controls.data2 > 0)
    ticks, surfaces = controls.tick[choked], pads(kit, controls.data1[choked])
    times = sheet.take.tempo.to_ms(ticks)
    # The last first, so that of several in a row the first has the last word.
    for tick, ms, pad in reversed(list(zip(ticks.tolist(), times, surfaces, strict=True))):
        struck = np.flatnonzero(
            (sheet.pad == pad) & (begin < tick) & (sheet.hits.ms > ms - _RINGS_MS)
        )
        if len(struck):
            last = struck[np.argmax(begin[struck])]
            length[last] = tick - begin[last]
    return length


def _tighten(sheet: Sheet, length: Ints, recipe: Recipe) -> tuple[Sheet, Ints, Result]:
    """Tighten what is left, as a take of its own; limbs may come back in another order."""
    hits, controls = sheet.hits, sheet.controls
    same = np.arange(128)
    events = list_events(PlainScore(sheet, hits.note, hits.velocity, length, same))
    clean = Take.from_bytes(
        midi_file(sheet.take, events, int(hits.channel[0]), "drums"), sheet.take.name
    )
    result = tighten(clean, recipe)
    sent, back = clean.smf.tracks[1], result.take.smf.tracks[1]
    tick = np.empty(len(sent), dtype=np.int64)
    tick[sent.by_voice] = back.tick[back.by_voice]
    # The first event is the track's name, the last its end.
    tick = tick[1:-1]
    on, off = events.status == NOTE_ON, events.status == 0x80
    begin, end, moved = hits.tick.copy(), hits.tick.copy(), controls.tick.copy()
    begin[events.owner[on]], end[events.owner[off]] = tick[on], tick[off]
    moved[events.owner[~on & ~off]] = tick[~on & ~off]
    retimed = replace(hits, tick=begin, ms=result.take.tempo.to_ms(begin))
    sheet = replace(sheet, take=result.take, hits=retimed, controls=replace(controls, tick=moved))
    return sheet, np.maximum(end - begin, 1), result


def _pressure_notes(before: Ints, after: Ints) -> Ints:
    """What becomes of the note of a key pressure: the same as of the hits on it."""
    table = np.arange(128)
    table[before] = after
    return table


def velocities_of(take: Take, recipe: Recipe) -> dict[str, Ints]:
    """A take's velocities by piece, as a target to match."""
    sheet = read_sheet(take, recipe.load_kit(), recipe.channel)
    piece: Words = sheet.hits.piece
    return {name: sheet.hits.velocity[piece == name] for name in np.unique(piece).tolist()}
