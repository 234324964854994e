"""How long a certificate holds: the calendar's arithmetic, and how `class.yaml` says it."""

from __future__ import annotations

import re
from calendar import monthrange
from datetime import date, timedelta
from typing import Final

_SPAN: Final = re.compile(r"(\d{1,4}) (day|month|year)s?")
_MONTHS: Final = {"month": 1, "year": 12}


def read_validity(text: str) -> str:
    """What `valid_for` says, spelt in one way. Raises `ValueError` with a mend."""
    plain = " ".join(text.split())
    span = _SPAN.fullmatch(plain)
    if span and int(span[1]):
        return plain
    try:
        if span or len(plain) != len("2028-11-30"):
            raise ValueError
        return date.fromisoformat(plain).isoformat()
    except ValueError:
        raise ValueError(
            f"'{text}' is not how long a certificate holds; write for example 24 months, 2 years, "
            "90 days, or the last day, 2028-11-30"
        ) from None


def valid_until(valid_for: str, day: date) -> date:
    """The last day on which a certificate of that day holds.

    Months are counted in the calendar: from the 31st it is the last day of a month that has none.
    Raises `OverflowError` past the end of the calendar.
    """
    span = _SPAN.fullmatch(valid_for)
    if span is None:
        return date.fromisoformat(valid_for)
    number = int(span[1])
    if span[2] == "day":
        return day + timedelta(days=number)
    years, month = divmod(day.month - 1 + number * _MONTHS[span[2]], 12)
    year = day.year + years
    if year > date.max.year:
        raise OverflowError
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))
