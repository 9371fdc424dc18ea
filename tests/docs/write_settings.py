"""Write the reference of the settings in docs/files.md anew from their table.

python -m tests.docs.write_settings
"""

from pathlib import Path

from evenhand.recipe import settings_table

PAGE = Path(__file__).parents[2] / "docs" / "files.md"
BEGIN, END = "<!-- settings: made by tests.docs.write_settings -->\n", "<!-- settings end -->\n"


def with_settings(text: str, table: str) -> str:
    """The page with a table between its marks."""
    before, rest = text.split(BEGIN)
    _, after = rest.split(END)
    return f"{before}{BEGIN}\n{table}\n{END}{after}"


if __name__ == "__main__":
    PAGE.write_text(with_settings(PAGE.read_text("utf-8"), settings_table()), "utf-8")
