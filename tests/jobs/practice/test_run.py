"""Measuring many takes: a bad one fails alone, and processes change nothing."""

import os
from pathlib import Path

import pytest

from evenhand.jobs.practice import measuring as run
from evenhand.jobs.practice.demo_days import demo_series
from evenhand.jobs.practice.gather import Found, Gathered, gather
from evenhand.jobs.practice.measuring import Played, measure_all
from evenhand.jobs.practice.output import file_names, write_output
from evenhand.jobs.practice.report import make_report
from evenhand.recipe import Recipe


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Gathered:
    """The demo twice over, and two bad files: enough for processes to be worth it."""
    folder = tmp_path_factory.mktemp("many")
    for name, data in demo_series().items():
        (folder / name).write_bytes(data)
        if name.endswith(".mid"):
            (folder / f"again {name}").write_bytes(data)
    (folder / "2026-09-05 torn.mid").write_bytes(demo_series()["without the click.mid"][:99])
    (folder / "2026-09-05 text.mid").write_bytes(b"no music")
    (folder / "again without the click.mid").unlink()
    return gather([folder])


@pytest.fixture(scope="module")
def alone(many: Gathered) -> list[Played]:
    return measure_all(many.takes, Recipe(), 20, workers=1)


def test_a_bad_file_fails_alone(alone: list[Played]) -> None:
    bad = {one.found.name: one.reason for one in alone if not one.figures}
    assert set(bad) == {"2026-09-05 torn.mid", "2026-09-05 text.mid"}
    assert all(reason and "2026-09-05" not in reason for reason in bad.values())


def test_files_are_the_same_with_any_number_of_processes(
    many: Gathered, alone: list[Played], tmp_path: Path
) -> None:
    assert len(many.takes) >= run._WORTH_IT
    told: list[int] = []
    together = measure_all(many.takes, Recipe(), 20, workers=3, tell=lambda: told.append(1))
    assert len(told) == len(many.takes)
    for name, played in (("alone", alone), ("together", together)):
        write_output(make_report(many, played), tmp_path / name, overwrite=False)
    for name in file_names():
        one, other = tmp_path / "alone" / name, tmp_path / "together" / name
        assert one.read_bytes() == other.read_bytes()


def _die_of_one(found: Found, recipe: Recipe, width: int) -> Played:
    if found.name == "2026-09-05 text.mid":
        os._exit(3)
    return Played(found, None, "measured")


def test_a_take_that_ends_its_process_fails_alone(
    many: Gathered, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(run, "measure_one", _die_of_one)
    played = measure_all(many.takes, Recipe(), 20, workers=2)
    reasons = {one.found.name: one.reason for one in played}
    assert "died" in reasons.pop("2026-09-05 text.mid")
    assert set(reasons.values()) == {"measured"}
    assert [one.found for one in played] == list(many.takes)
