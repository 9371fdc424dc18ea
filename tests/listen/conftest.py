"""Fixtures for the listening page."""

from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def demo_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of the demo take, with the take beside it."""
    from tests.listen.pages import make_page

    from evenhand.jobs.demo_take import demo_take

    folder = tmp_path_factory.mktemp("demo")
    return make_page(folder, demo_take(), name="kettle-weather.mid")
