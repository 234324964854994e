"""Marks that a person gives: written answers, sign-offs at the bench, and a mark put right."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import select

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.editions import editions_now
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.arrivals import Arrivals
from labkit.classroom.handins.examiner import Examiner
from labkit.classroom.handins.finding import HandInFiles
from labkit.classroom.handins.pairs import Pairs
from labkit.classroom.handins.settling import prepared
from labkit.classroom.mark import Mark
from labkit.classroom.marks.results import Results
from labkit.classroom.records.schema import IN_PERSON, manual
from labkit.classroom.records.store import Records, SaidMeanwhileError
from labkit.classroom.result import Result
from labkit.classroom.room_entries import RELEASED, room_entries
from labkit.doors.check import Agreements, HeldAgainstPlan, SeenInPerson, Warns
from labkit.doors.installed import check_for
from labkit.exchange.clock import CLOCK
from labkit.exchange.journal import records as answers_in
from labkit.lab.definition import Exercise
from labkit.language.problems import nearest

WHOLE = "all"
"""The one item of an exercise without a rubric."""
_SAME: Final = ("answer_digest", "shares", "by", "note")
"""What makes two marks the very same."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """An exercise that a person must still mark, and the rubric to do it by."""

    result: Result
    mark: Mark
    rubric: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True, slots=True)
class ToMark:
    """Everything that still waits for a person, in the order of the deal, and the class's state.

    `scored` counts hand-ins that count, `dealt` workbooks.
    """

    waiting: tuple[Waiting, ...]
    scored: int
    dealt: int
    arrivals: Arrivals

    def sentences(self, folder: ClassFolder) -> Iterator[str]:
        """What to say of the class besides the list of what waits."""
        yield from self.arrivals.sentences(folder)
        if self.waiting:
            return
        if self.scored:
            yield f"Nothing waits for a mark by hand in the {self.scored} scored hand-in(s)."
        elif not (self.arrivals.wait or self.arrivals.lost):
            yield (
                f"Nothing that counts was handed in yet: {self.dealt} workbook(s) are dealt. "
                f"{_how_it_comes_in(folder)}"
            )


def _how_it_comes_in(folder: ClassFolder) -> str:
    fields = folder.fields
    to_laptops = f"What comes back goes into {folder.hand_ins}, by hand or by 'labkit receive'."
    if not any(map(fields.in_room, fields.labs)):
        return to_laptops
    in_room = "What is saved in the room is handed in by itself once you close its lab there."
    return f"{in_room} {to_laptops}" if fields.laptops else in_room


def to_mark(folder: ClassFolder) -> ToMark:
    """What waits for a person, by what is scored. Raises `ClassError` before the deal."""
    records = Records.of(folder)
    examiner = prepared(folder, records)
    found: list[Waiting] = []
    scored = 0
    for result in Results(examiner, records).every():
        if result.as_guest:
            continue  # it waits with the host's
        scored += result.counts
        found += [
            Waiting(result, mark, _rubric(examiner, result, mark.exercise))
            for mark in result.marks
            if mark.awaits and not mark.voided
        ]
    arrivals = Arrivals.of(examiner, records)
    return ToMark(tuple(found), scored, len(examiner.deal.dealt), arrivals)


@dataclass(frozen=True, slots=True)
class Given:
    """What came of giving a mark. `mark` is how it stands now, None before there is a hand-in.

    `in_person`: somebody saw it although it was not said to be ready. `already` says since when
    the very same mark is there, when it was given before and nothing was added. `instead` says
    whose mark it takes the place of, "" for nobody's.
    """

    result: Result
    exercise: str
    by: str
    mark: Mark | None
    in_person: bool
    already: str = ""
    instead: str = ""

    @property
    def sentence(self) -> str:
        """What holds now, in words."""
        dealt = self.result.dealt
        again = f" (attempt {dealt.attempt})" if self.result.attempts > 1 else ""
        what = f"{dealt.trainee}{again}, {dealt.lab}/{self.exercise}: "
        if self.mark is None:
            what += (
                f"signed off by {self.by} before anything was handed in; it counts as soon as a "
                "hand-in of this workbook is scored."
            )
        else:
            worth = f"{self.mark.earned:g} of {self.mark.possible:g} marks"
            what += f"{worth}, given by {self.mark.marked_by}."
        return " ".join(filter(None, (what, self.already, self.instead)))


def give(
    folder: ClassFolder,
    trainee: str,
    lab: str,
    exercise: str,
    shares: Sequence[str],
    *,
    by: str,
    note: str = "",
    not_ready: bool = False,
) -> Given:
    """Give a trainee's exercise a mark by hand, as `ByHand.give` does. Raises `ClassError`."""
    hand = ByHand(folder)
    result = hand.found(trainee, lab, exercise)
    return hand.give(result, exercise, shares, by=by, note=note, not_ready=not_ready)


