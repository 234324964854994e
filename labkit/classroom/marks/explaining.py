"""How a mark came about, told from the hand-in's journal and the records."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.arrivals import Arrivals
from labkit.classroom.handins.choosing import Notice
from labkit.classroom.handins.examiner import Examiner
from labkit.classroom.handins.finding import HandInFiles
from labkit.classroom.handins.settling import notices_on, prepared
from labkit.classroom.mark import Mark
from labkit.classroom.marks.looking_back import answers_to_look_at, look_back
from labkit.classroom.marks.results import Results
from labkit.classroom.records.schema import IN_PERSON, counting, editions, manual, voids
from labkit.classroom.records.store import Records
from labkit.classroom.result import Journal, Result
from labkit.classroom.share import spoken_percent
from labkit.doors.installed import check_for
from labkit.exchange.journal import ANSWER, HINT
from labkit.language.problems import nearest


@dataclass(frozen=True, slots=True)
class Explained:
    """How the mark of one exercise came about, a sentence a line; "" where there is nothing to say.

    `by_hand` has every mark that a person gave, `voids` each time that the exercise was taken out
    of the marks or brought back.
    """

    worth: str
    tries: tuple[str, ...]
    verdict: str
    hints: str
    waits: bool
    by_hand: tuple[str, ...]
    voids: tuple[str, ...]

    @classmethod
    def of(
        cls,
        examiner: Examiner,
        records: Records,
        result: Result,
        mark: Mark,
        journal: Journal,
        *,
        slips: bool = False,
    ) -> Explained:
        """Of a mark that holds now; `journal` is the hand-in's, empty where its file is gone.

        With `slips` each try tells the id of the known mistake that it fits.
        """
        spoken = examiner.folder.fields.spoken
        told = mark.verdict.message if mark.answered else ""
        cost = f"Hints taken: {mark.hints}, which cost {mark.hint_cost:g} marks."
        return cls(
            _worth(mark),
            tuple(_tries(examiner, result, mark, journal, slips=slips)),
            " ".join(told.split()),
            cost if mark.hints else "",
            mark.awaits,
            tuple(_by_hand(records, result, mark.exercise, mark.answer_digest, spoken)),
            tuple(_voids(records, result.dealt.lab, mark.exercise, spoken)),
        )


def explain(folder: ClassFolder, trainee: str, only: str = "") -> Iterator[str]:
    """Lines that explain a trainee's marks: all of them, or those of "LAB/EXERCISE".

    Raises `ClassError` for somebody or something that is not there.
    """
    records = Records.of(folder)
    examiner = prepared(folder, records)
    arrivals = Arrivals.of(examiner, records)
    results = Results(examiner, records).attempts_of(trainee)
    notices = notices_on(records, examiner.deal, folder.fields, trainee)
    counting_ones = {result.dealt.key for result in Results(examiner, records).of(trainee)}
    if not results:
        raise ClassError(f"Nobody with the id '{trainee}' was dealt a workbook in this class.")
    lab, _, exercise = only.partition("/")
    labs = [result.dealt.lab for result in results]
    if lab and lab not in labs:
        raise ClassError(f"{trainee} was not dealt the lab '{lab}'. {nearest(lab, labs)}")
    for result in results:
        if lab in ("", result.dealt.lab):
            if result.attempts > 1:
                yield _attempt(result, counts=result.dealt.key in counting_ones)
            yield from _of_lab(examiner, records, result, exercise, arrivals)
            if not exercise:
                yield from _noticed(notices, result)


def _attempt(result: Result, *, counts: bool) -> str:
    told = "it counts" if counts else "it does not count"
    return f"Attempt {result.dealt.attempt} of {result.attempts}: {told}"


def _noticed(notices: Sequence[Notice], result: Result) -> Iterator[str]:
    for notice in notices:
        if notice.workbook == result.work.workbook:
            yield f"  ! {notice.file}: {notice.reason}. {notice.sentence}"


def _of_lab(
    examiner: Examiner, records: Records, result: Result, exercise: str, arrivals: Arrivals
) -> Iterator[str]:
    fields, dealt = examiner.folder.fields, result.dealt
    whom = f", {result.with_whom}" if result.together else ""
    yield f"{dealt.name} ({dealt.trainee}), {dealt.lab}{whom}"
    known = [item.id for item in examiner.labs[dealt.lab].exercises]
    if exercise and exercise not in known:
        raise ClassError(f"'{dealt.lab}' has no exercise '{exercise}'. {nearest(exercise, known)}")
    told = arrivals.of_workbook(result.work.workbook)
    if result.counts and result.hand_in is None:
        yield "  The hand-in was of somebody who was erased; of it only the marks are left:"
        yield f"  {_of_all(result, fields.pass_mark)}"
        return
    if result.hand_in is None or not result.counts:
        yield f"  {told or 'Nothing that counts was handed in.'}"
        for name in known:
            if exercise in ("", name):
                for line in _by_hand(records, result, name, "", fields.spoken):
                    yield f"  {name}: {line}"
        return
    if told:
        yield f"  Besides what is scored: {told}"
    yield f"  {hand_in_told(result, fields.spoken)}"
    yield f"  {_of_all(result, fields.pass_mark)}"
    yield from (f"  {line}" for line in decisions(records, result, fields.spoken))
    if told := other_rules(examiner, dealt.lab):
        yield f"  {told}"
    journal = HandInFiles(examiner.folder.hand_ins).journal(result.hand_in.digest)
    if journal is None:
        yield "  The file of the hand-in is gone; tries and hints are told from the records alone."
    for mark in result.marks:
        if exercise in ("", mark.exercise):
            yield from _of_exercise(examiner, records, result, mark, journal or ())
            yield from _steps(examiner, result, mark, journal or (), asked_for=bool(exercise))


def other_rules(examiner: Examiner, lab: str) -> str:
    """What to say where a lab is marked by other rules than this labkit's; else ""."""
    edition = examiner.editions[lab]
    if not edition.of_other_rules:
        return ""
    return (
        f"Marked by the rules '{edition.rules}'. What is said of each try below is by this "
        "labkit's, which are others; marks, verdicts and corrections are as they were given."
    )


