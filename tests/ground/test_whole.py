"""What holds for a take as a whole, and what a pass makes of it."""

from typing import Any

import numpy as np
import pytest
from tests.build import CRASH, HAT, KICK, SNARE, drum_take

from evenhand import Recipe, Result, Take, assess, tighten
from evenhand.ground import told_of_whole


def groove(late_ms: float = 0, bars: int = 24, bpm: float = 100, **form: Any) -> Take:
    """Eighths, kick on 1 and 3, snare on 2 and 4, 5 ms of scatter; a kick slips in bars 7 and 15.

    A bar is left free in front. The slips are of 40 ms.
    """
    random = np.random.default_rng(7)
    beat_ms = 60_000 / bpm
    filed = form.get("filed", bpm)
    notes = []
    for bar in range(bars):
        rows = [(beat / 2, HAT, 70 + 25 * (beat % 2 == 0)) for beat in range(8)]
        rows += [(0, KICK, 105), (1, SNARE, 104), (2, KICK, 100), (3, SNARE, 106)]
        rows += [(0, CRASH, 105)] if bar % 4 == 0 else []
        for beat, note, velocity in rows:
            slip = 40 if (bar, beat, note) in ((6, 2, KICK), (14, 2, KICK)) else 0
            ms = (4 * (bar + 1) + beat) * beat_ms + late_ms + slip + random.normal(0, 5)
            notes.append((round(ms * 480 * filed / 60_000), note, velocity))
    return drum_take(notes, bpm=filed)


def moved(result: Result) -> list[int]:
    """Which anchors moved, in the order of time."""
    changes = result.changes
    anchors = np.flatnonzero(changes.hits.role == "anchor")
    order = anchors[np.argsort(changes.hits.ms[anchors], kind="stable")]
    return np.flatnonzero(np.abs(changes.shift_ms[order]) > 2).tolist()


@pytest.mark.parametrize("late", [-64, 47, 71, 110])
def test_a_take_beside_its_lines_is_judged_like_one_on_them(late: float) -> None:
    usual, beside = tighten(groove()), tighten(groove(late))
    assert usual.ground.offset == 0
    assert beside.ground.offset == pytest.approx(late, abs=3)
    assert moved(usual) == moved(beside) == [4 * 6 + 2, 4 * 14 + 2]
    one, other = (result.changes.shift_ms for result in (usual, beside))
    assert one == pytest.approx(other, abs=3)
    # What is kept keeps its very tick.
    kept = beside.changes.action == "kept"
    assert kept.sum() > 60
    assert (beside.changes.tick_after == beside.changes.hits.tick)[kept].all()


def test_lines_deviations_and_places_of_a_take_beside_its_lines() -> None:
    """The line is moved, deviations count from there, and a stroke has the name of its line."""
    result = tighten(groove(71))
    changes = result.changes
    anchors = ~np.isnan(changes.line)
    line_ms = result.before.tempo.to_ms(changes.line[anchors])
    grid_ms = 60_000 / 100 / 2
    off = (line_ms - result.ground.offset) / grid_ms
    assert off == pytest.approx(np.rint(off), abs=1e-6)
    before, after = changes.deviation_before[anchors], changes.deviation_after[anchors]
    assert before == pytest.approx(changes.hits.ms[anchors] - line_ms, abs=1e-6)
    assert after == pytest.approx(changes.ms_after[anchors] - line_ms, abs=1e-6)
    slips = [str(flag.place) for flag in result.noted if flag.kind == "moves"]
    assert sorted(slips) == ["16:3", "8:3"]
    feel = result.kept[0]
    assert abs(feel.lean.before) < 3
    assert abs(feel.lean.after) < 3


def test_an_offset_is_told_once() -> None:
    result = tighten(groove(71))
    (flag,) = (flag for flag in result.flags if flag.kind == "offset")
    assert flag.text == (
        f"the whole take lies {result.ground.offset:.0f} ms behind its lines: nothing was moved "
        "for it; --latency auto takes it out"
    )
    near = tighten(groove(-36))
    assert [text for _, text, _ in told_of_whole(near.ground.whole)] == [
        f"the whole take lies {-near.ground.offset:.0f} ms ahead of its lines: nothing was moved "
        "for it; it may as well be how the drummer leans; --latency auto takes it out"
    ]
    assert [one.kind for one in tighten(groove(15)).flags if one.kind == "offset"] == []


