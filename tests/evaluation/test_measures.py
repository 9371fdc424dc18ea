"""Each measure on a few hits with worked numbers."""

import numpy as np
import pytest
from tests.evaluation.score_judgement import measures
from tests.evaluation.score_judgement.heard import evener_as_heard
from tests.evaluation.score_judgement.plant import Pushes, Slips
from tests.evaluation.score_judgement.playing import Playing


def playing(ms: list[float], pieces: str, nominal: list[float] | None = None) -> Playing:
    """Pieces: k kick, s snare, h hat. Lines are every 100 ms, bars of 400 ms."""
    names = {"k": "kick", "s": "snare", "h": "hat"}
    piece = np.array([names[one] for one in pieces])
    at = np.array(ms, float)
    lines = np.rint(at / 100).astype(int) if nominal is None else np.array(nominal, int) // 100
    return Playing(
        ms=at,
        piece=piece,
        anchor=piece != "hat",
        keeper=piece == "hat",
        velocity=np.full(len(at), 100),
        line=np.unique(lines, return_inverse=True)[1],
        place=lines % 4,
        nominal=100.0 * lines,
        bar=lines // 4 + 1,
    )


@pytest.mark.parametrize(
    ("slip", "left", "strict", "lax"),
    [
        (50, 20, True, True),  # two fifths are left
        (50, 21, False, True),
        (50, 31, False, False),
        (50, -12, True, True),  # overshot by 12
        (50, -13, False, True),
        (-50, -20, True, True),
        (-50, 13, False, True),
        (25, 12, True, True),  # near to where it was
        (25, 13, False, True),
        (25, 16, False, False),
        (40, 40, False, False),
    ],
)
def test_what_is_repaired(slip: float, left: float, strict: bool, lax: bool) -> None:
    amount, remaining = np.array([slip], float), np.array([left], float)
    assert measures.repaired(amount, remaining).tolist() == [strict]
    assert measures.eased(amount, remaining).tolist() == [lax]


def test_slips_and_what_is_beside_them() -> None:
    """Kick 0 slips alone by 40, kick 2 with its hat by -30; the first hat is dragged by 7 ms."""
    one = playing([1000, 1000, 1500, 1500, 2000, 2000], "khkhkh")
    slips = Slips(
        ms=np.array([1040, 1000, 1500, 1500, 1970, 1970], float),
        stroke=np.array([0, 2]),
        amount=np.array([40.0, -30.0]),
        along=np.array([False, True]),
    )
    after = np.array([1015, 1007, 1503, 1503, 1970, 1989], float)
    found = measures.slips_mended(one, slips, after)
    assert found == {
        "repaired": (1, 2),
        "repaired lax": (1, 2),
        "repaired alone": (1, 1),
        "repaired along": (0, 1),
        "others moved": (1, 1),
        "hats steady": (0, 1),
        "hats along": (1, 1),
    }
    after[1] = 1006
    assert measures.slips_mended(one, slips, after)["hats steady"] == (1, 1)


def test_pushes_are_eased_by_half() -> None:
    """Bar 3 (800 to 1200 ms) was pushed by 30; 15 may be left. Others count from half a bar off."""
    one = playing([0, 400, 800, 1000, 1400, 2000], "kkkkkk")
    pushes = Pushes(
        knot=np.array([750.0, 800, 1200, 1250]),
        shift=np.array([0.0, 30, 30, 0]),
        first=np.array([800.0]),
        stop=np.array([1200.0]),
        amount=np.array([30.0]),
    )
    after = np.array([3, 400, 816, 1014, 1404, 2000], float)
    found = measures.pushes_eased(one, pushes, after)
    assert found == {"pushes eased": (1, 1), "others moved, pushes": (1, 3)}
    after[3] = 1015
    assert measures.pushes_eased(one, pushes, after)["pushes eased"] == (0, 1)