@dataclass(frozen=True, slots=True)
class Seen:
    """What whoever gives a mark has before their eyes.

    `last` is the number of the last mark that a person gave there (0: none), `answer` the digest of
    the answer.
    """

    last: int
    answer: str


class ByHand:
    """Marks that people give in one class: what they need is put together once.

    It serves as long as nothing is dealt and it `holds`. Raises `ClassError` before the deal.
    """

    def __init__(self, folder: ClassFolder) -> None:
        self.folder, self.records = folder, Records.of(folder)
        self.examiner = prepared(folder, self.records)
        self._hand_ins = HandInFiles(folder.hand_ins)

    def holds(self) -> bool:
        """Whether labs are marked by the same editions still."""
        texts = self.examiner.texts
        return all(texts.get(lab) == now for lab, now in editions_now(self.records).items())

    def found(self, trainee: str, lab: str, exercise: str) -> Result:
        """The attempt that counts, unless only another one of the trainee's waits for the mark.

        Raises `ClassError`.
        """
        return _found(self.results, trainee, lab, exercise)

    def of_workbook(self, workbook: str) -> Result | None:
        """The result of whose own workbook it is; None where they worked in another's."""
        item = self.examiner.deal.dealt.of_workbook(workbook)
        found = self.results.attempts_of(item.trainee, item.lab) if item else []
        return next((one for one in found if one.work.workbook == workbook), None)

    def on_a_copy(self, trainees: Sequence[str]) -> ByHand:
        """The same over a copy of what the records hold of these, to try a mark out on."""
        groups = [self.examiner.deal.dealt.together_of(trainee) for trainee in trainees]
        numbers = {item.workbook for theirs in groups for items in theirs for item in items}
        with self.records.reading() as connection:
            pairs = Pairs.of(connection)
        tried = copy(self)
        tried.records = self.records.copied_of(numbers | {*map(pairs.works_in, numbers)})
        return tried

    def same(self, result: Result) -> Result:
        """The result of the same workbook as it is now."""
        own = self.results.attempts_of(result.dealt.trainee, result.dealt.lab)
        return next(item for item in own if item.dealt == result.dealt)

    @property
    def results(self) -> Results:
        """The class's results as the records have them now."""
        # Anew each time: what is voided is read once.
        return Results(self.examiner, self.records, self._hand_ins)

    def exercise(self, result: Result, exercise: str) -> Exercise:
        """An exercise of the lab by which it is marked. Raises `ClassError`."""
        known = {item.id: item for item in self.examiner.labs[result.dealt.lab].exercises}
        if exercise not in known:
            raise ClassError(
                f"'{result.dealt.lab}' has no exercise '{exercise}'. "
                f"{nearest(exercise, list(known))}"
            )
        return known[exercise]

    def rubric(self, result: Result, exercise: str) -> tuple[Mapping[str, Any], ...]:
        """The items that a mark is made of, as a check's key has them; () without a rubric."""
        return _rubric(self.examiner, result, exercise)

    def not_ready(self, result: Result, exercise: str) -> frozenset[str]:
        """The items that must be seen in person and that the trainee did not say to be ready."""
        return _not_ready(result, self.exercise(result, exercise), mark_of(result, exercise))

    def against_plan(self, result: Result, exercise: str) -> Agreements | None:
        """What was heard on a real network, held against the plan; None where nothing was."""
        asked = self.exercise(result, exercise)
        check = check_for(asked.kind)
        if not isinstance(check, HeldAgainstPlan):
            return None
        journal = result.hand_in.read(result.hand_in.digest) if result.hand_in else ()
        found = answers_in(journal or ()).get(asked.id)
        answer = found.answer if found else None
        return check.against_plan(result.scenario.prepare(asked).ask, answer)

    def caution(self, result: Result, exercise: str) -> str:
        """What the exercise's author warns of, as Markdown; "" for nothing."""
        asked = self.exercise(result, exercise)
        check = check_for(asked.kind)
        ask = result.scenario.prepare(asked).ask
        return check.caution(ask) if isinstance(check, Warns) else ""

    def model(self, result: Result, exercise: str) -> str:
        """The author's own answer with this trainee's numbers; "" without one."""
        key = result.scenario.prepare(self.exercise(result, exercise)).key
        return str(key.get("model", ""))

    def last_given(self, result: Result, exercise: str) -> Mapping[str, Any] | None:
        """The last mark that a person gave, of whatever answer, as the records have it."""
        query = select(manual).where(
            manual.c.workbook == result.work.workbook, manual.c.exercise == exercise
        )
        rows = self.records.rows(query.order_by(manual.c.id.desc()).limit(1))
        return rows[0] if rows else None

    def give(
        self,
        result: Result,
        exercise: str,
        shares: Sequence[str],
        *,
        by: str,
        note: str = "",
        not_ready: bool = False,
        seen: Seen | None = None,
        all_scored: Callable[[], bool] = lambda: False,
    ) -> Given:
        """Give an exercise a mark by hand.

        `shares` are "0.5" for the whole, or "item=0.5" for each item of the rubric, 0 to 1 each. A
        mark that the calculation gave may be put right the same way, with a note; so may one that a
        person gave, once the lab's results are released. What the trainee did not say to be ready,
        or has not handed in, is signed off only with `not_ready` and a note on what was seen. The
        very same mark given again adds nothing. Whoever knows that `all_scored` is what came in
        need not look through it. Raises `ClassError`; `SaidMeanwhileError` where something else
        holds by now than was `seen`.
        """
        mark = mark_of(result, exercise)
        if not by.strip():
            raise ClassError("Say who gives the mark: --by NAME.")
        if seen and (mark.answer_digest if mark else "") != seen.answer:
            raise SaidMeanwhileError
        if mark is None and not all_scored():
            _require_no_arrival(self.examiner, self.records, result)
        self._require_reason(result, exercise, mark, note)
        rubric = self.rubric(result, exercise)
        given = _shares(shares, rubric)
        missing = self.not_ready(result, exercise)
        signed = [item for item in rubric if given.get(WHOLE) or given.get(str(item["id"]))]
        unready = [item for item in signed if item["id"] in missing]
        if unready:
            _require_seen(result, unready, note, not_ready=not_ready)
        elif mark is None:
            raise ClassError(
                f"There is no scored hand-in of {result.dealt.name} for '{result.dealt.lab}': "
                "nothing that counts has come in yet."
            )
        entry = {
            "workbook": result.work.workbook,
            "exercise": exercise,
            "answer_digest": IN_PERSON if mark is None or unready else mark.answer_digest,
            "credit": _credit(given, rubric),
            "shares": json.dumps(given, ensure_ascii=False),
            "by": by.strip(),
            "note": note.strip(),
            "marked_at": CLOCK.now(),
        }
        if mark is not None and mark.marked_by and not note.strip():
            self._require_no_change(result, exercise, entry)
        before = None if seen else self.last_given(result, exercise)
        earlier = self.records.add_unless_said(
            manual,
            entry,
            of=("workbook", "exercise"),
            same=_SAME,
            after=seen.last if seen else None,
        )
        now = self.same(result)
        already, instead = "", ""
        if before and not earlier and before["by"] != by.strip():
            instead = f"It takes the place of the {100 * before['credit']:.0f} % by {before['by']}."
        if earlier:
            since = self.folder.fields.spoken(earlier["marked_at"])
            already = f"That mark was given already, {since}: nothing was added."
        return Given(
            now, exercise, by.strip(), mark_of(now, exercise), bool(unready), already, instead
        )

    def _require_reason(self, result: Result, exercise: str, mark: Mark | None, note: str) -> None:
        """Raise `ClassError` where what the calculation gave is put right without a reason."""
        seen_in_person = isinstance(check_for(self.exercise(result, exercise).kind), SeenInPerson)
        if mark and not (mark.verdict.awaits or mark.marked_by or note.strip() or seen_in_person):
            raise ClassError(
                f"'{exercise}' was marked by calculation. To put that right, say why: --note."
            )

    def _require_no_change(self, result: Result, exercise: str, entry: Mapping[str, Any]) -> None:
        """Raise `ClassError` where a mark would change without a reason that was told already."""
        last = self.last_given(result, exercise)
        changes = last is None or any(last[name] != entry[name] for name in _SAME)
        if changes and is_released(self.folder, result.dealt.lab):
            raise ClassError(
                f"The results of '{result.dealt.lab}' are released, and this mark with them. To "
                "change it, say why in the note, which the trainee reads: --note."
            )


