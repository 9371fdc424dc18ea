"""Every pass on record: the store and its lock."""

from evenhand.passes.again import original_of, output_of, verify
from evenhand.passes.entry import DETAILS, ORIGINAL, RECIPE, Pass, as_line, clean
from evenhand.passes.keeping import Draft, record
from evenhand.passes.listing import list_page, pass_page, proof_page, recipe_changes
from evenhand.passes.lock import locked
from evenhand.passes.store import (
    SUFFIX,
    History,
    find_folder,
    folder_beside,
    parsed_json,
    read_file,
    read_history,
    sha256,
)

__all__ = [
    "DETAILS",
    "ORIGINAL",
    "RECIPE",
    "SUFFIX",
    "Draft",
    "History",
    "Pass",
    "as_line",
    "clean",
    "find_folder",
    "folder_beside",
    "list_page",
    "locked",
    "original_of",
    "output_of",
    "parsed_json",
    "pass_page",
    "proof_page",
    "read_file",
    "read_history",
    "recipe_changes",
    "record",
    "sha256",
    "verify",
]
