"""Retakes: who has attempts left, by what was handed in, and dealing them one more."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import DealResult, deal_again
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealt import Dealt
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.choosing import attempts_before
from labkit.classroom.handins.settling import received_of
from labkit.classroom.progress import Progress
from labkit.classroom.records.store import Records


@dataclass(frozen=True, slots=True)
class Attempts:
    """What one trainee has tried at one lab.

    `made` hand-ins with other answers than the one before, of all workbooks together, as far as
    they were received. `allowed` is the class's `attempts`; None: any number.
    """

    last: Dealt
    made: int
    allowed: int | None

    @property
    def used_up(self) -> bool:
        """Whether one more hand-in with other answers would not count."""
        return self.allowed is not None and self.made >= self.allowed

    @property
    def sentence(self) -> str:
        """The state in words."""
        who = f"{self.last.name} ({self.last.trainee})"
        of = "" if self.allowed is None else f" of {self.allowed}"
        return f"{who} has made {self.made}{of} attempt(s) at '{self.last.lab}'."


def attempts_of(
    folder: ClassFolder, trainees: Collection[str] | None = None, lab: str | None = None
) -> list[Attempts]:
    """The attempts of who was dealt something, a lab each, in the order of the deal.

    Of some trainees (ids) or one lab only, where these are given.
    """
    groups = [
        items
        for items in read_deal(folder).dealt.together()
        if trainees is None or items[-1].trainee in trainees
        if lab is None or items[-1].lab == lab
    ]
    return [
        Attempts(items[-1], made, folder.fields.attempts)
        for items, made in zip(groups, _made(folder, groups), strict=True)
    ]


def retake(
    folder: ClassFolder,
    library: Path,
    trainees: Sequence[str],
    lab: str | None = None,
    progress: Progress | None = None,
    *,
    jobs: int = 1,
) -> DealResult:
    """Deal some trainees (ids) one attempt more, where class.yaml lets it count.

    See `dealing.deal_again`. Raises `ClassError`, also when somebody's hand-ins have used up the
    attempts already: nobody is dealt anything then.
    """
    for attempts in attempts_of(folder, trainees, lab):
        if attempts.used_up:
            raise ClassError(
                f"{attempts.sentence} A retake would not count: 'attempts: {attempts.allowed}' in "
                "class.yaml allows no more hand-ins with other answers. Allow more there, or leave "
                "them out."
            )
    return deal_again(folder, library, trainees, lab, progress, jobs=jobs)


def _made(folder: ClassFolder, groups: Sequence[Sequence[Dealt]]) -> list[int]:
    """The attempts that each group of workbooks holds."""
    if not folder.has_records:
        return [0] * len(groups)
    found = []
    with Records.of(folder).reading() as connection:
        for items in groups:
            received = received_of(connection, items)
            # Counted as scoring counts: the number before a workbook that comes after the last one.
            each = [received.get(item.workbook, []) for item in items]
            found.append(attempts_before([*each, []])[-1])
    return found
