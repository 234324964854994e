"""What a certificate says, in the one form in which it is signed and kept.

The form is JSON in UTF-8 without spaces, its keys in order; `day`, `issued` and `until` are days
of the calendar, percentages are texts as they are shown.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any, Final

from labkit.exchange.parts import Parts, misfit, of


@dataclass(frozen=True, slots=True)
class LabDone:
    """A lab on a certificate; `together`: it was worked at with somebody else."""

    title: str
    version: str
    together: bool = False


@dataclass(frozen=True, slots=True)
class Statement:
    """What is certified, and nothing else.

    `day` is the day of the class, else that of the issue; from it the time counts for which the
    certificate holds, with `until` as its last day ("" without end). `issuer` and `place` may be
    "". `at_least` stands where marks waited when it was issued, and `waits` says which.
    """

    serial: str
    name: str
    title: str
    place: str
    issuer: str
    day: str
    issued: str
    until: str
    percent: str
    at_least: bool
    waits: str
    pass_mark: str
    labs: tuple[LabDone, ...]
    competences: tuple[str, ...]

    @property
    def text(self) -> str:
        """The form in which it is signed and kept."""
        said = asdict(self)
        return json.dumps(said, ensure_ascii=False, sort_keys=True, separators=(",", ":"))

    @classmethod
    def read(cls, text: str) -> Statement | None:
        """The statement that a text is; None for what is none, or is not in this form."""
        try:
            found = json.loads(text)
        except (ValueError, RecursionError):
            return None
        if misfit(found, _PARTS, only=True):
            return None
        labs = tuple(LabDone(**lab) for lab in found["labs"])
        made = cls(**{**found, "labs": labs, "competences": tuple(found["competences"])})
        return made if made.text == text and made._days_are_days else None

    @property
    def _days_are_days(self) -> bool:
        try:
            for day in filter(None, (self.day, self.issued, self.until)):
                date.fromisoformat(day)
        except ValueError:
            return False
        return bool(self.day and self.issued)

    def over(self, today: date) -> bool:
        """Whether the time is over for which it holds."""
        return bool(self.until) and today > date.fromisoformat(self.until)

    @property
    def passed_with(self) -> str:
        """With how much the class was passed, as people read it."""
        least = "at least " if self.at_least else ""
        return f"{least}{self.percent} % (pass mark {self.pass_mark} %)"

    def shown(self) -> Iterator[tuple[str, str]]:
        """Each thing that a certificate shows of it: what it is, and the words on the paper."""
        yield "the name", self.name
        yield "the class", self.title
        yield "the result", self.passed_with
        for lab in self.labs:
            yield "a lab", lab.title
            yield "a lab's version", lab.version
        for competence in self.competences:
            yield "a competence", competence
        yield "the day", spoken_day(self.day)
        if self.place:
            yield "the place", self.place
        if self.issuer:
            yield "the issuer", self.issuer
        yield "the day of issue", spoken_day(self.issued)
        if self.until:
            yield "the last day", spoken_day(self.until)
        yield "the serial number", self.serial


def spoken_day(day: str) -> str:
    """A day of the calendar as people read it, such as "27 November 2026"."""
    found = date.fromisoformat(day)
    return f"{found.day} {found:%B %Y}"


def _labs(value: Any) -> bool:
    return isinstance(value, list) and not any(misfit(lab, _LAB, only=True) for lab in value)


def _texts(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(text, str) for text in value)


_LAB: Final[Parts] = {"title": of(str), "version": of(str), "together": of(bool)}
_PARTS: Final[Parts] = {
    **dict.fromkeys(
        (
            *("serial", "name", "title", "place", "issuer", "day", "issued", "until"),
            *("percent", "waits", "pass_mark"),
        ),
        of(str),
    ),
    "at_least": of(bool),
    "labs": _labs,
    "competences": _texts,
}
