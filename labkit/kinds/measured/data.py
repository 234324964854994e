"""What an exercise of the kind `measured` is made of. Values count the unit that is asked for."""

from __future__ import annotations

from typing import NotRequired, TypedDict


class MeterName(TypedDict):
    """A meter to choose."""

    id: str
    text: str


class MeasuredAsk(TypedDict):
    """The symbol of the unit, and the meters; `caution` is Markdown, "" without one."""

    unit: str
    meters: list[MeterName]
    caution: str


class MeterData(TypedDict):
    """What a meter's data sheet says: a share of the reading, and digits of one resolution."""

    share: float
    digits: int
    resolution: float


class OutsideRange(TypedDict):
    """What a reading in a range usually means; an end that is None is open."""

    id: str
    low: float | None
    high: float | None
    tell: str


class MeasuredKey(TypedDict):
    """Between which values the true one lies, the meters by id, and ranges outside."""

    nominal: float
    low: float
    high: float
    meters: dict[str, MeterData]
    outside: list[OutsideRange]


class Answer(TypedDict):
    """The reading as typed, and the meter's id; where there is one meter it may be left out."""

    value: str
    meter: NotRequired[str]
