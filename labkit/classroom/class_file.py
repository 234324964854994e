"""What `class.yaml` may hold: who teaches what, when, and by which rules it counts."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, tzinfo
from pathlib import PurePosixPath
from typing import Annotated, Any, Final, Literal
from zoneinfo import ZoneInfo

from pydantic import Field, ValidationInfo, field_validator

from labkit.exchange.clock import written
from labkit.lab.reading.fields import Id, Strict, Text

_DAY: Final = "2026-11-25"
_COUNT: Final = re.compile(r"\d{1,6}")
# RFC 3987 says more; this keeps out what is relative, and what no address may hold.
_IRI: Final = re.compile(r"""[A-Za-z][A-Za-z0-9+.-]*:[^\s\x00-\x20<>"{}|\\^`]+""")

Percent = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
Spread = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Weight = Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)]


class ClassFields(Strict):
    """The fields of `class.yaml`. Times are UTC inside; `time_zone` is how people read them."""

    id: Id
    title: Text
    labs: list[Id] = Field(min_length=1)
    mode: Literal["practice", "assessed"]
    date: str | None = None
    place: str = ""
    weights: dict[str, Weight] = Field(default_factory=dict)
    attempts: Annotated[int, Field(ge=1, le=1000)] | None = None
    attempts_count: Literal["last", "best"] = "last"
    difficulty_spread: dict[str, Spread] = Field(default_factory=dict)
    neighbours_equal: Annotated[int, Field(ge=0, le=1000)] | None = None
    pass_mark: Percent | None = None
    time_zone: str | None = None
    deadline: str | None = None
    deadline_by: Literal["claimed", "received"] = "claimed"
    late: Literal["count", "refuse"] = "count"
    keep_until: str | None = None
    records: str | None = None
    roster_encoding: str | None = None
    home_page: str | None = None

    @field_validator("attempts", mode="before")
    @classmethod
    def _is_a_count(cls, value: Any) -> Any:
        if isinstance(value, str) and not _COUNT.fullmatch(value.strip()):
            raise ValueError(f"'{value}' is not a number of attempts; write 1, 2, 3 or more")
        return value

    @field_validator("time_zone")
    @classmethod
    def _is_a_zone(cls, value: str | None) -> str | None:
        if value is None or not value.strip():
            return None
        name = value.strip()
        if PurePosixPath(name).is_absolute() or ".." in name or not _known_zone(name):
            raise ValueError(
                f"'{name}' is not a time zone that this computer knows; write one such as UTC or "
                "Africa/Nairobi"
            )
        return name

    @field_validator("date", "keep_until")
    @classmethod
    def _is_a_day(cls, value: str | None) -> str | None:
        if value is None or not value.strip():
            return None
        try:
            if len(value.strip()) != len(_DAY):
                raise ValueError
            return date.fromisoformat(value.strip()).isoformat()
        except ValueError:
            raise ValueError(f"'{value}' is not a day; write for example {_DAY}") from None

    @field_validator("deadline")
    @classmethod
    def _is_a_time(cls, value: str | None, info: ValidationInfo) -> str | None:
        if value is None or not value.strip():
            return None
        try:
            time = datetime.fromisoformat(value.strip())
            if len(value.strip()) <= len(_DAY):
                # A day without a time means until its end.
                time = time.replace(hour=23, minute=59, second=59)
            moment = _in_zone(time, info.data.get("time_zone")).astimezone(UTC)
        except (ValueError, OverflowError):
            raise ValueError(
                f"'{value}' is not a time; write for example 2026-11-25 16:30+00:00"
            ) from None
        zone = info.data.get("time_zone")
        if time.tzinfo is None and zone:
            # In spring the clocks jump over an hour: a time in it comes back as another one.
            back = moment.astimezone(ZoneInfo(zone)).replace(tzinfo=None)
            if back != time:
                raise ValueError(
                    f"'{value}' does not exist in {zone}: the clocks jump over it; choose a time "
                    "an hour later"
                )
        return written(moment)

    @field_validator("labs")
    @classmethod
    def _are_different(cls, labs: list[str]) -> list[str]:
        twice = {lab for lab in labs if labs.count(lab) > 1}
        if twice:
            raise ValueError(f"the lab '{min(twice)}' is there twice")
        return labs

    @field_validator("home_page")
    @classmethod
    def _is_absolute(cls, value: str | None) -> str | None:
        if value is None or not value.strip():
            return None
        if not _IRI.fullmatch(value.strip()):
            raise ValueError(
                f"'{value}' is not a whole address; write one that begins with its scheme, such as "
                "https://training.example/people"
            )
        return value.strip()

    @field_validator("neighbours_equal", mode="before")
    @classmethod
    def _is_a_number_of_answers(cls, value: Any) -> Any:
        if isinstance(value, str) and not _COUNT.fullmatch(value.strip()):
            raise ValueError(f"'{value}' is not a number of answers; write 0, 1, 2 or more")
        return value

    @field_validator("difficulty_spread", mode="before")
    @classmethod
    def _for_every_lab(cls, value: Any, info: ValidationInfo) -> Any:
        """One number stands for every lab of the class."""
        if isinstance(value, dict):
            return value
        return dict.fromkeys(info.data.get("labs", ()), value)

    @field_validator("weights", "difficulty_spread")
    @classmethod
    def _are_of_labs(cls, weights: dict[str, float], info: ValidationInfo) -> dict[str, float]:
        unknown = set(weights) - set(info.data.get("labs", weights))
        if unknown:
            raise ValueError(f"'{min(unknown)}' is not one of the labs of this class")
        return weights

    @property
    def zone(self) -> tzinfo | None:
        """The class's time zone; None is the computer's own."""
        return ZoneInfo(self.time_zone) if self.time_zone else None

    def weight(self, lab: str) -> float:
        """How much a lab counts beside the others; 1 where nothing is said."""
        return self.weights.get(lab, 1.0)

    def spoken(self, moment: str) -> str:
        """A time as the records hold it, as people in the class read it: with zone and offset."""
        utc = datetime.fromisoformat(moment)
        try:
            here = utc.astimezone(self.zone)
        except OverflowError:
            # The last hours of the calendar, by a clock that is set there.
            here = utc
        offset = here.strftime("%z")
        name = "UTC" if offset == "+0000" else f"UTC{offset[:3]}:{offset[3:]}"
        return f"{here.day} {here:%B %Y %H:%M} {name}"

    @property
    def spoken_date(self) -> str:
        """The day of the class as people read it, such as "27 November 2026"; "" without one."""
        if not self.date:
            return ""
        day = date.fromisoformat(self.date)
        return f"{day.day} {day:%B %Y}"


def _in_zone(time: datetime, zone: str | None) -> datetime:
    """`time` with an offset: its own, else the class's time zone, else the computer's."""
    if time.tzinfo is not None:
        return time
    return time.replace(tzinfo=ZoneInfo(zone)) if zone else time.astimezone()


def _known_zone(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (ValueError, OSError, KeyError):
        return False
    return True
