"""The planters put in what they say, and never let hits of a piece change places."""

import numpy as np
import pytest
from tests.build import HAT, KICK, SNARE, drum_take
from tests.evaluation.score_judgement.jobs import generator
from tests.evaluation.score_judgement.plant import (
    plant_pushes,
    plant_slips,
    scatter,
    without_time_hand,
)
from tests.evaluation.score_judgement.playing import Playing, find_steps, see
from tests.evaluation.score_judgement.rewrite import under_tempo, warped, with_hits_at, without

from evenhand import Take
from evenhand.kit.maps import load_kit
from evenhand.kit.roles import label
from evenhand.recipe import Recipe


def bars(count: int) -> Take:
    """Eighths on the hat, kick on 1 and 3, snare on 2 and 4; 120 bpm."""
    notes = []
    for beat in range(4 * count):
        notes += [(480 * beat, HAT), (480 * beat + 240, HAT)]
        notes.append((480 * beat + 5, SNARE if beat % 2 else KICK))
    return drum_take(notes)


def seen(take: Take) -> Playing:
    hits, _ = label(take.hits(), load_kit("gm"), Recipe().anchor)
    return see(hits, take.tempo, take.meter)


def test_a_take_is_seen_with_its_strokes_and_usual_places() -> None:
    playing = seen(bars(4))
    assert len(playing.reference) == 16
    assert (playing.with_stroke[playing.keeper].reshape(-1, 2) >= 0).tolist() == [
        [True, False]
    ] * 16
    kicks = playing.piece == "kick"
    # The gathering point of all hits is the line: 5 ticks of 0.96 to the ms, kicks lie behind it.
    assert playing.nominal[kicks][:2] == pytest.approx([0, 1000])
    assert playing.usual[kicks] == pytest.approx(5 / 0.96)
    assert playing.place[kicks].tolist() == [0, 4] * 4
    assert playing.bar[kicks].tolist() == [1, 1, 2, 2, 3, 3, 4, 4]


@pytest.mark.parametrize(("steps", "lean"), [(2, 0.0), (3, 0.1), (4, -0.1), (6, 0.05)])
def test_the_coarsest_lines_that_explain_the_hits(steps: int, lean: float) -> None:
    found, off = find_steps((np.arange(48) + lean) / steps)
    assert (found, off) == (steps, pytest.approx(lean))


def test_slips_are_as_large_as_they_say_and_as_many() -> None:
    playing = seen(bars(50))
    slips = plant_slips(playing, generator("a", 0, "slips"))
    assert len(slips.stroke) == 6  # 3 % of 200
    assert (np.diff(slips.stroke) > 1).all()
    off = slips.ms - playing.ms
    assert off[playing.reference[slips.stroke]] == pytest.approx(slips.amount)
    assert ((np.abs(slips.amount) >= 25) & (np.abs(slips.amount) <= 60)).all()
    assert slips.along.sum() == 3
    for stroke, amount, along in zip(slips.stroke, slips.amount, slips.along, strict=True):
        hats = playing.with_stroke == stroke
        assert hats.sum() == 1
        assert off[hats] == pytest.approx(amount if along else 0)
    slipped = np.isin(playing.stroke, slips.stroke) | np.isin(playing.with_stroke, slips.stroke)
    assert (off[~slipped] == 0).all()
    again = plant_slips(playing, generator("a", 0, "slips"))
    assert (again.ms == slips.ms).all()


