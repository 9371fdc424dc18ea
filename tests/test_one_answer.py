"""One answer to each question: assessment, summary and page say the same."""

from pathlib import Path

import pytest

from evenhand import Recipe, Take, assess, read_take, tighten
from evenhand.jobs.demo_take import demo_take
from evenhand.listen.pair import compare
from evenhand.listen.shown_sections import read_sections
from evenhand.outcome.changes import REASONS
from evenhand.paper.assessment_data import assessment_json
from evenhand.paper.summary import as_json

RECIPES = (Recipe(), Recipe(window=30, fills="tight", lean=0), Recipe(grid="1/16", reach=60))


def _agree(take: Take, recipe: Recipe) -> None:
    found, result = assess(take, recipe), tighten(take, recipe)
    said, summed = assessment_json(found), as_json(result)
    assert said["bars"] == summed["bars"]
    views = found.sections or (found.whole,)
    page = read_sections(compare(result), 1e9)
    bars = [(one.first_bar, one.last_bar) for one in page]
    if found.sections:
        assert [(one.first_bar, one.last_bar) for one in views] == bars
        assert [one.label for one in views] == [one.name for one in page]
    for view, kept, shown in zip(views, result.kept, page, strict=True):
        if view.anchors.lined:
            assert kept.lean.before == view.anchors.lean
            assert shown.lean_before == view.anchors.lean
            assert kept.spread.before == view.anchors.spread
            assert shown.lean_after == kept.lean.after
        else:
            assert shown.lean_before is None


@pytest.mark.parametrize("recipe", RECIPES)
def test_assessment_summary_and_page_agree_on_the_demo(recipe: Recipe) -> None:
    _agree(Take.from_bytes(demo_take(), "demo"), recipe)


def test_they_agree_on_real_takes(takes: list[Path]) -> None:
    for path in takes[::18]:
        for recipe in RECIPES:
            _agree(read_take(path), recipe)


def test_outliers_are_ranked_by_what_is_shown(takes: list[Path]) -> None:
    for path in takes[::18]:
        said = assessment_json(assess(read_take(path)))
        shown = [abs(one["from_lean_ms"]) for one in said["outliers"]]
        assert shown == sorted(shown, reverse=True)


def test_no_reason_holds_a_comma() -> None:
    reasons = [reason for some in REASONS.values() for reason in some]
    assert len(reasons) > 20
    assert [reason for reason in reasons if "," in reason] == []
