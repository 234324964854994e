"""What a trainer sees of a class's marks: table, person, answer. Nothing is marked in here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from labkit.classroom.analysis.misunderstood import meaning_of
from labkit.classroom.class_folder import CLASS_FILE, ClassFolder
from labkit.classroom.corrections.history import corrections
from labkit.classroom.corrections.one_mark import would_give
from labkit.classroom.errors import ClassError
from labkit.classroom.exports.sheet import written_sheet
from labkit.classroom.handins.arrivals import Arrivals
from labkit.classroom.handins.settling import notices_on
from labkit.classroom.mark import Mark
from labkit.classroom.marks.by_exercise import came_in
from labkit.classroom.marks.by_hand import ByHand, Seen, is_released, mark_of
from labkit.classroom.marks.explaining import Explained, decisions, hand_in_told, other_rules
from labkit.classroom.marks.score_rows import score_row, score_rows
from labkit.classroom.pages.own_results import exercise_result, state_of
from labkit.classroom.records.store import SaidMeanwhileError
from labkit.classroom.result import Result
from labkit.classroom.share import spoken_percent
from labkit.language.markdown import message_html
from labkit.page.prose import as_read
from labkit.room.asking import number, word
from labkit.room.kept_ready import KeptReady
from labkit.room.marking import answer_said

_GONE: Final = "That answer does not count any more: open the person again."


class MarksDesk:
    """The marks of one class, with what they need kept ready. Raises `ClassError`."""

    def __init__(self) -> None:
        # Two, so that nobody waits for what came in to be looked through.
        self._kept, self._looking = KeptReady(ByHand), KeptReady(ByHand)
        self._table: tuple[object, list[dict[str, Any]]] = (None, [])
        self._came: tuple[object, dict[str, int]] = (None, {})

    # What is asked

    def table(self, folder: ClassFolder, seen: str = "") -> dict[str, Any]:
        """The score sheet, a row a person, as the records have it now.

        Whoever has `seen` the same already is told so, and no rows again.
        """
        with self._kept.lock:
            hand = self._hand(folder)
            code = hand.records.code()
            state = (_state(folder), code)
            if not code or state != self._table[0]:
                rows = [_row(one) for one in score_rows(hand.folder, hand.results)]
                self._table = state, rows
            labs, rows = _labs(hand), self._table[1]
        sheet = written_sheet(folder.scores)
        as_it_is = sha256(repr((state, sheet)).encode()).hexdigest()[:16]
        if seen == as_it_is:
            return {"same": True}
        return {
            "same": False,
            "seen": as_it_is,
            "pass_mark": folder.fields.pass_mark,
            "labs": labs,
            "rows": rows,
            "written": folder.fields.spoken(sheet[0].isoformat()) if sheet else "",
            "as_written": sheet is not None and sheet[1] == code,
        }

    def came_in(self, folder: ClassFolder) -> dict[str, Any]:
        """How much came in and is not scored; it is looked for, and that takes a while."""
        with self._looking.lock:
            hand = self._looking.of(folder, _state(folder))
            state = (came_in(folder), hand.records.code())
            if state != self._came[0]:
                found = Arrivals.of(hand.examiner, hand.records)
                waiting, lost = (sum(map(len, some.values())) for some in (found.wait, found.lost))
                told = {"waiting": waiting, "lost": lost, "unusable": found.unusable}
                self._came = state, told
            return dict(self._came[1])

    def person(self, folder: ClassFolder, who: str) -> dict[str, Any]:
        """Everything that one person handed in, and how each exercise of it stands."""
        with self._kept.lock:
            hand = self._hand(folder)
            results = hand.results.attempts_of(who)
            if not results:
                raise ClassError(f"Nobody with the id '{who}' was dealt a workbook in this class.")
            those = hand.results.of(who)
            counting, row = {one.dealt.key for one in those}, score_row(hand.folder, those)
            notices = notices_on(hand.records, hand.examiner.deal, hand.folder.fields, who)
            return {
                "id": who,
                "name": results[0].dealt.name,
                "percent": row.percent if row else "",
                "passed": row.passed if row else None,
                "open": row.open if row else "",
                "pass_mark": folder.fields.pass_mark,
                "labs": [
                    {**_of_lab(hand, each), "counts": each.dealt.key in counting}
                    for each in results
                ],
                "notices": [f"{one.file}: {one.reason}. {one.sentence}" for one in notices],
            }

    def answer(self, folder: ClassFolder, work: str, exercise: str) -> dict[str, Any]:
        """One answer, what it is marked by, and how its mark came about."""
        with self._kept.lock:
            hand = self._hand(folder)
            return self._answer(hand, _result(hand, work), exercise)

    def corrections(self, folder: ClassFolder) -> dict[str, Any]:
        """What may be put right for everybody, and what was so far."""
        with self._kept.lock:
            hand = self._hand(folder)
            spoken = folder.fields.spoken
            said = [asdict(one) for one in corrections(hand.records)]
            out = {(one["lab"], one["exercise"]): one["what"] == "taken out" for one in said}
            return {
                "labs": [
                    {**lab, "exercises": _exercises(hand, lab["id"], out)} for lab in _labs(hand)
                ],
                "so_far": [{**one, "since": spoken(one["since"])} for one in said],
            }

    # What is done with one answer

    def tried(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        """What a mark by hand would change, whose and how."""
        with self._kept.lock:
            hand = self._hand(folder)
            result, exercise = _result(hand, word(said, "work")), word(said, "exercise")
            try:
                given, changes = would_give(
                    hand, result, exercise, _shares(said), by=by, **_more(said)
                )
            except SaidMeanwhileError:
                return {"meanwhile": self._answer(hand, result, exercise)}
        several = len(folder.fields.labs)
        return {
            "would": given.sentence,
            "already": given.already,
            "changes": list(changes.sentences(several)),
            "crossing": len(changes.crossing),
            "pass_mark": folder.fields.pass_mark,
        }

    def give(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        """Give a mark by hand; what holds by then, as "saved" or as given "meanwhile"."""
        with self._kept.lock:
            hand = self._hand(folder)
            result, exercise = _result(hand, word(said, "work")), word(said, "exercise")
            try:
                now = hand.give(result, exercise, _shares(said), by=by, **_more(said))
            except SaidMeanwhileError:
                again = _result(hand, word(said, "work"))
                return {"meanwhile": self._answer(hand, again, exercise)}
            return {"saved": self._answer(hand, now.result, exercise), "told": now.sentence}

    def _hand(self, folder: ClassFolder) -> ByHand:
        return self._kept.of(folder, _state(folder))

    @staticmethod
    def _answer(hand: ByHand, result: Result, exercise: str) -> dict[str, Any]:
        lab, dealt = result.dealt.lab, result.dealt
        said = answer_said(hand, result, exercise, released=is_released(hand.folder, lab))
        about = {
            "person": dealt.trainee,
            "name": dealt.name,
            "lab_title": hand.examiner.labs[lab].title,
            "with_whom": result.with_whom,
            "attempt": dealt.attempt,
            "attempts": result.attempts,
            "picture": _picture(result),
        }
        mark = mark_of(result, exercise)
        if mark is None:
            return {**said, **about, "why": None}
        return {**said, **about, "why": _why(hand, result, mark)}


def _row(row: Any) -> dict[str, Any]:
    """A row as data; what a property works out stands with it."""
    return {**asdict(row), "attempts": row.attempts, "together": row.together, "late": row.late}


def _labs(hand: ByHand) -> list[dict[str, str]]:
    labs = hand.examiner.labs
    return [{"id": lab, "title": labs[lab].title} for lab in hand.folder.fields.labs if lab in labs]


def _of_lab(hand: ByHand, result: Result) -> dict[str, Any]:
    fields, share = hand.folder.fields, result.share
    spoken, lab = fields.spoken, result.dealt.lab
    return {
        "lab": lab,
        "title": hand.examiner.labs[lab].title,
        "work": result.work.workbook,
        "attempt": result.dealt.attempt,
        "attempts": result.attempts,
        "handed_in": result.counts,
        "with_whom": result.with_whom,
        "hand_in": hand_in_told(result, spoken) if result.counts else "",
        "earned": share.earned,
        "marked": share.marked,
        "percent": spoken_percent(share.percent, fields.pass_mark) if result.counts else "",
        "waits": share.waits if result.counts else "",
        "decisions": list(decisions(hand.records, result, spoken)),
        "rules": other_rules(hand.examiner, lab),
        "exercises": [_exercise(result, mark) for mark in result.marks],
    }


def _exercise(result: Result, mark: Mark) -> dict[str, Any]:
    return {
        "exercise": mark.exercise,
        "number": mark.number,
        "title": mark.title,
        "state": state_of(mark),
        "earned": mark.earned,
        "possible": mark.possible,
        "mistake": _html(meaning_of(result, mark)) if mark.slip else "",
        "tries": mark.tries,
        "hints": mark.hints,
        "marked_by": mark.marked_by,
    }


def _picture(result: Result) -> str:
    """The network that was drawn, as the lab's pages show it; "" where there is none."""
    scenario = result.scenario
    return scenario.lab.network.draw(scenario.network) if scenario.lab.network else ""