def is_released(folder: ClassFolder, lab: str) -> bool:
    """Whether the room's log says that everybody may see their results of a lab."""
    return any(
        entry.get("act") == RELEASED and entry.get("lab") == lab
        for entry in room_entries(folder.room_log)
    )


def mark_of(result: Result, exercise: str) -> Mark | None:
    """The mark of an exercise; None where no hand-in counts."""
    return next((item for item in result.marks if item.exercise == exercise), None)


def _found(results: Results, trainee: str, lab: str, exercise: str) -> Result:
    of_trainee = results.of(trainee)
    if not of_trainee:
        raise ClassError(f"Nobody with the id '{trainee}' was dealt a workbook in this class.")
    result = next((item for item in of_trainee if item.dealt.lab == lab), None)
    if result is None:
        labs = [item.dealt.lab for item in of_trainee]
        raise ClassError(f"{trainee} was not dealt the lab '{lab}'. {nearest(lab, labs)}")
    attempts = [item for item in results.attempts_of(trainee) if item.dealt.lab == lab]
    for item in (*reversed(attempts), result):
        if any(mark.exercise == exercise and mark.awaits for mark in item.marks):
            result = item
    return result


def _require_no_arrival(examiner: Examiner, records: Records, result: Result) -> None:
    dealt = result.dealt
    told = Arrivals.of(examiner, records).of_workbook(result.work.workbook)
    if told:
        raise ClassError(f"There is no scored hand-in of {dealt.name} for '{dealt.lab}'. {told}")