def hand_in_told(result: Result, spoken: Any) -> str:
    """Which hand-in counts, when it was made and when it came in; "" where it is not there."""
    if result.hand_in is None:
        return ""
    late = ", late" if result.late else ""
    return (
        f"Hand-in {result.hand_in.file}, made {spoken(result.hand_in.made_at)} by "
        f"its laptop's clock{late}, received {spoken(result.hand_in.received_at)}, SHA-256 "
        f"{result.hand_in.digest[:16]}…"
    )


def _of_all(result: Result, pass_mark: float | None) -> str:
    share = result.share
    known = f"{share.earned:g} of {share.marked:g} marks"
    percent = f" ({spoken_percent(share.percent, pass_mark, 0)} %)" if share.marked else ""
    return "; ".join(filter(None, (known + percent, share.waits)))


def decisions(records: Records, result: Result, spoken: Any) -> Iterator[str]:
    """Each time that another hand-in counted, or that the lab was marked anew."""
    entries = records.rows(
        select(counting).where(counting.c.workbook == result.work.workbook).order_by(counting.c.id)
    )
    if len(entries) > 1:
        for row in entries:
            yield f"{spoken(row['decided_at'])}: {row['reason']} [{row['digest'][:10] or 'none'}]"
    for row in records.rows(
        select(editions).where(editions.c.lab == result.dealt.lab).order_by(editions.c.id)
    )[1:]:
        yield f"Marked anew since {spoken(row['since'])}, by {row['by']}: {row['reason']}"


def _of_exercise(
    examiner: Examiner, records: Records, result: Result, mark: Mark, journal: Journal
) -> Iterator[str]:
    told = Explained.of(examiner, records, result, mark, journal, slips=True)
    yield f"  {mark.number}. {mark.title} ({mark.exercise}): {told.worth}"
    yield from (f"     {line}" for line in told.tries)
    if not mark.answered:
        yield "     No answer."
    if told.verdict:
        slip = f" [slip: {mark.verdict.slip}]" if mark.verdict.slip else ""
        yield f"     Verdict: {told.verdict}{slip}"
    if told.hints:
        yield f"     {told.hints}"
    if told.waits:
        yield "     Waits for the instructor's own mark ('labkit mark')."
    yield from (f"     {line}" for line in (*told.by_hand, *told.voids))


