"""Retakes: who has attempts left, by what was handed in, and dealing them one more."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import astuple, dataclass
from hashlib import sha256
from pathlib import Path

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import (
    DealResult,
    attempt_after,
    deal_again,
    workbook_folder,
)
from labkit.classroom.dealing.deal_record import read_deal, unfinished
from labkit.classroom.dealing.picking import Key
from labkit.classroom.dealt import Deal, Dealt
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.choosing import attempts_before
from labkit.classroom.handins.settling import received_of
from labkit.classroom.progress import Progress
from labkit.classroom.records.store import Records
from labkit.classroom.roster import Trainee


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


@dataclass(frozen=True, slots=True)
class Planned:
    """A retake before it is dealt: whose, of which lab, the attempt it will be.

    `made` are their attempts so far; `hinders` says why it cannot be dealt, "" where it can.
    """

    trainee: str
    name: str
    lab: str
    attempt: int
    made: int
    hinders: str = ""


def planned_retakes(
    folder: ClassFolder, trainees: Collection[str], lab: str | None = None
) -> list[Planned]:
    """What `retake` would deal to some trainees (ids), in the roster's order.

    Raises `ClassError` for a lab that the class does not have.
    """
    labs = folder.fields.labs if lab is None else [lab]
    if unknown := set(labs) - set(folder.fields.labs):
        raise ClassError(f"'{min(unknown)}' is not one of the labs of this class.")
    begun = {item.key for item in unfinished(folder)}
    found = {(one.last.trainee, one.last.lab): one for one in attempts_of(folder, trainees, lab)}
    present = {person.id: person for person in folder.trainees}
    return [
        *(
            _planned(folder, person, each, found.get((person.id, each)), begun)
            for person in present.values()
            if person.id in trainees
            for each in labs
        ),
        *(
            Planned(one, one, each, 0, 0, "Not in the roster (any more).")
            for one in sorted(set(trainees) - set(present))
            for each in labs
        ),
    ]


def plan_digest(plan: Sequence[Planned]) -> str:
    """Tells one plan from another: what was shown from what would be dealt now."""
    return sha256(repr([astuple(one) for one in plan]).encode()).hexdigest()


def _planned(
    folder: ClassFolder, person: Trainee, lab: str, now: Attempts | None, begun: Collection[Key]
) -> Planned:
    if now is None:
        why = "Not dealt yet, so there is nothing to retake: deal first."
        return Planned(person.id, person.name, lab, 1, 0, why)
    attempt, allowed = attempt_after(folder, now.last, begun), folder.fields.attempts
    hinders = ""
    if now.used_up:
        hinders = f"{now.made} of {allowed} attempts are made: one more would not count."
    elif allowed is not None and attempt > allowed:
        hinders = f"{now.last.attempt} attempts were dealt, and the class allows {allowed}."
    return Planned(person.id, person.name, lab, attempt, now.made, hinders)


def retake(
    folder: ClassFolder,
    library: Path,
    trainees: Sequence[str],
    lab: str | None = None,
    progress: Progress | None = None,
    *,
    jobs: int = 1,
    seen: str | None = None,
) -> DealResult:
    """Deal some trainees (ids) one attempt more, where class.yaml lets it count.

    See `dealing.deal_again`. `seen` is the digest of the plan that was shown before: another one
    by now is not dealt. Raises `ClassError`, also when somebody's hand-ins have used up the
    attempts already: nobody is dealt anything then.
    """
    if seen is not None and seen != plan_digest(planned_retakes(folder, trainees, lab)):
        raise ClassError(
            "Nothing was dealt: something was dealt or handed in since this was shown. Look at it "
            "again."
        )
    for attempts in attempts_of(folder, trainees, lab):
        if attempts.used_up:
            raise ClassError(
                f"{attempts.sentence} A retake would not count: 'attempts: {attempts.allowed}' in "
                "class.yaml allows no more hand-ins with other answers. Allow more there, or leave "
                "them out."
            )
    return deal_again(folder, library, trainees, lab, progress, jobs=jobs)


def folders_of_retakes(folder: ClassFolder, deal: Deal, trainees: Collection[str]) -> list[Path]:
    """What is to be given out after a retake: the folder of each one's last attempt at a lab."""
    last = {(item.trainee, item.lab): item for item in deal.dealt if item.attempt > 1}
    given = [item for (who, _), item in last.items() if who in trainees]
    return sorted(
        {workbook_folder(folder, item) for item in given if not folder.fields.in_room(item.lab)}
    )


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
