"""Whatever the take: every hit is left or removed, and what is left comes back as it was."""

import csv
import io

from hypothesis import given, settings
from hypothesis import strategies as st
from tests.random_takes import RandomTake, random_takes

from evenhand import Recipe, Take, tighten
from evenhand.jobs.triggers.clean import Cleaning
from evenhand.jobs.triggers.hit_tables import hits_csv, removed_csv
from evenhand.jobs.triggers.make_ready import TriggerSettings, prepare
from evenhand.jobs.triggers.target import load_target
from evenhand.kit.maps import KIT_MAPS

MAPS = [None, load_target("gm", KIT_MAPS["ekit"])]


def _rows(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode())))


@settings(deadline=None)
@given(random_takes(), st.sampled_from(MAPS), st.sampled_from([44_100, 48_000, 96_000]))
def test_every_hit_is_accounted_for(random: RandomTake, to: object, rate: int) -> None:
    take = Take.from_bytes(random.to_bytes())
    prepared = prepare(take, Recipe(), TriggerSettings(to=to, rate=rate, merge=True))
    left, gone = _rows(hits_csv(prepared)), _rows(removed_csv(prepared))
    hits = take.hits()
    numbers = sorted(int(row["hit"]) for row in [*left, *gone])
    assert numbers == list(range(1, len(hits) + 1))
    again = Take.from_bytes(prepared.midi())
    written = again.hits()
    assert written.tick.tolist() == prepared.sheet.hits.tick.tolist()
    assert written.note.tolist() == [int(row["note"]) for row in left]
    assert written.velocity.tolist() == [int(row["velocity"]) for row in left]
    for row, ms in zip(left, written.ms, strict=True):
        assert abs(float(row["seconds"]) * 1000 - ms) < 1e-3
        assert abs(float(row["seconds"]) * rate - int(row["sample"])) <= 0.5 + 1e-9 * rate
    pieces = [len(Take.from_bytes(prepared.midi(piece)).hits()) for piece in prepared.pieces]
    assert sum(pieces) == len(left)


@settings(deadline=None)
@given(random_takes())
def test_without_cleaning_tightening_is_the_tighteners(random: RandomTake) -> None:
    take = Take.from_bytes(random.to_bytes())
    as_played = Cleaning(doubles=False, crosstalk=False)
    prepared = prepare(take, Recipe(), TriggerSettings(cleaning=as_played, tighten=True))
    expected = tighten(take).changes
    tick = expected.tick_after[prepared.sheet.number - 1]
    # In a merged track hits at one tick may stand in another order, which is the stroke's order.
    assert sorted(prepared.sheet.hits.tick.tolist()) == sorted(tick.tolist())
