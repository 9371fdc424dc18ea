"""What the table of settings says of itself: for docs, docstrings and pages."""

from evenhand.recipe import SETTINGS, page_fields, settings_table
from evenhand.recipe.reference import attributes


def _row(name: str) -> list[str]:
    (line,) = (one for one in settings_table().splitlines() if one.startswith(f"| `{name}` |"))
    return [cell.strip() for cell in line.strip("|").split(" | ")]


def test_every_setting_is_a_row() -> None:
    lines = settings_table().splitlines()
    assert len(lines) == len(SETTINGS) + 2
    assert [line.split("`")[1] for line in lines[2:]] == list(SETTINGS)


def test_defaults_and_ranges_are_written_as_people_write_them() -> None:
    assert _row("strength")[1:4] == ["`75`", "0 to 100 percent", "yes"]
    assert _row("window")[1:3] == ['`"auto"`', "0 ms or more, or `auto`"]
    assert _row("anchor")[1] == '`["kick", "snare", "side stick"]`'
    assert _row("fills")[2] == "`loose`, `tight`, `as-played`"
    assert _row("channel")[1:4] == ["10, or the only one", "1 to 16", ""]
    assert "Options: `--for-audio`." in _row("for_audio")[4]
    assert any("Needs `" in _row(name)[4] for name in SETTINGS)


def test_attributes_of_a_docstring() -> None:
    text = attributes([SETTINGS["strength"], SETTINGS["kit"]])
    assert text.startswith("Attributes\n    ----------\n    strength : float\n")
    assert "Range: 0 to 100 percent." in text
    assert all(len(line) <= 100 for line in text.splitlines())
    # A setting without a range says none.
    assert "Range" not in text.split("kit : ")[1]


def test_fields_of_a_page() -> None:
    fields = {one["name"]: one for one in page_fields()}
    assert list(fields) == list(SETTINGS)
    strength, window, fills = fields["strength"], fields["window"], fields["fills"]
    assert (strength["low"], strength["high"], strength["unit"]) == (0, 100, "percent")
    assert (window["high"], window["default"], window["choices"]) == (None, "auto", ["auto"])
    assert (fills["kind"], fills["low"]) == ("choice", None)
    assert fields["anchor"]["default"] == ["kick", "snare", "side stick"]
    assert (fields["grid"]["usual"], fields["reach"]["usual"]) == (True, False)
