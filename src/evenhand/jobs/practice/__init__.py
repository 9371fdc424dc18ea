"""Practice takes over days: figures of each, and how they run."""

from evenhand.jobs.practice.dates import parse_day
from evenhand.jobs.practice.demo_days import demo_series
from evenhand.jobs.practice.gather import gather
from evenhand.jobs.practice.measuring import measure_all
from evenhand.jobs.practice.output import check_output, write_listening, write_output
from evenhand.jobs.practice.report import make_report
from evenhand.jobs.practice.wording import as_json, page

__all__ = [
    "as_json",
    "check_output",
    "demo_series",
    "gather",
    "make_report",
    "measure_all",
    "page",
    "parse_day",
    "write_listening",
    "write_output",
]
