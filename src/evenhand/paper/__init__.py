"""What is written down: change log, summary, tables."""

from evenhand.paper.advice import advice_toml
from evenhand.paper.assessment import assessment_page
from evenhand.paper.assessment_data import assessment_csv, assessment_json, many_page
from evenhand.paper.change_log import change_log
from evenhand.paper.csv_table import csv_bytes, csv_lines
from evenhand.paper.fit_page import fit_json, fit_page
from evenhand.paper.grid_words import grid_name
from evenhand.paper.habit_words import compared_json, compared_page, habit_json, habit_page
from evenhand.paper.kit_table import kit_page, list_notes
from evenhand.paper.marks import (
    KINDS,
    LISTEN,
    RATE,
    Mark,
    list_marks,
    markers_csv,
    markers_mid,
    marks_of,
)
from evenhand.paper.settled import settled_toml
from evenhand.paper.summary import as_json, summary, whole_part
from evenhand.paper.terminal import Facts, Page, Table, printable, show
from evenhand.paper.words import counted, many, meter_words, tempo_words

__all__ = [
    "KINDS",
    "LISTEN",
    "RATE",
    "Facts",
    "Mark",
    "Page",
    "Table",
    "advice_toml",
    "as_json",
    "assessment_csv",
    "assessment_json",
    "assessment_page",
    "change_log",
    "compared_json",
    "compared_page",
    "counted",
    "csv_bytes",
    "csv_lines",
    "fit_json",
    "fit_page",
    "grid_name",
    "habit_json",
    "habit_page",
    "kit_page",
    "list_marks",
    "list_notes",
    "many",
    "many_page",
    "markers_csv",
    "markers_mid",
    "marks_of",
    "meter_words",
    "printable",
    "settled_toml",
    "show",
    "summary",
    "tempo_words",
    "whole_part",
]