def _voids(records: Records, lab: str, exercise: str, spoken: Any) -> Iterator[str]:
    taken = select(voids).where(voids.c.lab == lab, voids.c.exercise == exercise)
    for row in records.rows(taken.order_by(voids.c.id)):
        what = "taken out of the marks" if row["voided"] else "brought back into the marks"
        yield f"{spoken(row['since'])}: {what} by {row['by']}: {row['reason']}"


def _by_hand(
    records: Records, result: Result, exercise: str, answer_digest: str, spoken: Any
) -> Iterator[str]:
    """Every mark that a person gave, and of what."""
    given = select(manual).where(
        manual.c.workbook == result.work.workbook, manual.c.exercise == exercise
    )
    for row in records.rows(given.order_by(manual.c.id)):
        of = "" if row["answer_digest"] == answer_digest else ", for another answer"
        if row["answer_digest"] == IN_PERSON:
            of = ", seen in person, not said to be ready"
        note = f": {row['note']}" if row["note"] else ""
        yield (
            f"{spoken(row['marked_at'])}: {row['by']} gave {100 * row['credit']:.0f} % "
            f"{row['shares']}{of}{note}"
        )


def _steps(
    examiner: Examiner, result: Result, mark: Mark, journal: Journal, *, asked_for: bool
) -> Iterator[str]:
    """What each step at the bench told; it takes a while, so only where this exercise is meant."""
    lab = examiner.labs[result.dealt.lab]
    answers = answers_to_look_at(lab, journal)
    if mark.exercise not in answers:
        return
    if not asked_for:
        yield f"     What each step at the bench told: name '{lab.id}/{mark.exercise}' alone."
        return
    scenario = result.scenario
    for line in look_back(scenario, mark.exercise, answers[mark.exercise]):
        yield f"     {line}"


def _worth(mark: Mark) -> str:
    worth = f"{mark.earned:g} of {mark.possible:g} marks"
    if mark.voided:
        return f"{worth}, but voided: it counts for nobody"
    return f"{worth}, given by {mark.marked_by}" if mark.marked_by else worth


def _tries(
    examiner: Examiner, result: Result, mark: Mark, journal: Journal, *, slips: bool
) -> Iterator[str]:
    spoken = examiner.folder.fields.spoken
    exercise = next(
        item for item in examiner.labs[result.dealt.lab].exercises if item.id == mark.exercise
    )
    check = check_for(exercise.kind)
    prepared_exercise = result.scenario.prepare(exercise)
    hands = {**result.together, result.dealt.workbook: result.dealt.name}
    number = 0
    for entry in journal:
        if entry.get("exercise") != mark.exercise:
            continue
        by = hands.get(str(entry.get("by", "")))
        when = f"{_when(entry, spoken)}{f', by {by}' if by else ''}"
        if entry.get("event") == ANSWER and "answer" in entry:
            number += 1
            verdict = check.check(prepared_exercise.ask, prepared_exercise.key, entry["answer"])
            shown = check.shown(prepared_exercise.ask, entry["answer"]) or "(not readable)"
            slip = f", {verdict.slip}" if verdict.slip and slips else ""
            yield f"Try {number}{when}: {' '.join(shown.split())} ({_word(verdict)}{slip})"
        elif entry.get("event") == HINT:
            yield f"Hint {entry.get('hint')}{when}"


def _word(verdict: Any) -> str:
    if verdict.awaits:
        return "for the instructor to mark"
    if verdict.right:
        return "right"
    if not verdict.readable:
        return "cannot be read"
    return f"{100 * verdict.credit:.0f} %"


def _when(entry: Mapping[str, Any], spoken: Any) -> str:
    try:
        return f", {spoken(entry['at'])}"
    except (KeyError, ValueError, TypeError, OverflowError):
        # The journal is the trainee's own; a time in it may be anything.
        return ""
