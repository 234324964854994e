"""What an exercise of the kind `diagnosis` is made of."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, NotRequired, TypedDict

Step = dict[str, Any]
"""A step at the bench, as `labkit.bench.session` writes it."""
Part = Literal["fault", "place", "repair"]


class DiagnosisAsk(TypedDict):
    """The set-up (`Setup.to_json`), whether its power is on, minutes, and whether to repair.

    `names` is how many faults may be named, 1 where it is missing.

    Without the recording that an assessed task file adds, nothing here tells of the fault.
    """

    setup: dict[str, Any]
    power: bool
    budget: float
    costs: dict[str, float]
    repairs: bool
    names: NotRequired[int]
    recording: NotRequired[Mapping[str, Any]]


class Shares(TypedDict):
    """Shares of the marks: for the kind of the fault, its place, and the repair. They come to 1."""

    fault: float
    place: float
    repair: float


class DiagnosisKey(TypedDict):
    """The faults that are in the bench, as `labkit.bench.codec` writes them."""

    faults: list[dict[str, Any]]
    shares: Shares


class Said(TypedDict):
    """What the trainee says of the fault; `wires` are named for some kinds alone."""

    fault: str
    wires: NotRequired[list[str]]
    place: str


class Answer(TypedDict):
    """The steps at the bench, and what the trainee says.

    `more` are the faults named beyond the first, where several may be. In an assessed class, where
    the bench is only recorded, `repairs` are the steps that the trainee would take with the power
    off.
    """

    steps: NotRequired[list[Step]]
    verdict: Said
    more: NotRequired[list[Said]]
    repairs: NotRequired[list[Step]]
