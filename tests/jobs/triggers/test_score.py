"""The cleaning on real takes with planted faults: the figures that it has to reach."""

from collections import Counter
from pathlib import Path

import pytest
from tests.evaluation.score_triggers import HALVES, f_measure, score, wrongly

from evenhand.jobs.triggers.clean import CROSSTALK, DOUBLE


@pytest.fixture(scope="module")
def counts(takes: list[Path]) -> dict[str, Counter[str]]:
    return score(takes, seeds=2)


@pytest.mark.parametrize("half", HALVES)
def test_faults_are_found(counts: dict[str, Counter[str]], half: str) -> None:
    for reason, least in ((DOUBLE, 0.97), (CROSSTALK, 0.95)):
        assert counts[half][f"{reason} planted"] > 1000
        assert f_measure(counts[half], reason)[2] >= least


@pytest.mark.parametrize("half", HALVES)
def test_real_hits_stay(counts: dict[str, Counter[str]], half: str) -> None:
    assert counts[half]["clean hits"] > 50_000
    assert wrongly(counts[half], "clean") <= 0.2
    assert wrongly(counts[half], "real") <= 0.2
