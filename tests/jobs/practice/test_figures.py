"""The figures of a take by worked numbers. At 120 bpm, 24 ticks are 25 ms; 12.5 ms are noticed."""

import dataclasses
import math

import mido
import numpy as np
import pytest
from tests.build import HAT, KICK, SNARE, Note, drum_take, midi_bytes, track

from evenhand import Recipe, Take
from evenhand.errors import MidiFileError
from evenhand.jobs.practice.take_figures import ENOUGH, LimbFigures, TakeFigures, figures_of

RECIPE = Recipe(grid="1/16", sections="none")
PEDAL = 44


def _groove(bars: int = 16, kick: tuple[int, int] = (0, 0), snare: int = 0) -> list[Note]:
    """Kick on 1 and 3, snare on 2 and 4, hats in eighths, a ghost on the last sixteenth.

    `kick` is where the kicks of even and odd bars stand, in ticks.
    """
    notes: list[Note] = []
    for bar in range(1, bars + 1):
        start = bar * 1920
        notes += [(start + half * 240, HAT, 90 if half % 2 else 60) for half in range(8)]
        notes += [(start + beat * 960 + kick[bar % 2], KICK, 100) for beat in range(2)]
        notes += [(start + 480 + beat * 960 + snare, SNARE, 110) for beat in range(2)]
        notes += [(start + 1800, SNARE, 25)]
    return notes


def _row(figures: TakeFigures, limb: str) -> LimbFigures:
    (row,) = [row for row in figures.limbs if row.limb == limb]
    return row


def test_lean_and_spread_of_each_limb() -> None:
    # Kicks stand 12 and 36 ticks early in turns: 12.5 and 37.5 ms, so 25 around ± 12.5.
    figures = figures_of(drum_take(_groove(kick=(-12, -36), snare=6)), RECIPE)
    kick, snare, ghosts = (_row(figures, limb) for limb in ("kick", "snare", "ghosts"))
    assert (kick.hits, kick.lined) == (32, 32)
    assert kick.lean_ms == pytest.approx(-25)
    assert kick.spread_ms == pytest.approx(12.5)
    assert snare.lean_ms == pytest.approx(6.25)
    assert snare.spread_ms == pytest.approx(0, abs=1e-9)
    assert ghosts.hits == 16
    assert ghosts.lean_ms == pytest.approx(0)
    assert kick.noticed_ms == figures.noticed_ms == pytest.approx(12.5)
    assert figures.bpm == pytest.approx(120)
    assert (str(figures.group), figures.click) == ("120-139 bpm", True)
    assert (figures.hits, figures.bars) == (16 * 13, 16)
    # All anchors: half of them lie at 6.25, a quarter each at -12.5 and -37.5.
    deviation = np.array([6.25, 6.25, -12.5, -37.5])
    assert figures.anchors.spread_ms == pytest.approx(deviation.std())
    assert figures.anchors.lean_ms == pytest.approx((6.25 - 12.5) / 2)


def test_limbs_against_the_timekeeper() -> None:
    figures = figures_of(drum_take(_groove(kick=(-12, -36), snare=6)), RECIPE)
    kick, snare = figures.pair("kick"), figures.pair("snare")
    assert kick is not None
    assert snare is not None
    assert (kick.pairs, kick.lean, kick.spread) == (32, pytest.approx(-25), pytest.approx(12.5))
    assert snare.lean == pytest.approx(6.25)
    assert figures.pair("toms") is None


def test_evenness_in_time() -> None:
    # Every second hat 12 ticks late: intervals are 12.5 ms longer and shorter in turns. 127
    # changes of deviation, 64 up and 63 down.
    notes = [(tick + (12 if tick % 480 else 0), note) for tick, note, *_ in _groove()]
    hats = [one for one in notes if one[1] == HAT]
    figures = figures_of(drum_take(hats), RECIPE)
    change = np.array([12.5] * 64 + [-12.5] * 63)
    assert figures.keeper == "hat"
    assert figures.keeper_ms == pytest.approx(change.std())


def test_loudness_and_dynamics() -> None:
    figures = figures_of(drum_take(_groove()), RECIPE)
    # 90 and 60 in turns is a pattern, and perfectly even.
    assert (figures.loudness.velocity, figures.loudness.spread) == (75, 0)
    dynamics = figures.dynamics
    assert (dynamics.backbeats, dynamics.backbeat_velocity) == (32, 110)
    assert (dynamics.ghosts, dynamics.ghost_velocity) == (16, 25)


