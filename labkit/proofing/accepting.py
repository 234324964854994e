"""Findings that the author lets stand, each with a reason, and reasons that stand for nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Final

from labkit.lab.definition import Accepted, Lab
from labkit.language.problems import nearest
from labkit.proofing.findings import Finding, Severity, kinds_of_finding

ENOUGH: Final = 1_000
"""Draws before it is told that an accepted finding is not there: a rare one may take so many."""


@dataclass(frozen=True, kw_only=True)
class AcceptsNothing(Finding):
    """The lab accepts something that cannot stand, or that is not there."""

    id: ClassVar[str] = "accepts-nothing"
    acceptable: ClassVar[bool] = False
    accepted: str
    reason: str
    reader_mend: str
    misspelt: bool

    @property
    def severity(self) -> Severity:
        """What is left over does no harm; a name that is no name hides what was meant."""
        return Severity.MUST if self.misspelt else Severity.LOOK

    @property
    def sentence(self) -> str:
        """Which one, and why it stands for nothing."""
        return f"'{self.accepted}' is accepted, but {self.reason}"

    @property
    def mend(self) -> str:
        """The nearest name, or take it out."""
        return self.reader_mend


@dataclass(frozen=True, slots=True)
class Stands:
    """A finding that may stand, and the lab's word for it."""

    finding: Finding
    word: Accepted

    def to_json(self) -> dict[str, Any]:
        """The finding as plain JSON data, with its reason and where that is written."""
        place = self.word.place
        accepted = {"because": self.word.because, "file": place.file, "line": place.line}
        return {**self.finding.to_json(), "accepted": accepted}


@dataclass(frozen=True, slots=True)
class Sorted:
    """Findings apart: those that are open, and those that may stand."""

    open: tuple[Finding, ...]
    standing: tuple[Stands, ...]


def sorted_out(lab: Lab, findings: Sequence[Finding], draws: int) -> Sorted:
    """Hold `findings` of so many draws against what the lab accepts.

    What another lab accepted that this one extends covers what is to be looked at, but nothing that
    must be mended: the draws may be others here. Nor is it told where it stands for nothing.
    """
    words = tuple(_words(lab))
    open_: list[Finding] = []
    standing: list[Stands] = []
    used: set[Accepted] = set()
    for finding in findings:
        covering = [word for word in words if _covers(lab, word, finding)]
        used.update(covering)
        if covering:
            standing.append(Stands(finding, covering[0]))
        else:
            open_.append(finding)
    left = (word for word in words if word not in used and _is_own(lab, word))
    return Sorted((*open_, *_for_nothing(lab, left, findings, draws)), tuple(standing))


def _words(lab: Lab) -> Iterator[Accepted]:
    """What the lab accepts; what is narrower and its own comes first, for it says more."""
    every = [*lab.accepted, *(word for exercise in lab.exercises for word in exercise.accepted)]
    yield from sorted(every, key=lambda word: (not word.of, not _is_own(lab, word)))


def _is_own(lab: Lab, word: Accepted) -> bool:
    return word.place.file == lab.place.file


def _covers(lab: Lab, word: Accepted, finding: Finding) -> bool:
    if not finding.acceptable or (word.finding, word.exercise) != (finding.id, finding.exercise):
        return False
    if finding.severity is Severity.MUST and not _is_own(lab, word):
        return False
    return word.of in ("", finding.of)


def _for_nothing(
    lab: Lab, words: Iterable[Accepted], findings: Sequence[Finding], draws: int
) -> Iterator[AcceptsNothing]:
    kinds = kinds_of_finding()
    can_stand = {name for name, kind in kinds.items() if kind.acceptable}
    exercises = {exercise.id for exercise in lab.exercises}
    for word in words:
        if word.finding not in kinds:
            mend = nearest(word.finding, can_stand)
            yield _nothing(word, "proof has no such finding.", mend, misspelt=True)
        elif word.finding not in can_stand:
            mend = "Mend what it tells, and take this out."
            yield _nothing(word, "it can never stand.", mend, misspelt=True)
        elif word.exercise and word.exercise not in exercises:
            reason = f"there is no exercise '{word.exercise}'."
            yield _nothing(word, reason, nearest(word.exercise, exercises), misspelt=True)
        elif draws >= ENOUGH:
            of = f" of '{word.of}'" if word.of else ""
            where = f"at '{word.exercise}'" if word.exercise else "of the lab as a whole"
            reason = f"no such finding{of} {where} in {draws} draws."
            yield _nothing(word, reason, _leftover_mend(word, findings), misspelt=False)


def _leftover_mend(word: Accepted, findings: Sequence[Finding]) -> str:
    """What the finding is of instead; the exercise that has it; or nothing but taking it out."""
    alike = [item for item in findings if item.id == word.finding]
    here = {item.of for item in alike if item.exercise == word.exercise} - {""}
    elsewhere = {item.exercise for item in alike} - {"", word.exercise}
    if word.of and here:
        return f"Take it out, or say of what. {nearest(word.of, here)}"
    if elsewhere:
        return f"Take it out, or say at which exercise. {nearest(word.exercise, elsewhere)}"
    return "Take it out."


def _nothing(word: Accepted, reason: str, mend: str, *, misspelt: bool) -> AcceptsNothing:
    return AcceptsNothing(
        place=word.place,
        exercise=word.exercise,
        accepted=word.finding,
        reason=reason,
        reader_mend=mend,
        misspelt=misspelt,
    )
