"""A take in one picture: what is in it, and the file that it becomes."""

import math
import re
import sys
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from tests.build import HAT, KICK, SNARE, drum_take, plain_recipe
from tests.commands import run

from evenhand import Take, assess, tighten
from evenhand.errors import SettingError
from evenhand.jobs.demo_take import demo_take
from evenhand.picture import Shown, draw, need_drawing, show_assessment, show_result
from evenhand.web import page_colours

pytest.importorskip("matplotlib")

_BAR = 1920


def _straight(bars: int, late: int = 0) -> Take:
    """Hats in eighths with kick and snare; the kick of bar 2 is `late` ticks late."""
    notes = []
    for bar in range(bars):
        notes += [(bar * _BAR + step * 240, HAT) for step in range(8)]
        notes += [
            (bar * _BAR + (late if bar == 1 else 0), KICK),
            (bar * _BAR + 480, SNARE),
            (bar * _BAR + 960, KICK),
            (bar * _BAR + 1440, SNARE),
        ]
    return drum_take(notes)


@cache
def _demo() -> Shown:
    return show_result(tighten(Take.from_bytes(demo_take(), "kettle-weather.mid")))


def test_deviations_before_and_after_by_their_bars() -> None:
    take = _straight(4, late=48)  # 50 ms at 120 bpm
    shown = show_result(tighten(take, plain_recipe(strength=50)))
    far = np.flatnonzero(np.abs(shown.before) > 1)
    assert len(shown.piece) == 16
    assert (shown.piece[far].tolist(), shown.bar[far].tolist()) == (["kick"], [2.0])
    assert shown.before[far].tolist() == pytest.approx([50])
    # Half of what is beyond the line goes.
    assert shown.after[far].tolist() == pytest.approx([25], abs=1)
    assert sorted({*(shown.bar % 1)}) == [0, 0.25, 0.5, 0.75]
    assert shown.tightened


def test_an_assessment_has_no_after() -> None:
    shown = show_assessment(assess(_straight(4, late=48), plain_recipe()))
    assert not shown.tightened
    assert np.isnan(shown.after).all()
    assert shown.before.max() == pytest.approx(50)
    assert all(math.isnan(one.after) for one in shown.even)


def test_the_habit_has_pieces_by_places() -> None:
    take = _straight(8)
    habits = show_assessment(assess(take)).habits
    assert habits is not None
    assert habits.piece.tolist() == ["hat", "kick", "snare"]
    assert habits.beat.tolist() == [1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5]
    assert np.isfinite(habits.ms[0]).all()
    assert np.flatnonzero(np.isfinite(habits.ms[1])).tolist() == [0, 4]
    assert show_assessment(assess(drum_take([(0, KICK), (480, SNARE)]))).habits is None


def test_a_wavering_hat_is_less_even() -> None:
    even = show_assessment(assess(_straight(8), plain_recipe())).even
    assert [(one.piece, one.before) for one in even] == [("hat", pytest.approx(0, abs=0.01))]
    notes = [(tick + 10 * (tick % 480 == 0), HAT) for tick in range(0, 8 * _BAR, 240)]
    (wavers,) = show_assessment(assess(drum_take(notes), plain_recipe())).even
    # Intervals are by turns 10 ticks longer and shorter: 10.4 ms.
    assert wavers.before == pytest.approx(10 / 0.96, rel=0.01)


def test_sections_and_hats_of_the_demo() -> None:
    shown = _demo()
    assert shown.label[:3] == ("count-in", "intro", "verse 1")
    assert shown.first_bar[:3].tolist() == [1, 2, 10]
    assert {one.section for one in shown.even} < {*shown.label}
    # The hats of the demo keep their own time.
    assert all(one.after == pytest.approx(one.before, abs=0.3) for one in shown.even)


def test_the_same_in_the_same_bytes_out() -> None:
    assert draw(_demo(), Path("a.svg")) == draw(_demo(), Path("b.svg"))


def test_an_svg_has_the_colours_of_the_page() -> None:
    drawn = draw(_demo(), Path("a.svg"))
    assert ElementTree.fromstring(drawn).tag == "{http://www.w3.org/2000/svg}svg"
    for name in ("kick", "snare", "stick", "before", "after"):
        assert page_colours()[name].encode() in drawn


def test_a_png_is_one() -> None:
    assert draw(_demo(), Path("a.PNG")).startswith(b"\x89PNG\r\n\x1a\n")


def test_what_can_t_be_told_is_said() -> None:
    take = Take.from_bytes(drum_take([(0, KICK)]).to_bytes(), "$\\frac$ \x1b é 鼓.mid")
    for shown in (show_assessment(assess(take)), show_result(tighten(take))):
        assert shown.habits is None
        assert shown.even == ()
        assert draw(shown, Path("a.svg"))


def test_page_colours_are_those_of_the_light_page() -> None:
    assert page_colours()["paper"] == "#ffffff"
    assert all(re.fullmatch("#[0-9a-f]{6}", one) for one in page_colours().values())


def test_what_can_t_be_drawn_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(SettingError, match=r"end in \.png or \.svg"):
        need_drawing(Path("a.gif"))
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    with pytest.raises(SettingError, match=r"pip install 'evenhand\[picture\]'"):
        need_drawing(Path("a.svg"))


@pytest.mark.parametrize("command", ["assess", "tighten"])
def test_pictures_of_commands(command: str, tmp_path: Path) -> None:
    (tmp_path / "take.mid").write_bytes(demo_take())
    done = run(command, "take.mid", "--picture", "take.svg", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"take.svg" in done.stdout
    assert ElementTree.parse(tmp_path / "take.svg").getroot().tag.endswith("svg")
    before = sorted(path.name for path in tmp_path.iterdir())
    again = run(command, "take.mid", "--picture", "take.svg", cwd=tmp_path)
    assert (again.returncode, again.stderr.count(b"\n")) == (1, 1)
    assert b"take" in again.stderr
    assert b"exists" in again.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == before


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        ("assess take.mid --picture take.gif", 2, "end in .png or .svg"),
        ("tighten take.mid --picture take.mid", 2, "end in .png or .svg"),
        ("assess take.mid take.mid --picture a.png", 2, "--picture shows one take"),
        ("tighten take.mid --picture no/a.png", 1, "does not exist"),
    ],
)
def test_refusals(tmp_path: Path, words: str, code: int, says: str) -> None:
    (tmp_path / "take.mid").write_bytes(demo_take())
    done = run(*words.split(), cwd=tmp_path)
    assert (done.returncode, done.stderr.count(b"\n")) == (code, 1)
    assert says.encode() in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["take.mid"]


def test_without_the_library_nothing_is_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    (tmp_path / "take.mid").write_bytes(demo_take())
    for command in ("assess", "tighten"):
        done = run(command, "take.mid", "--picture", "a.png", cwd=tmp_path)
        assert (done.returncode, done.stdout) == (1, b"")
        assert b"pip install 'evenhand[picture]'" in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["take.mid"]