def test_latency_takes_an_offset_out() -> None:
    taken = tighten(groove(71), Recipe(latency="auto"))
    assert taken.ground.latency == pytest.approx(71, abs=4)
    assert taken.ground.offset == 0
    assert taken.changes.shift_ms[taken.changes.action == "kept"] == pytest.approx(-71, abs=4)
    assert assess(groove(71)).latency.ms == pytest.approx(71, abs=4)


def test_nothing_goes_before_the_start_for_an_offset() -> None:
    """The first hits lie at 71 ms; judged against moved lines they are before tick 0."""
    take = groove(71)
    ticks = [np.maximum(track.tick - 1920, 0) for track in take.smf.tracks]
    early = tighten(take.retimed(ticks))
    assert early.ground.offset == pytest.approx(71, abs=3)
    assert not any("start of the file" in reason for reason in early.changes.reason.tolist())
    assert early.changes.tick_after.min() > 0


@pytest.mark.parametrize("settings", [{}, {"strength": 100.0}, {"plan": "spans"}])
def test_nothing_moves_under_another_tempo(settings: dict[str, Any]) -> None:
    take = groove(bpm=96, filed=120, bars=40)
    result = tighten(take, Recipe(**settings))
    assert result.take.to_bytes() == take.to_bytes()
    assert set(result.changes.action.tolist()) == {"held"}
    assert set(result.changes.reason.tolist()) == {"the hits have another tempo than the file"}
    (flag,) = (flag for flag in result.flags if flag.kind == "another tempo")
    assert flag.text.startswith("the file says 120 bpm, the hits say 96 bpm (give or take 0.0")
    assert flag.text.endswith("with --fit, or insist with --tempo-as-filed")
    assert assess(take).tempo_doubt == flag.text


def test_a_rounded_tempo_is_told_with_how_far_it_leads() -> None:
    """At 96.2 for 96 the last of 160 beats lies 208 ms behind."""
    take = groove(bpm=96, filed=96.2, bars=40)
    result = tighten(take)
    assert result.take.to_bytes() == take.to_bytes()
    (flag,) = (flag for flag in result.flags if flag.kind == "another tempo")
    assert "96.2 bpm, the hits say 96 bpm" in flag.text
    assert flag.weight == pytest.approx(208, abs=25)


def test_a_fit_and_insisting_lead_out_of_it() -> None:
    take = groove(bpm=96, filed=120, bars=40)
    fitted = tighten(take, Recipe(fit="steady"))
    assert fitted.ground.whole.other is None
    assert len(moved(fitted)) >= 2
    rounded = groove(bpm=96, filed=96.2, bars=40)
    insisting = tighten(rounded, Recipe(tempo_as_filed="on", grid="1/16", reach=40, lean=50))
    assert insisting.ground.whole.other is None
    assert len(moved(insisting)) > 10
    beside = tighten(groove(71), Recipe(tempo_as_filed="on"))
    assert (beside.ground.offset, beside.ground.whole.lean) == (0, 0)


def test_a_hold_and_a_nudge_still_hold() -> None:
    """The hand may move what the machine leaves alone."""
    take = groove(bpm=96, filed=96.2, bars=40)
    place = tighten(take).before.meter.position(float(take.hits().tick[60]))
    recipe = Recipe(nudge=({"at": str(place), "ms": 5.0},))
    assert len(moved(tighten(take, recipe))) >= 1


def test_five_eighths() -> None:
    """Bars of 5/8: lines begin anew half a quarter later each time."""
    notes = []
    random = np.random.default_rng(3)
    for bar in range(30):
        rows = [(eighth, HAT, 80) for eighth in range(5)]
        rows += [(0, KICK, 110), (3, SNARE, 105)]
        for eighth, note, velocity in rows:
            ms = (5 * bar + 5 + eighth) * 300 + 60 + random.normal(0, 5)
            notes.append((round(ms * 0.8), note, velocity))
    result = tighten(drum_take(notes, bpm=100, meter=(5, 8)))
    assert result.ground.whole.other is None
    assert result.ground.offset == pytest.approx(60, abs=4)