def _not_ready(result: Result, exercise: Exercise, mark: Mark | None) -> frozenset[str]:
    """The items that must be seen in person and that the trainee did not say to be ready."""
    check = check_for(exercise.kind)
    if not isinstance(check, SeenInPerson):
        return frozenset()
    journal = result.hand_in.read(result.hand_in.digest) if result.hand_in else ()
    if journal is None and mark is not None and mark.verdict.awaits:
        # The file is gone. That something was ready is all that the records know.
        return frozenset()
    found = answers_in(journal or ()).get(exercise.id)
    ask = result.scenario.prepare(exercise).ask
    return frozenset(check.not_ready(ask, found.answer if found else None))


def _require_seen(
    result: Result, unready: Sequence[Mapping[str, Any]], note: str, *, not_ready: bool
) -> None:
    """Raise `ClassError` unless the instructor says that they saw what was not said to be ready."""
    dealt = result.dealt
    if not_ready and note.strip():
        return
    if not_ready:
        raise ClassError("Say in --note what you saw: it stays in the records as the reason.")
    who = f"{dealt.name} ({dealt.trainee})"
    items = [f"{item['id']} ({str(item['text']).rstrip('.')})" for item in unready]
    did = "did not say" if result.counts else "has handed in nothing that says"
    raise ClassError(
        f"{who} {did} that this is ready to be seen: {'; '.join(items)}. If you have seen it "
        "with your own eyes all the same, sign it off with --not-ready, and say in --note what you "
        "saw. Otherwise give such an item 0, or let them tick 'Ready to be seen' and hand in."
    )


def _rubric(examiner: Examiner, result: Result, exercise: str) -> tuple[Mapping[str, Any], ...]:
    """The items that a mark is made of: [{"id", "text", "marks_share"}]; () without a rubric."""
    found = next(i for i in examiner.labs[result.dealt.lab].exercises if i.id == exercise)
    rubric = result.scenario.prepare(found).key.get("rubric", ())
    return tuple(rubric) if isinstance(rubric, list | tuple) else ()


def _shares(texts: Sequence[str], rubric: Sequence[Mapping[str, Any]]) -> dict[str, float]:
    known = [str(item["id"]) for item in rubric]
    given: dict[str, float] = {}
    for text in texts:
        item, _, number = text.rpartition("=")
        item = item.strip() or WHOLE
        if item != WHOLE and item not in known:
            raise ClassError(
                f"The rubric has no item '{item}'. {nearest(item, known)}".strip()
                if known
                else f"This exercise has no rubric: write --share 0.5 instead of '{text}'."
            )
        if item in given:
            raise ClassError(f"The share of '{item}' is there twice.")
        given[item] = _share(number)
    missing = [item for item in known if item not in given]
    if WHOLE in given and len(given) > 1:
        raise ClassError("Give one share for the whole, or one for each item, not both.")
    if WHOLE not in given and (missing or not given):
        raise ClassError(
            f"A share is missing for {', '.join(missing) or 'the exercise'}. Write --share "
            f"{missing[0] + '=' if missing else ''}0.5 (0 is nothing, 1 is all of it)."
        )
    return {item: given[item] for item in (known if WHOLE not in given else [WHOLE])}


def _share(text: str) -> float:
    try:
        share = float(text.strip().replace(",", "."))
    except ValueError:
        share = math.nan
    if not 0 <= share <= 1:
        raise ClassError(f"'{text}' is not a share: write a number from 0 to 1.")
    return share


def _credit(given: Mapping[str, float], rubric: Sequence[Mapping[str, Any]]) -> float:
    """The share of the marks: each item's share times its part of the marks."""
    if WHOLE in given:
        return given[WHOLE]
    parts = [float(item["marks_share"]) * given[str(item["id"])] for item in rubric]
    whole = math.fsum(float(item["marks_share"]) for item in rubric)
    return min(1.0, math.fsum(parts) / whole) if whole else 0.0
