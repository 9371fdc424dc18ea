"""Trigger data: a take with every misfire taken out, mapped and timed to the sample."""

from evenhand.jobs.triggers.clean import LONGEST_MS, Cleaning
from evenhand.jobs.triggers.doubles import MASK_MS
from evenhand.jobs.triggers.make_ready import Prepared, TriggerSettings, prepare, velocities_of
from evenhand.jobs.triggers.noisy_demo import NOISY_NAME, noisy_take
from evenhand.jobs.triggers.out_folder import is_ours, write_folder
from evenhand.jobs.triggers.per_piece import parse_dials
from evenhand.jobs.triggers.shape import Shape
from evenhand.jobs.triggers.target import load_target
from evenhand.jobs.triggers.trigger_words import as_json, page

__all__ = [
    "LONGEST_MS",
    "MASK_MS",
    "NOISY_NAME",
    "Cleaning",
    "Prepared",
    "Shape",
    "TriggerSettings",
    "as_json",
    "is_ours",
    "load_target",
    "noisy_take",
    "page",
    "parse_dials",
    "prepare",
    "velocities_of",
    "write_folder",
]
