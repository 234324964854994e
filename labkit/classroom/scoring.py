"""Marks: each scenario is drawn again from the class's secret, each answer calculated."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing import Deal, Dealt, read_deal, require_same_secret, scenario_of
from labkit.classroom.errors import ClassError
from labkit.classroom.progress import Progress
from labkit.classroom.receiving import HandIn, Notice, receive
from labkit.lab.definition import Exercise, Lab
from labkit.lab.draw import Scenario
from labkit.lab.kinds import check_for
from labkit.lab.verdict import Verdict
from labkit.station.journal import ExerciseRecord, records


@dataclass(frozen=True, slots=True)
class Mark:
    """The mark of one exercise: `earned` of `possible`, and all that explains it."""

    exercise: str
    number: int
    title: str
    possible: float
    earned: float
    answer: str
    answered: bool
    verdict: Verdict
    tries: int
    hints: int
    hint_cost: float

    @property
    def slip(self) -> str:
        """The known mistake that cost marks; "" when there is none."""
        return "" if self.verdict.right else self.verdict.slip


@dataclass(frozen=True, slots=True)
class Result:
    """One trainee's result in one lab; `marks` is empty when nothing was handed in."""

    dealt: Dealt
    hand_in: HandIn | None
    marks: tuple[Mark, ...]
    possible: float
    scenario: Scenario | None

    @property
    def earned(self) -> float:
        """The marks of all exercises together."""
        return round(sum(mark.earned for mark in self.marks), 2)

    @property
    def percent(self) -> float:
        """Earned marks in % of the possible ones."""
        return 100 * self.earned / self.possible if self.possible else 0.0

    @property
    def late(self) -> bool:
        """Whether the hand-in was made after the deadline."""
        return self.hand_in is not None and self.hand_in.late

    @property
    def counts(self) -> bool:
        """Whether there is a hand-in that is marked."""
        return bool(self.marks)


@dataclass(frozen=True, slots=True)
class Scoring:
    """The results of a class, in the order of its deal, and what the instructor should look at."""

    labs: Mapping[str, Lab]
    results: tuple[Result, ...]
    notices: tuple[Notice, ...]

    @property
    def missing(self) -> tuple[Result, ...]:
        """Those who have handed in nothing that counts."""
        return tuple(result for result in self.results if not result.counts)


def score(folder: ClassFolder, progress: Progress | None = None) -> Scoring:
    """Mark every hand-in of the class. `progress` is called with (done, all).

    Raises `ClassError` when the class was not dealt yet.
    """
    deal = read_deal(folder)
    if not deal.dealt:
        raise ClassError(f"{folder.path} was not dealt yet: run 'labkit deal {folder.path}' first.")
    secret = folder.secret()
    require_same_secret(folder, secret, deal)
    received = receive(
        folder.hand_ins.rglob("*") if folder.hand_ins.is_dir() else (),
        deal,
        secret=secret,
        class_id=folder.fields.id,
        deadline=folder.fields.deadline,
        refuse_late=folder.fields.late == "refuse",
    )
    hand_ins = {hand_in.dealt.workbook: hand_in for hand_in in received.hand_ins}
    labs = {name: _dealt_lab(folder, name, deal) for name in deal.labs}
    results = []
    for done, item in enumerate(deal.dealt, 1):
        hand_in = hand_ins.get(item.workbook)
        results.append(mark(secret, folder.fields.id, labs[item.lab], item, hand_in))
        if progress:
            progress(done, len(deal.dealt))
    return Scoring(labs, tuple(results), received.notices)


def mark(secret: str, class_id: str, lab: Lab, item: Dealt, hand_in: HandIn | None) -> Result:
    """The result of one trainee in one lab."""
    if hand_in is None:
        return Result(item, None, (), lab.marks, None)
    scenario = scenario_of(secret, class_id, lab, item)
    found = records(hand_in.journal)
    marks = tuple(
        _mark(scenario, exercise, number, found.get(exercise.id, ExerciseRecord()))
        for number, exercise in enumerate(lab.exercises, 1)
    )
    return Result(item, hand_in, marks, lab.marks, scenario)


def _mark(scenario: Scenario, exercise: Exercise, number: int, record: ExerciseRecord) -> Mark:
    prepared = scenario.prepare(exercise)
    check = check_for(exercise.kind)
    verdict = Verdict(0.0, "No answer.", readable=False)
    if record.answered:
        verdict = check.check(prepared.ask, prepared.key, record.answer)
    hints = exercise.hints[: record.hints]
    cost = sum(hint.costs for hint in hints)
    return Mark(
        exercise=exercise.id,
        number=number,
        title=exercise.title.render(scenario.names),
        possible=exercise.marks,
        earned=round(max(0.0, verdict.credit * exercise.marks - cost), 2),
        answer=check.shown(prepared.ask, record.answer) if record.answered else "",
        answered=record.answered,
        verdict=verdict,
        tries=record.tries,
        hints=len(hints),
        hint_cost=cost,
    )


def _dealt_lab(folder: ClassFolder, name: str, deal: Deal) -> Lab:
    lab = folder.lab(name)
    if lab.digest != deal.labs[name]["digest"]:
        raise ClassError(
            f"The definition of '{name}' in this class was changed after it was dealt, so the "
            "numbers that the trainees have cannot be drawn again: bring the old file back."
        )
    return lab


def slip_counts(scoring: Scoring) -> dict[tuple[str, int, str, str], int]:
    """How often each slip was made: (lab, number, exercise, slip) → trainees, most first."""
    counts: dict[tuple[str, int, str, str], int] = {}
    for result in scoring.results:
        for item in result.marks:
            if item.slip:
                key = (result.dealt.lab, item.number, item.exercise, item.slip)
                counts[key] = counts.get(key, 0) + 1
    return dict(sorted(counts.items(), key=lambda pair: (-pair[1], pair[0])))