def test_the_foot_is_a_limb_of_its_own() -> None:
    pedal = [(bar * 1920 + beat * 960 + 480 - 12, PEDAL) for bar in range(1, 17) for beat in (0, 1)]
    figures = figures_of(drum_take([*_groove(), *pedal]), RECIPE)
    assert _row(figures, "hat foot").hits == 32
    assert _row(figures, "hat foot").lean_ms == pytest.approx(-12.5)
    assert _row(figures, "timekeeper").hits == 128
    assert _row(figures, "timekeeper").lean_ms == pytest.approx(0)


def test_each_tempo_of_a_take_by_itself() -> None:
    # 16 bars at 90 bpm with the kick 12 ticks late, then 16 at 150 with 12 ticks early.
    notes = [(tick, note, *more) for tick, note, *more in _groove(33)]
    hits = [
        (
            tick + (0 if note != KICK else 12 if tick < 17 * 1920 else -12),
            mido.Message("note_on", channel=9, note=note, velocity=more[0]),
        )
        for tick, note, *more in notes
    ]
    tempi = [
        (tick, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm)))
        for tick, bpm in ((0, 90), (17 * 1920 - 240, 150))
    ]
    figures = figures_of(Take.from_bytes(midi_bytes(track(tempi), track(hits))), RECIPE)
    assert figures.group is None
    kicks = {str(row.group): row for row in figures.limbs if row.limb == "kick"}
    assert list(kicks) == ["80-99 bpm", "140-159 bpm"]
    assert kicks["80-99 bpm"].lean_ms == pytest.approx(12 / 480 * 60_000 / 90)
    assert kicks["140-159 bpm"].lean_ms == pytest.approx(-12 / 480 * 60_000 / 150)


def _played_at(bpm: float, in_file: float = 120) -> Take:
    """The groove as a recorder without a click writes it."""
    factor, dice = in_file / bpm, np.random.default_rng(2)
    notes = [
        (round(tick * factor + dice.normal() * 4), note, *more) for tick, note, *more in _groove(24)
    ]
    return drum_take(notes, bpm=in_file)


def test_a_take_without_a_click_is_measured_by_its_own_tempo() -> None:
    figures = figures_of(_played_at(92.9))
    assert not figures.click
    assert figures.bpm == pytest.approx(92.9, rel=0.002)
    assert str(figures.group) == "80-99 bpm, no click"
    assert "own tempo" in figures.note
    assert math.isnan(figures.anchors.lean_ms)
    assert all(math.isnan(row.lean_ms) for row in figures.limbs)
    assert figures.anchors.spread_ms == pytest.approx(4.2, abs=1.0)
    assert math.isnan(figures.steadiness.drift_ms)
    assert figures.steadiness.drift_percent == pytest.approx(0, abs=0.2)


def test_a_fit_can_be_asked_for() -> None:
    assert not figures_of(_played_at(120), dataclasses.replace(RECIPE, fit="steady")).click
    assert figures_of(_played_at(120), RECIPE).click


def test_doubts_about_a_tempo_are_told() -> None:
    # A hat at a steady gap, with a kick on every third: threes or twos, slow or fast?
    dice = np.random.default_rng(1)
    ticks = [round(number * 310 + dice.normal() * 4) for number in range(200)]
    notes = sorted([(tick, HAT) for tick in ticks] + [(tick, KICK) for tick in ticks[::3]])
    note = figures_of(drum_take(notes)).note
    assert note.startswith("not played to the tempo of its file; own tempo found, but ")
    assert "could be counted at" in note
    assert "--" not in note


def test_hits_without_a_pulse() -> None:
    dice = np.random.default_rng(1)
    notes = sorted((int(tick), HAT) for tick in dice.integers(0, 60_000, 200))
    with pytest.raises(MidiFileError, match="share no pulse"):
        figures_of(drum_take(notes))


def test_too_few_hits_tell_nothing() -> None:
    figures = figures_of(drum_take(_groove(7)), RECIPE)
    assert _row(figures, "kick").hits == 14 < ENOUGH
    assert math.isnan(_row(figures, "kick").spread_ms)
    assert not math.isnan(_row(figures, "timekeeper").spread_ms)
    assert math.isnan(figures.dynamics.ghost_spread)
    assert figures.pairs == ()


def test_one_hit() -> None:
    figures = figures_of(drum_take([(0, KICK)]))
    assert figures.hits == 1
    assert math.isnan(figures.anchors.spread_ms)
    assert figures.keeper == ""
    assert figures.minutes == 0
