"""Dates: from the TOML file, from names, from the file; and which of them counts."""

import datetime as dt
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.errors import SettingError
from evenhand.jobs.practice.dates import Said, date_in, parse_day, read_said, when_played

DAY = dt.datetime(2026, 11, 3)
EVENING = dt.datetime(2026, 11, 3, 18, 30)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("2026-11-03", DAY),
        ("take 2026-11-03 groove", DAY),
        ("20261103", DAY),
        ("take20261103b", DAY),
        ("2026_11_03", DAY),
        ("2026-11-03T18-30", EVENING),
        ("2026-11-03 18:30", EVENING),
        ("20261103T183000", EVENING),
        ("20261103-1830", EVENING),
        ("2026-11-03-12", DAY),  # the twelfth take of the day
        ("2026-11-03 9911", DAY),  # no time
        ("2026-13-03", None),
        ("2026-02-30", None),
        ("2026-02-30 then 2026-11-03", DAY),
        ("120261103", None),
        ("202611031", None),
        ("take 12 at 120 bpm", None),
        ("2026-1103", None),
        ("", None),
    ],
)
def test_dates_in_names(text: str, wanted: dt.datetime | None) -> None:
    assert date_in(text) == wanted


@given(st.datetimes(dt.datetime(1900, 1, 1), dt.datetime(2099, 12, 31)))
def test_every_iso_date_is_read(when: dt.datetime) -> None:
    when = when.replace(microsecond=0)
    assert date_in(f"take {when:%Y-%m-%d %H-%M-%S}") == when
    assert date_in(f"{when:%Y%m%d}") == dt.datetime(when.year, when.month, when.day)
    assert parse_day(when.date().isoformat()) == when.date()


def test_what_counts() -> None:
    said = Said({"week 2/b.mid": EVENING, "week 2": dt.datetime(2026, 11, 9)})
    noon = dt.datetime(2020, 1, 1, 12, tzinfo=dt.UTC).timestamp()
    assert when_played("week 2/b.mid", said, noon) == (EVENING, "practice.toml")
    assert when_played("week 2/2026-11-03.mid", said, noon)[0] == dt.datetime(2026, 11, 9)
    assert when_played("2026-11-02/2026-11-03.mid", said, noon) == (DAY, "name")
    assert when_played("2026-11-02/2026-11-03/a.mid", said, noon) == (DAY, "name")
    assert when_played("a.mid", said, noon) == (dt.datetime(2020, 1, 1, 12), "file date")


def test_toml(tmp_path: Path) -> None:
    assert read_said(tmp_path) == Said()
    (tmp_path / "practice.toml").write_text(
        '[dates]\n"a.mid" = 2026-11-03\n"b.mid" = "2026-11-03 18:30"\n'
        '"c.mid" = 2026-11-03T18:30:00\n[names]\n"a.mid" = "warm-up"\n'
    )
    said = read_said(tmp_path)
    assert said.dates == {"a.mid": DAY, "b.mid": EVENING, "c.mid": EVENING}
    assert said.names == {"a.mid": "warm-up"}


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("dates = 3", "table"),
        ("[dates]\na = 3", "such as 2026-11-03"),
        ('[dates]\na = "soon"', "such as 2026-11-03"),
        ("[names]\na = 3", "must be text"),
        ("[days]", "'days' is not known"),
        ("[dates", "is not TOML"),
        ("\0", "is not TOML"),
    ],
)
def test_toml_that_makes_no_sense(tmp_path: Path, text: str, message: str) -> None:
    (tmp_path / "practice.toml").write_text(text)
    with pytest.raises(SettingError, match=message):
        read_said(tmp_path)


@pytest.mark.parametrize("text", ["", "today", "2026-13-01", "20", "2026-11-03T10:00"])
def test_no_day(text: str) -> None:
    with pytest.raises(SettingError, match="not a day"):
        parse_day(text)
