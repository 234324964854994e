"""Marks by hand in an open room: the same acts as `labkit mark`, made ready once for many answers.

It knows no browser. It reads and writes the class's records and waits for them.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.language.markdown import message_html, to_html
from labkit.page.prose import as_read
from labkit.page.sheet import cautions_before
from labkit.room.kept_ready import KeptReady
from labkit.room.results import work_out_results
from labkit.room.room import Room

if TYPE_CHECKING:
    from labkit.classroom.dealt import Dealt
    from labkit.classroom.mark import Mark
    from labkit.classroom.marks.by_exercise import ByExercise, ExerciseByHand, LabByHand
    from labkit.classroom.marks.by_hand import ByHand
    from labkit.classroom.result import Result

_GONE: Final = "That answer does not count any more: look at the list again."


class Marking:
    """What a trainer sees and gives of the marks that people give. Raises `ClassError`."""

    def __init__(self, room: Room) -> None:
        self._room = room
        # Two, so that a mark that is saved never waits for what came in to be marked.
        self._everybody = KeptReady(_by_exercise)
        self._one = KeptReady(_by_hand)
        self._taken_in: object = None

    # Exercise by exercise

    def waiting(self) -> dict[str, Any]:
        """The exercises that people mark, a lab each; what came in meanwhile is there."""
        with self._everybody.lock:
            return {"labs": [self._lab_said(lab) for lab in self._looked().labs()]}

    def _looked(self) -> ByExercise:
        """All that came in is marked first, from the room and from sticks."""
        from labkit.classroom.marks.by_exercise import came_in

        by_exercise = self._everybody.of(self._room.folder, self._state)
        came = came_in(self._room.folder)
        if came != self._taken_in:
            by_exercise.take_in()
            self._taken_in = came
        return by_exercise

    def _all_taken_in(self) -> bool:
        from labkit.classroom.marks.by_exercise import came_in

        return self._taken_in is not None and self._taken_in == came_in(self._room.folder)

    def _lab_said(self, lab: LabByHand) -> dict[str, Any]:
        return {
            "lab": lab.lab,
            "title": lab.title,
            "handed_in": len(lab.handed_in),
            "missing": lab.missing,
            "released": self._room.is_released(lab.lab),
            "exercises": [_exercise_said(each) for each in lab.exercises],
        }

    def exercise(self, lab: str, exercise: str) -> dict[str, Any]:
        """Whose answers there are, by the numbers of their workbooks alone."""
        with self._everybody.lock:
            found = self._looked().exercise(lab, exercise)
        if found is None:
            raise ClassError("Nobody marks that exercise by hand.")
        works = [{"work": one.workbook, "waits": one.waits} for one in found.works]
        return {**_exercise_said(found), "lab": lab, "works": works}

    # Answer by answer

    def answer(self, work: str, exercise: str, *, names: bool) -> dict[str, Any]:
        """One answer, and what it is marked by; a name only where `names` are asked for."""
        with self._one.lock:
            hand = self._one.of(self._room.folder, self._state)
            return self._said(hand, self._result(hand, work), exercise, names=names)

    def give(self, said: Mapping[str, Any], by: str) -> dict[str, Any]:
        """Give a mark or a sign-off; what holds by then, as "saved" or as given "meanwhile".

        It is on the disk then, on the second one too. Raises `ClassError`, `OSError`.
        """
        from labkit.classroom.marks.by_hand import Seen
        from labkit.classroom.records.store import SaidMeanwhileError

        work, exercise = str(said.get("work", "")), str(said.get("exercise", ""))
        names = said.get("names") is True
        seen = Seen(_number(said.get("last")), str(said.get("digest", "")))
        with self._one.lock:
            hand = self._one.of(self._room.folder, self._state)
            try:
                result = hand.give(
                    self._result(hand, work),
                    exercise,
                    _shares(said.get("shares")),
                    by=by,
                    note=str(said.get("note", "")),
                    not_ready=said.get("not_ready") is True,
                    seen=seen,
                    all_scored=self._all_taken_in,
                ).result
                how = "saved"
            except SaidMeanwhileError:
                result, how = self._result(hand, work), "meanwhile"
            now = self._said(hand, result, exercise, names=names)
        if self._room.second and how == "saved":
            self._room.second.keep_up()
        return {how: now}

    def write_results(self) -> None:
        """Work the results out anew, so that everybody sees what was changed since."""
        work_out_results(self._room.folder)

    @staticmethod
    def _result(hand: ByHand, work: str) -> Result:
        result = hand.of_workbook(work)
        if result is None:
            raise ClassError(_GONE)
        return result

    def _said(self, hand: ByHand, result: Result, exercise: str, *, names: bool) -> dict[str, Any]:
        who = _who(result) if names else ""
        released = self._room.is_released(result.dealt.lab)
        return {**answer_said(hand, result, exercise, released=released), "who": who}

    # Person by person

    def sign_offs(self) -> dict[str, Any]:
        """Everybody in the room, and what is to be seen of theirs at the real bench."""
        with self._everybody.lock:
            by_exercise = self._looked()
            labs = [lab for lab in by_exercise.labs() if any(e.in_person for e in lab.exercises)]
            before = {lab.lab: by_exercise.seen_before(lab.lab) for lab in labs}
        people = []
        for trainee, name in self._room.people.items():
            own = {item.lab: item for item in self._room.labs_of(trainee)}
            seen = [
                {**self._own_said(own[lab.lab], lab, before[lab.lab]), "title": lab.title}
                for lab in labs
                if lab.lab in own
            ]
            people.append({"id": trainee, "name": name, "labs": seen})
        return {"people": people}

    def _own_said(
        self, own: Dealt, lab: LabByHand, before: Mapping[str, set[str]]
    ) -> dict[str, Any]:
        item, partner = self._room.pairs.works_in(own), self._room.pairs.partner(own)
        return {
            "work": item.workbook,
            "together": partner.name if partner else "",
            "exercises": [
                {
                    "exercise": each.exercise,
                    "title": each.title,
                    "state": _state(each, item.workbook, lab, before[each.exercise]),
                }
                for each in lab.exercises
                if each.in_person
            ],
        }

    @property
    def _state(self) -> object:
        """What tells one state of the deal and of pairs from another."""
        room = self._room
        pairs = [
            (guest.workbook, host.workbook)
            for lab in room.folder.fields.labs
            for guest, host in room.pairs.of_lab(lab)
        ]
        return room.dealt_state, pairs


def answer_said(hand: ByHand, result: Result, exercise: str, *, released: bool) -> dict[str, Any]:
    """One answer without a name, what it is marked by, and the mark that a person gave last."""
    from labkit.classroom.marks.by_hand import mark_of

    scenario, asked = result.scenario, hand.exercise(result, exercise)
    mark, last = mark_of(result, exercise), hand.last_given(result, exercise)
    question = asked.question.render(scenario.names)
    rubric = hand.rubric(result, exercise)
    return {
        "work": result.work.workbook,
        "exercise": exercise,
        "lab": result.dealt.lab,
        "title": asked.title.render(scenario.names),
        "possible": asked.marks,
        "together": len(result.together),
        "cautions": cautions_before(scenario, exercise),
        "caution": as_read(to_html(hand.caution(result, exercise)), words=False),
        "question": as_read(to_html(question), words=False),
        "answer": mark.answer if mark else "",
        "handed_in": mark is not None,
        "hint_cost": mark.hint_cost if mark else 0,
        "model": as_read(message_html(hand.model(result, exercise)), words=False),
        "rubric": [
            {
                "id": item["id"],
                "text": as_read(to_html(str(item["text"])), words=False),
                "worth": round(item["marks_share"] * asked.marks, 4),
            }
            for item in rubric
        ],
        "against_plan": hand.against_plan(result, exercise),
        "not_ready": sorted(hand.not_ready(result, exercise)),
        "released": released,
        "digest": mark.answer_digest if mark else "",
        "last": last["id"] if last else 0,
        "given": _given(mark, last),
    }


def _given(mark: Mark | None, last: Mapping[str, Any] | None) -> dict[str, Any] | None:
    """The mark that a person gave last; `holds` is false where it was of another answer."""
    if last is None:
        return None
    return {
        "by": last["by"],
        "at": last["marked_at"],
        "note": last["note"],
        "shares": json.loads(last["shares"]),
        "earned": mark.earned if mark and mark.marked_by else None,
        "holds": mark is None or bool(mark.marked_by),
    }


def _by_exercise(folder: ClassFolder) -> ByExercise:
    # Not before: a room that is opened again must not wait for what keeps records.
    from labkit.classroom.marks.by_exercise import ByExercise

    return ByExercise(folder)


def _by_hand(folder: ClassFolder) -> ByHand:
    from labkit.classroom.marks.by_hand import ByHand

    return ByHand(folder)


def _exercise_said(each: ExerciseByHand) -> dict[str, Any]:
    return {
        "exercise": each.exercise,
        "number": each.number,
        "title": each.title,
        "possible": each.possible,
        "in_person": each.in_person,
        "waiting": each.waiting,
        "of": len(each.works),
    }


def _state(each: ExerciseByHand, work: str, lab: LabByHand, before: set[str]) -> str:
    """How somebody stands in a sign-off, in one word for the page."""
    found = next((one for one in each.works if one.workbook == work), None)
    if found is None:
        if work in lab.handed_in:
            return "nothing ready"
        return "seen before" if work in before else "not handed in"
    return "ready" if found.waits else "signed"


def _who(result: Result) -> str:
    dealt = result.dealt
    again = f", attempt {dealt.attempt}" if result.attempts > 1 else ""
    whom = f", {result.with_whom}" if result.together else ""
    return f"{dealt.name} ({dealt.trainee}){again}{whom}"


def _shares(said: object) -> list[str]:
    """The shares of a page as the command line has them."""
    if not isinstance(said, dict):
        return []
    return [f"{item}={share}" for item, share in said.items()]


def _number(said: object) -> int:
    return said if isinstance(said, int) and not isinstance(said, bool) else 0
