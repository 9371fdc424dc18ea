"""Many takes: each tightened by itself, with one table over all."""

from evenhand.jobs.batch.inputs import SUFFIXES, Inputs, Source, find_takes, in_shard, parse_shard
from evenhand.jobs.batch.order import AS_BEFORE, DONE, FAILED, TO_DO, BatchSettings, Outcome
from evenhand.jobs.batch.rows import Row
from evenhand.jobs.batch.run import look_ahead, run_batch

__all__ = [
    "AS_BEFORE",
    "DONE",
    "FAILED",
    "SUFFIXES",
    "TO_DO",
    "BatchSettings",
    "Inputs",
    "Outcome",
    "Row",
    "Source",
    "find_takes",
    "in_shard",
    "look_ahead",
    "parse_shard",
    "run_batch",
]
