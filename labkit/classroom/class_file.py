"""What `class.yaml` may hold: who teaches what, when, and by which rules it counts."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, tzinfo
from pathlib import PurePosixPath
from typing import Annotated, Any, Final, Literal
from zoneinfo import ZoneInfo

from pydantic import ConfigDict, Discriminator, Field, Tag, ValidationInfo, field_validator

from labkit.classroom.validity import read_validity
from labkit.exchange.clock import written
from labkit.lab.reading.fields import GROUP, TEXT, Id, Strict, Text, check_fields
from labkit.lab.reading.source import Fields, read_fields
from labkit.language.problems import DefinitionError, Problem

_DAY: Final = "2026-11-25"
_COUNT: Final = re.compile(r"\d{1,6}")
# RFC 3987 says more; this keeps out what is relative, and what no address may hold.
_IRI: Final = re.compile(r"""[A-Za-z][A-Za-z0-9+.-]*:[^\s\x00-\x20<>"{}|\\^`]+""")

Percent = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
Spread = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Weight = Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)]
Mode = Literal["practice", "assessed"]
Held = Literal["laptops", "room"]
"""Whether workbooks are dealt as files too, or are worked at on the trainer's machine alone."""


class LabFields(Strict):
    """`labs:` — one lab of the class, and what holds for it alone. Times are UTC inside.

    It is validated with the class's `time_zone` (or None) as context, see `read_class_file`.
    """

    lab: Id
    mode: Mode | None = None
    held: Held | None = None
    weight: Weight | None = None
    opens: str | None = None
    deadline: str | None = None

    @field_validator("opens", "deadline")
    @classmethod
    def _is_a_time(cls, value: str | None, info: ValidationInfo) -> str | None:
        # A day without a time means from its beginning, and until its end.
        zone = (info.context or {})["time_zone"]
        return _moment(value, zone, whole_day=info.field_name == "deadline")


def _shape(item: Any) -> str:
    return GROUP if isinstance(item, dict) else TEXT


LabItem = Annotated[
    Annotated[Id, Tag(TEXT)] | Annotated[LabFields, Tag(GROUP)], Discriminator(_shape)
]
"""An item of `labs`: an id, or a group of fields where a lab has rules of its own."""


class ClassFields(Strict):
    """The fields of `class.yaml`. Times are UTC inside; `time_zone` is how people read them.

    `mode`, `held` and `deadline` hold for the labs that say nothing themselves: ask `mode_of`,
    `in_room` and `deadline_of` for a lab's.
    """

    # `lab_items` is no name to write in the file.
    model_config = ConfigDict(populate_by_name=False)

    id: Id
    title: Text
    lab_items: list[LabItem] = Field(alias="labs", min_length=1)
    mode: Mode
    held: Held = "laptops"
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
    issuer: str = ""
    competences: list[Text] = Field(default_factory=list, max_length=40)
    valid_for: str | None = None

    @field_validator("attempts", mode="before")
    @classmethod
    def _is_a_count(cls, value: Any) -> Any:
        if isinstance(value, str) and not _COUNT.fullmatch(value.strip()):
            raise ValueError(f"'{value}' is not a number of attempts; write 1, 2, 3 or more")
        return value

    @field_validator("time_zone")
    @classmethod
    def _is_a_zone(cls, value: str | None) -> str | None:
        name = (value or "").strip()
        if not name:
            return None
        if not _known_zone(name):
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

    @field_validator("issuer")
    @classmethod
    def _is_one_line(cls, value: str) -> str:
        return " ".join(value.split())

    @field_validator("valid_for")
    @classmethod
    def _is_a_validity(cls, value: str | None) -> str | None:
        return read_validity(value) if value and value.strip() else None

    @field_validator("deadline")
    @classmethod
    def _is_a_time(cls, value: str | None, info: ValidationInfo) -> str | None:
        return _moment(value, info.data.get("time_zone"), whole_day=True)

    @field_validator("lab_items")
    @classmethod
    def _are_different(cls, items: list[LabItem]) -> list[LabItem]:
        labs = _ids(items)
        twice = {lab for lab in labs if labs.count(lab) > 1}
        if twice:
            raise ValueError(f"the lab '{min(twice)}' is there twice")
        return items

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
        return dict.fromkeys(_ids(info.data.get("lab_items", ())), value)

    @field_validator("weights", "difficulty_spread")
    @classmethod
    def _are_of_labs(cls, weights: dict[str, float], info: ValidationInfo) -> dict[str, float]:
        unknown = set(weights) - set(_ids(info.data.get("lab_items", weights)))
        if unknown:
            raise ValueError(f"'{min(unknown)}' is not one of the labs of this class")
        return weights

    @property
    def labs(self) -> list[str]:
        """The ids of the labs, in the order of the file."""
        return _ids(self.lab_items)

    @property
    def laptops(self) -> list[str]:
        """The labs whose workbooks are dealt as files, to be given out."""
        return [lab for lab in self.labs if not self.in_room(lab)]

    @property
    def zone(self) -> tzinfo | None:
        """The class's time zone; None is the computer's own."""
        return ZoneInfo(self.time_zone) if self.time_zone else None

    @property
    def same_for_all(self) -> bool:
        """Whether no lab has rules of its own."""
        return not any(isinstance(item, LabFields) for item in self.lab_items)

    def mode_of(self, lab: str) -> Mode:
        """A lab's own mode, else the class's. As of all rules: also of a lab that is gone."""
        own = self._own(lab)
        return own.mode if own and own.mode else self.mode

    def practice(self, lab: str) -> bool:
        """Whether answers to a lab are checked at once."""
        return self.mode_of(lab) == "practice"

    def in_room(self, lab: str) -> bool:
        """Whether a lab is worked at in the room alone: nobody is given files of it."""
        own = self._own(lab)
        return (own.held if own and own.held else self.held) == "room"

    def opens_of(self, lab: str) -> str | None:
        """From when on a lab may be worked at; None where nothing is said."""
        own = self._own(lab)
        return own.opens if own else None

    def deadline_of(self, lab: str) -> str | None:
        """A lab's own deadline, else the class's; None without either."""
        own = self._own(lab)
        return own.deadline if own and own.deadline else self.deadline

    def weight(self, lab: str) -> float:
        """How much a lab counts beside the others; 1 where nothing is said."""
        own = self._own(lab)
        return own.weight if own and own.weight else self.weights.get(lab, 1.0)

    def _own(self, lab: str) -> LabFields | None:
        """What `labs` says of a lab besides its id."""
        found = (item for item in self.lab_items if isinstance(item, LabFields))
        return next((item for item in found if item.lab == lab), None)

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