def _html(message: str) -> str:
    """What was told of an answer: it may repeat what was typed, so there are no links in it."""
    return as_read(message_html(message, links=False), words=False)


def _why(hand: ByHand, result: Result, mark: Mark) -> dict[str, Any]:
    told = Explained.of(
        hand.examiner, hand.records, result, mark, result.hand_in.journal if result.hand_in else ()
    )
    shown = exercise_result(result.scenario, mark, [])
    spoken, lab = hand.folder.fields.spoken, result.dealt.lab
    return {
        **asdict(told),
        "state": shown["state"],
        "number": mark.number,
        "earned": mark.earned,
        "marked_by": mark.marked_by,
        "message": as_read(shown["message"], words=False),
        "known": bool(mark.slip),
        "right": shown["right"],
        "working": as_read(shown["working"], words=False),
        "hand_in": hand_in_told(result, spoken),
        "decisions": list(decisions(hand.records, result, spoken)),
        "rules": other_rules(hand.examiner, lab),
        "version": hand.examiner.labs[lab].version,
    }


def _exercises(hand: ByHand, lab: str, out: Mapping[tuple[str, str], bool]) -> list[dict[str, Any]]:
    """The exercises of a lab, their titles with the numbers of whoever comes first."""
    first = next((item for item in hand.examiner.deal.dealt if item.lab == lab), None)
    if first is None:
        return []
    names = hand.examiner.scenario(first).names
    return [
        {
            "id": each.id,
            "number": number_,
            "title": each.title.render(names),
            "voided": out.get((lab, each.id), False),
        }
        for number_, each in enumerate(hand.examiner.labs[lab].exercises, 1)
    ]


def _result(hand: ByHand, work: str) -> Result:
    result = hand.of_workbook(work)
    if result is None:
        raise ClassError(_GONE)
    return result


def _shares(said: dict[str, Any]) -> list[str]:
    """The shares of a page as the command line has them."""
    shares = said.get("shares")
    return [f"{item}={share}" for item, share in shares.items()] if isinstance(shares, dict) else []


def _more(said: dict[str, Any]) -> dict[str, Any]:
    """What goes with the shares: a note, and what whoever gives them has seen."""
    return {
        "note": word(said, "note"),
        "not_ready": said.get("not_ready") is True,
        "seen": Seen(number(said, "last"), word(said, "digest")),
    }


def _state(folder: ClassFolder) -> object:
    """What tells one state of a class from another, besides its records."""
    rules = sha256((folder.path / CLASS_FILE).read_bytes()).hexdigest()
    return rules, [_stamp(file) for file in (folder.deal_file, folder.deal_log, folder.room_log)]


def _stamp(file: Path) -> tuple[int, int]:
    try:
        found = file.stat()
    except FileNotFoundError:
        return 0, 0
    return found.st_mtime_ns, found.st_size
