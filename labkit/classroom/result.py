"""One trainee's result in one lab, and the hand-in that counts for it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from labkit.classroom.dealt import Dealt
from labkit.classroom.mark import Mark
from labkit.classroom.share import Share
from labkit.lab.draw import Scenario

Journal = tuple[Mapping[str, Any], ...]
"""The entries of a hand-in's answer journal."""


@dataclass(frozen=True, slots=True)
class Counted:
    """The hand-in that counts: its file's name, the SHA-256 of its bytes, when it was made."""

    file: str
    digest: str
    made_at: str
    received_at: str
    late: bool
    read: Callable[[str], Journal | None] = field(repr=False, compare=False)

    @property
    def journal(self) -> Journal:
        """The answer journal, read from the file again; empty when the file is gone."""
        return self.read(self.digest) or ()


@dataclass(frozen=True, slots=True)
class Result:
    """One trainee's result in one lab; `marks` is empty when nothing was handed in that counts.

    `possible` is without the exercises that were voided. `attempts` is how many workbooks of the
    lab the trainee was dealt; `dealt.attempt` says which of them this result is of. `may_reach` are
    the marks that another attempt of theirs may come to, where the best one counts. `together` has
    the names of those with whom it was worked at, by the number of their own workbook; who did so
    in another's has that one as `worked_in`: hand-in, marks and numbers are of it.
    """

    dealt: Dealt
    hand_in: Counted | None
    marks: tuple[Mark, ...]
    possible: float
    draw: Callable[[], Scenario] = field(repr=False, compare=False)
    attempts: int = 1
    may_reach: float = 0.0
    together: Mapping[str, str] = field(default_factory=dict)
    worked_in: Dealt | None = None

    @property
    def work(self) -> Dealt:
        """The workbook that was worked in: their own, or that of whom they worked together with."""
        return self.worked_in or self.dealt

    @property
    def as_guest(self) -> bool:
        """Whether this is the work of another's result too: of the lab it tells nothing more."""
        return self.worked_in is not None

    @property
    def with_whom(self) -> str:
        """With whom it was worked at, in words; "" for nobody."""
        return f"together with {' and '.join(self.together.values())}" if self.together else ""

    @property
    def scenario(self) -> Scenario:
        """What the trainee was dealt, drawn again."""
        return self.draw()

    @property
    def share(self) -> Share:
        """What is earned of what is marked, and what waits; all is lost where nothing counts."""
        if not self.marks:
            return Share(0.0, self.possible)
        found = Share.of(self.marks)
        return replace(found, open=max(found.open, self.may_reach - found.earned))

    @property
    def earned(self) -> float:
        """The marks of all exercises together."""
        return self.share.earned

    @property
    def percent(self) -> float | None:
        """Earned marks in % of those that are given; None while none is."""
        return self.share.percent

    @property
    def since(self) -> str:
        """When the marks that hold now came to hold; "" where nothing counts."""
        return max((mark.since for mark in self.marks), default="")

    @property
    def late(self) -> bool:
        """Whether the hand-in was made after the deadline."""
        return self.hand_in is not None and self.hand_in.late

    @property
    def counts(self) -> bool:
        """Whether there is a hand-in that is marked."""
        return bool(self.marks)

    @property
    def awaits(self) -> bool:
        """Whether a person must still mark something of it."""
        return any(mark.awaits and not mark.voided for mark in self.marks)


def worked_together(one: Result, other: Result) -> bool:
    """Whether the trainer let two work together."""
    return one.dealt.workbook in other.together or other.dealt.workbook in one.together
