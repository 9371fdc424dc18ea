"""The main path once in Firefox and once in WebKit."""

from pathlib import Path

import pytest
from tests.review.client import review
from tests.review.main_path import walk
from tests.web import firefox, webkit

from evenhand.jobs.demo_take import demo_take

pytestmark = pytest.mark.apart


@pytest.fixture
def take(tmp_path: Path) -> Path:
    path = tmp_path / "take.mid"
    path.write_bytes(demo_take())
    return path


@pytest.mark.skipif(bool(firefox.missing()), reason=firefox.missing())
def test_in_firefox(take: Path) -> None:
    with review(take) as server, firefox.browser() as page:
        page.open(server.address)
        walk(page.run, page.press, take)


@pytest.mark.skipif(bool(webkit.missing()), reason=webkit.missing())
def test_in_webkit(take: Path) -> None:
    with review(take) as server, webkit.browser() as page:
        page.open(server.address)
        walk(page.run, page.press, take)
