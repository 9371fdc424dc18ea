"""The guide names everything that is measured and written."""

from pathlib import Path

from evenhand.jobs.practice.csv_files import COLUMNS
from evenhand.jobs.practice.measures import MEASURES
from evenhand.jobs.practice.output import file_names
from evenhand.jobs.practice.take_figures import LIMBS

GUIDE = Path(__file__).parents[3] / "docs" / "practice.md"


def test_every_measure_column_and_file_is_documented() -> None:
    text = GUIDE.read_text("utf-8")
    columns = {column for table in COLUMNS.values() for column in table}
    for name in (*(measure.key for measure in MEASURES), *columns, *file_names()):
        assert f"`{name}`" in text, name
    for limb in LIMBS:
        assert limb in text