def test_moves_that_make_steps_evener() -> None:
    """Eight bars; kick 40 late in bar 5 comes back; snare at home in bar 6 is pulled 10 early."""
    ms = [400.0 * bar + beat for bar in range(8) for beat in (0, 200)]
    ms[8] += 40
    one = playing(ms, "ks" * 8, [400 * bar + beat for bar in range(8) for beat in (0, 200)])
    after = one.ms.copy()
    after[8] -= 30
    assert measures.evener(one, after) == (1, 1)
    after[11] -= 10
    assert measures.evener(one, after) == (1, 2)
    assert measures.evener(one, one.ms - 30) == (0, 0)  # all at once: no step has changed
    assert measures.moved_strokes(one, after).tolist() == [i in (8, 11) for i in range(16)]


def test_thrown_hats() -> None:
    """A hat goes 16 ms out of the middle of its neighbours, which go 8 ms out of theirs."""
    one = playing([0, 100, 200, 300, 400, 500], "hhhhhh")
    after = one.ms.copy()
    after[2] += 16
    assert measures.thrown(one, after) == (1, 4)
    after[2] -= 1
    assert measures.thrown(one, after) == (0, 4)
    # What stood out and comes back is not thrown.
    assert measures.thrown(one.at(after + 30 * (np.arange(6) == 2)), one.ms) == (0, 4)


def test_the_largest_moves_are_listed() -> None:
    """Of moves by 60, 50, 40, 30 and 10 the first three count; of 60, 26 and 25 two do."""
    one = playing([0, 200, 400, 600, 800], "kkkkk")
    after = one.ms + np.array([60, -50, 10, 40, 30])
    assert measures.large_listed(one, after, np.array([0, 4])) == (1, 3)
    assert measures.large_listed(one, after, np.array([0, 1, 3])) == (3, 3)
    after = one.ms + np.array([60, -26, 0, 25, 0])
    assert measures.large_listed(one, after, np.array([], int)) == (0, 2)


def test_the_same_decisions() -> None:
    one = playing([0, 0, 200, 400], "khkk")
    shift, other = np.array([0.0, 50, 10, -6]), np.array([5.0, 0, 4, -6])
    assert measures.same_decisions(one, shift, other) == (2, 3)


def test_the_spread_around_the_usual_places() -> None:
    one = playing([0.0, 400, 800, 1200], "kkkk")
    scattered = one.ms + np.array([20, -20, 20, -20])
    after = one.ms + np.array([10, -10, 10, -10])
    assert measures.spread_ratio(one, scattered, after) == pytest.approx(0.5)


def test_intervals_as_heard_one_stroke_after_the_other() -> None:
    """A kick on the third eighth of bars of 400 ms, hats beside it; bar 3 is 40 ms late."""
    rows = [(400.0 * bar + at, piece) for bar in range(8) for at, piece in ((0, "h"), (100, "h"))]
    rows += [(400.0 * bar + 200 + (40 if bar == 3 else 0), "k") for bar in range(8)]
    rows.sort()
    one = playing([ms for ms, _ in rows], "".join(piece for _, piece in rows))
    (late,) = np.flatnonzero((one.ms == 1440) & one.anchor)
    for shift, good in ((-30.0, 1), (20.0, 0), (-90.0, 0)):
        after = one.ms.copy()
        after[late] += shift
        assert evener_as_heard(one, after, 400.0) == ((good, 1), (good, 1))
    assert evener_as_heard(one, one.ms, 400.0) == ((0, 0), (0, 0))


def test_strokes_that_move_alike_are_one_move() -> None:
    """Bars 3 and 4 are 30 ms late as a whole and taken back: the outer intervals change."""
    rows = [(400.0 * bar + at, "k") for bar in range(9) for at in (0, 200)]
    late = [(ms + (30 if 1200 <= ms < 2000 else 0), piece) for ms, piece in rows]
    one = playing([ms for ms, _ in late], "k" * len(late))
    pushed = (one.ms >= 1200) & (one.ms < 2000)
    after = np.where(pushed, one.ms - 24, one.ms)
    assert evener_as_heard(one, after, 400.0) == ((2, 2), (1, 1))
    # Taken further: the wrong way at both ends.
    after = np.where(pushed, one.ms + 24, one.ms)
    assert evener_as_heard(one, after, 400.0) == ((0, 2), (0, 1))
