"""How long a certificate holds, held against another package's arithmetic of the calendar."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st
from tiny_class import Room

from labkit.classroom.validity import read_validity, valid_until
from labkit.language.problems import DefinitionError


@given(
    st.dates(date(1900, 1, 1), date(2900, 12, 31)),
    st.integers(1, 999),
    st.sampled_from(["day", "month", "year"]),
)
def test_months_and_years_are_those_of_the_calendar(day: date, number: int, unit: str) -> None:
    span = relativedelta(**{f"{unit}s": number})
    assert valid_until(f"{number} {unit}s", day) == day + span


@pytest.mark.parametrize(
    ("day", "span", "last"),
    [
        ("2027-01-31", "1 month", "2027-02-28"),
        ("2028-01-31", "1 month", "2028-02-29"),
        ("2028-02-29", "1 year", "2029-02-28"),
        ("2028-02-29", "4 years", "2032-02-29"),
        ("2026-11-30", "24 months", "2028-11-30"),
        ("2026-12-31", "2 months", "2027-02-28"),
        ("2026-10-31", "1 month", "2026-11-30"),
        ("2026-11-27", "2028-01-01", "2028-01-01"),
    ],
)
def test_ends_of_months(day: str, span: str, last: str) -> None:
    assert valid_until(span, date.fromisoformat(day)).isoformat() == last


def test_the_end_of_the_calendar_is_no_day_after_it() -> None:
    for span in ("9999 years", "9999 months"):
        with pytest.raises(OverflowError):
            valid_until(span, date(9999, 12, 1))
    with pytest.raises(OverflowError):
        valid_until("40 days", date.max - timedelta(days=1))


def test_what_is_no_length_of_time_says_how_to_write_one(room: Room) -> None:
    assert read_validity(" 24   months ") == "24 months"
    for wrong in ("0 months", "two years", "24", "-1 year", "2028-02-30", "1.5 years", "00 days"):
        room.write_class(valid_for=f"'{wrong}'")
        with pytest.raises(DefinitionError, match="24 months"):
            _ = room.folder
