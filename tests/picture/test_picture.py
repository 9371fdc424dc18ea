"""Pictures: what they show, the same each time, and what is said without matplotlib."""

import io
import re
import sys
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.image import imread
from tests.build import HAT, KICK, SNARE, drum_take
from typer.testing import CliRunner

import evenhand
from evenhand import Recipe, SettingError, Take, assess, tighten
from evenhand.cli.app import app
from evenhand.jobs.demo_take import demo_take
from evenhand.picture import draw, overview_of
from evenhand.picture.colours import AFTER, BEFORE, FAMILIES, GRID, INK, QUIET

_STYLE = Path(evenhand.__file__).parent / "web" / "page" / "style.css"


@pytest.fixture(scope="module")
def demo() -> Take:
    return Take.from_bytes(demo_take(), "demo.mid")


def test_the_colours_are_those_of_the_pages() -> None:
    light = _STYLE.read_text(encoding="utf-8").partition("@media")[0]
    page = dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6});", light))
    names = ("kick", "snare", "stick", "hat", "cymbal", "tom", "other")
    assert [colour for _, colour, *_ in FAMILIES] == [page[name] for name in names]
    here = (INK, QUIET, GRID, BEFORE, AFTER)
    assert here == tuple(page[name] for name in ("ink", "quiet", "grid", "before", "after"))


def test_a_sheet_holds_what_was_played_and_what_came_of_it() -> None:
    # Eight bars; the second kick of bar 3 is 48 ms late and moves, the hats stay.
    notes = [(240 * step, HAT) for step in range(64)]
    notes += [(960 * half, SNARE if half % 2 else KICK) for half in range(16)]
    late = [(tick + 46 * (note == KICK and tick == 5760), note) for tick, note in notes]
    result = tighten(drum_take(sorted(late)), Recipe(grid="1/8", sections="none"))
    sheet = overview_of(result.ground, "late", result.changes)
    moved = np.flatnonzero(sheet.before != sheet.after)
    assert sheet.piece[moved].tolist() == ["kick"]
    assert sheet.bar[moved] == pytest.approx([4.02], abs=0.01)
    assert sheet.before[moved] == pytest.approx([47.9], abs=0.1)
    assert sheet.passed
    assert not overview_of(result.ground, "late").passed
    assert sheet.table.piece == ("hat", "kick", "snare")
    assert sheet.table.beat.tolist() == [1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5]
    assert np.isnan(sheet.table.ms[1]).tolist() == [False, *[True] * 7]
    assert sheet.even.startswith("hat: 0.0 ms from step to step before")
    assert len(sheet.even_bar) == 8
    assert sheet.even_before.max() < 0.1


@pytest.mark.parametrize("ending", [".png", ".svg"])
def test_a_picture_is_whole_and_the_same_each_time(demo: Take, ending: str) -> None:
    result = tighten(demo)
    sheet = overview_of(result.ground, "demo.mid", result.changes)
    data = draw(sheet, ending)
    assert data == draw(sheet, ending)
    if ending == ".png":
        pixels = imread(io.BytesIO(data))
        assert pixels.shape[:2] == (960, 1440)
        assert len(np.unique((pixels[..., :3] * 255).astype(int).reshape(-1, 3), axis=0)) > 50
    else:
        ElementTree.fromstring(data)


def test_what_a_file_is_called_is_text_and_no_formula(demo: Take) -> None:
    sheet = overview_of(assess(demo).ground, "$\\frac{1}{$ <b>\x1b[31m")
    assert b"<b>" not in draw(sheet, ".svg")


def test_a_take_of_a_few_hits_is_drawn_too() -> None:
    few = drum_take([(0, KICK), (480, SNARE)])
    assert draw(overview_of(assess(few).ground, "few"), ".png").startswith(b"\x89PNG")


def test_another_ending_is_refused(demo: Take) -> None:
    with pytest.raises(SettingError, match=r"ends in \.png or \.svg, not in \.gif"):
        draw(overview_of(assess(demo).ground, "demo"), ".gif")


def test_without_matplotlib_it_says_what_to_install(
    demo: Take, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    with pytest.raises(SettingError, match=r"pip install 'evenhand\[picture\]'"):
        draw(overview_of(assess(demo).ground, "demo"), ".png")


def test_both_commands_draw(tmp_path: Path) -> None:
    take = tmp_path / "demo.mid"
    take.write_bytes(demo_take())
    run = CliRunner().invoke
    done = run(app, ["assess", str(take), "--picture", str(tmp_path / "as-it-is.svg")])
    assert done.exit_code == 0, done.output
    done = run(app, ["tighten", str(take), "--no-record", "--picture", str(tmp_path / "pass.png")])
    assert done.exit_code == 0, done.output
    made = {path.name for path in tmp_path.iterdir()}
    assert {"as-it-is.svg", "pass.png", "demo-tight.mid"} <= made
    again = run(app, ["assess", str(take), "--picture", str(tmp_path / "as-it-is.svg")])
    assert again.exit_code == 1
    several = run(app, ["assess", str(take), str(take), "--picture", str(tmp_path / "x.svg")])
    assert several.exit_code == 2