def test_only_what_lies_as_usual_slips() -> None:
    playing = seen(bars(50))
    odd = playing.ms.copy()
    odd[playing.reference[:190]] += np.where(np.arange(190) // 4 % 2, 16, -16)
    slips = plant_slips(playing.at(odd), generator("a", 0, "slips"))
    assert len(slips.stroke) > 0
    assert (slips.stroke >= 190).all()


def test_no_slip_without_room() -> None:
    """Kicks 40 ms apart: a slip of 25 ms comes within 20 ms of the next, but for the last one."""
    take = drum_take([(38 * index, KICK) for index in range(300)])
    slips = plant_slips(seen(take), generator("b", 0, "slips"), np.inf)
    assert set(slips.stroke.tolist()) <= {299}


def test_hits_of_a_piece_never_change_places() -> None:
    random = np.random.default_rng(4)
    ticks = np.sort(random.choice(np.arange(0, 40000, 60), 400, replace=False))
    notes = [(int(tick), int(random.choice((KICK, SNARE, HAT)))) for tick in ticks]
    playing = seen(drum_take(notes))
    slipped = plant_slips(playing, generator("c", 0, "slips"), np.inf).ms
    loose = scatter(playing, 20, generator("c", 0, "loose"))
    for after in (slipped, loose):
        assert np.abs(after - playing.ms).max() > 20
        for piece in ("kick", "snare", "hat"):
            mine = playing.piece == piece
            assert (np.diff(after[mine][np.argsort(playing.ms[mine])]) > 0).all()


def test_a_push_comes_and_goes_in_an_eighth_of_a_bar() -> None:
    starts = np.arange(0.0, 50_000, 2000)
    pushes = plant_pushes(starts, starts, generator("d", 0, "pushes"), least=1)
    assert len(pushes.amount) == 2
    first, stop, amount = pushes.first[0], pushes.stop[0], pushes.amount[0]
    assert 22 <= abs(amount) <= 40
    assert stop - first in (2000, 4000)
    places = np.array([first - 250, first - 125, first, stop, stop + 125, stop + 250])
    shares = (pushes.at(places) - places) / amount
    assert shares == pytest.approx([0, 0.5, 1, 1, 0.5, 0])
    assert (np.diff(pushes.at(np.arange(0, 50_000.0))) > 0).all()
    assert not len(plant_pushes(starts[:8], starts[:8], generator("d", 0, "pushes")).amount)


def test_a_take_with_a_hit_elsewhere() -> None:
    """The kick on 3 goes 50 ms early; its release goes along, everything else stays."""
    take = bars(2)
    hits = take.hits()
    ms = hits.ms.copy()
    kick = int(np.flatnonzero(hits.note == KICK)[1])
    ms[kick] -= 50
    moved = with_hits_at(take, hits, ms)
    after = moved.take.hits()
    assert after.ms[np.argsort(moved.hit)] == pytest.approx(ms)
    assert (after.note == hits.note[moved.hit]).all()
    messages = [(one.type, one.note) for one in moved.take.to_mido().tracks[1] if not one.is_meta]
    assert messages.index(("note_off", KICK)) == messages.index(("note_on", KICK)) + 2
    releases = [(one.time, one.note) for one in _timed(moved.take) if one.type == "note_off"]
    assert (965 + 30 - 48, KICK) in releases
    assert (960 + 30, HAT) in releases


def _timed(take: Take) -> list:
    now, found = 0, []
    for message in take.to_mido().tracks[1]:
        now += message.time
        found.append(message.copy(time=now))
    return found


def test_a_release_stays_between_its_hit_and_the_next() -> None:
    """Kicks 100 ticks apart, released after 30; the second goes 75 ticks early."""
    take = drum_take([(480, KICK), (580, KICK)])
    hits = take.hits()
    moved = with_hits_at(take, hits, hits.ms - np.array([0, 75 / 0.96]))
    found = [(one.type, one.time) for one in _timed(moved.take) if not one.is_meta]
    assert found == [
        ("note_on", 480),
        ("note_off", 505),
        ("note_on", 505),
        ("note_off", 535),
    ]


def test_a_take_without_the_time_hand() -> None:
    take = bars(2)
    hits = take.hits()
    gone = without(take, hits, ~without_time_hand(seen(take).piece))
    assert set(gone.take.hits().note.tolist()) == {KICK, SNARE}
    assert (gone.take.hits().tick == hits.tick[gone.hit]).all()


def test_a_take_shifted_and_under_another_tempo() -> None:
    take = bars(2)
    hits = take.hits()
    late = warped(take, hits, lambda ms: ms + 100)
    assert late.take.hits().ms == pytest.approx(hits.ms[late.hit] + 100)
    other = under_tempo(take, 96.2)
    assert other.tempo.bpm == pytest.approx([96.2], abs=1e-4)
    assert other.hits().ms == pytest.approx(hits.ms, abs=1)