def read_class_file(text: str, file: str) -> ClassFields:
    """The class that the `text` of a `class.yaml` says. Raises `DefinitionError`."""
    fields = read_fields(text, file, 1)
    zone = fields.data.get("time_zone")
    # A wrong one is told at its own line.
    known = zone.strip() if isinstance(zone, str) and _known_zone(zone.strip()) else None
    found: ClassFields = check_fields(ClassFields, fields, context={"time_zone": known})
    problems = list(_contradictions(found, fields))
    if problems:
        raise DefinitionError(problems)
    return found


def _contradictions(found: ClassFields, fields: Fields) -> Iterator[Problem]:
    for place, item in enumerate(found.lab_items):
        if not isinstance(item, LabFields):
            continue
        if item.weight is not None and item.lab in found.weights:
            yield Problem(
                fields.place(("weights", item.lab)),
                "this lab has a weight of its own under 'labs' too.",
                "Keep one of them.",
            )
        opens, deadline = item.opens, found.deadline_of(item.lab)
        if opens and deadline and opens >= deadline:
            yield Problem(
                fields.place(("labs", place, "opens")),
                f"the lab opens {found.spoken(opens)}, and its deadline is "
                f"{found.spoken(deadline)}.",
                "Let it open before its deadline.",
            )


def _ids(items: Iterable[LabItem]) -> list[str]:
    return [item.lab if isinstance(item, LabFields) else item for item in items]


def _moment(value: str | None, zone: str | None, *, whole_day: bool) -> str | None:
    """A time as people write it, as the records hold it; None for nothing.

    Without an offset it is by the clocks of `zone`, or of this computer. A day alone is its last
    second where the `whole_day` is meant, else its first. Raises `ValueError` with a mend.
    """
    if value is None or not value.strip():
        return None
    try:
        time = datetime.fromisoformat(value.strip())
        if whole_day and len(value.strip()) <= len(_DAY):
            time = time.replace(hour=23, minute=59, second=59)
        moment = _in_zone(time, zone).astimezone(UTC)
    except (ValueError, OverflowError):
        raise ValueError(
            f"'{value}' is not a time; write for example 2026-11-25 16:30+00:00"
        ) from None
    if time.tzinfo is None and zone:
        # In spring the clocks jump over an hour: a time in it comes back as another one.
        back = moment.astimezone(ZoneInfo(zone)).replace(tzinfo=None)
        if back != time:
            raise ValueError(
                f"'{value}' does not exist in {zone}: the clocks jump over it; choose a time "
                "an hour later"
            )
    return written(moment)


def _in_zone(time: datetime, zone: str | None) -> datetime:
    """`time` with an offset: its own, else the class's time zone, else the computer's."""
    if time.tzinfo is not None:
        return time
    return time.replace(tzinfo=ZoneInfo(zone)) if zone else time.astimezone()


def _known_zone(name: str) -> bool:
    if PurePosixPath(name).is_absolute() or ".." in name:
        return False
    try:
        ZoneInfo(name)
    except (ValueError, OSError, KeyError):
        return False
    return True
