"""What the projector shows: of a class, never of a person.

Everything is made of what a class has in common: counts, and draws that nobody was dealt. No name,
id, workbook number, code, answer or number of a trainee's is taken, so that none can be sent.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from itertools import islice
from threading import Lock
from typing import TYPE_CHECKING, Any, Final

from labkit.classroom.analysis.ways_taken import can_be_replayed
from labkit.classroom.dealt import Dealt
from labkit.exchange.journal import records
from labkit.kinds.common.paper import Mistake
from labkit.lab.definition import Exercise, Lab
from labkit.lab.draw import Scenario
from labkit.language.markdown import message_html
from labkit.language.problems import DefinitionError
from labkit.page.prose import as_read
from labkit.page.sheet import Sheet, sheet_of
from labkit.room.few import LEAST, Told, told
from labkit.room.log import OF_AN_EXERCISE, Projected, View
from labkit.room.replaying import Replay, Replays, Wanted, Work, parts, picture, taps
from labkit.room.room import Room
from labkit.workbook.for_everybody import ForEverybody

if TYPE_CHECKING:
    from labkit.classroom.analysis.misunderstood import SlipRank
    from labkit.classroom.mark import Mark
    from labkit.classroom.marks.so_far import SoFar
    from labkit.classroom.result import Result

_STATES: Final = ("right", "partly", "saved", "open")
_LOOKED_AT: Final = 6
"""So many draws are looked at for the words of a known mistake, and for an exercise."""
_MORE: Final = 3
"""Known mistakes that are shown below those that are taught again first."""
_QUESTION: Final = "the question"
_MISTAKES: Final = "known mistakes"
_ANSWER: Final = "the right answer"
_WORKING: Final = "working, step"
_NO_WORDS: Final = "A known mistake that cannot be made with the numbers shown here."
_NO_DRAW: Final = "All numbers of this lab are dealt: there are none left to show to everybody."
_NOT_PLAYED: Final = Replay(failed=_NO_DRAW)


class Projecting:
    """The picture of one room's projector, and what the trainer chooses from.

    It takes its time, so it is asked in threads, and made anew only when something changed.
    """

    def __init__(self, room: Room, address: str) -> None:
        self._room, self._address = room, address
        self._one_at_a_time = Lock()
        self._made: tuple[Any, bytes] | None = None
        self._found: dict[
            tuple[str, str], tuple[list[Scenario], list[tuple[ForEverybody, Sheet]]]
        ] = {}
        self._drawn: dict[str, tuple[frozenset[str], list[Scenario]]] = {}
        self._so_far: SoFar | None = None
        self._replays = Replays()

    # The picture

    def now(self) -> bytes:
        """The picture as JSON."""
        with self._one_at_a_time:
            position = self._position()
            if self._made is None or self._made[0] != position:
                self._made = position, json.dumps(self._picture(), ensure_ascii=False).encode()
            return self._made[1]

    def _position(self) -> Any:
        """What the picture is made of, in short: as long as it is the same, so is the picture."""
        room, shown = self._room, self._room.projected
        if not self._fits(shown):
            self._replays.look_away()
            return shown
        if shown.view is View.REPLAY:
            # While it is looked at it stays as it was made, whatever is measured meanwhile.
            return shown, id(self._replay(shown))
        self._replays.look_away()
        items = self._items(shown.lab)
        sizes = [(item.workbook, room.workbooks.size(item)) for own in items for item in own]
        hosts = [room.pairs.works_in(own[-1]).workbook for own in items]
        return shown, room.may_tell(shown.lab), sizes, hosts, len(room.people), self._scored_at()

    def _picture(self) -> dict[str, Any]:
        shown, room = self._room.projected, self._room
        about = {"view": shown.view, "class_title": room.folder.fields.title, "down": shown.down}
        if not self._fits(shown):
            return {**about, "view": View.CLASS, **self._way_in()}
        lab = room.workbooks.lab(shown.lab)
        about["lab"] = lab.title
        if shown.view is View.PROGRESS:
            return {**about, **self._progress(lab)}
        if shown.view is View.DEBRIEF:
            return {**about, **self._debrief(lab)}
        if shown.view is View.REPLAY:
            return {**about, **self._replayed(lab, shown)}
        return {**about, **self._exercise(lab, shown)}

    def _fits(self, shown: Projected) -> bool:
        """Whether it is something of a lab that may be told.

        The room asks that of the trainer too; since then class.yaml may have become another.
        """
        room = self._room
        if shown.view is View.CLASS or shown.lab not in room.folder.fields.labs:
            return False
        names = [each.id for each in room.workbooks.lab(shown.lab).exercises]
        if shown.view in OF_AN_EXERCISE and shown.exercise not in names:
            return False
        return shown.view is View.PROGRESS or room.may_tell(shown.lab)

    def _way_in(self) -> dict[str, Any]:
        from labkit.classroom.square_code import square_code

        return {"address": self._address, "square": square_code(self._address)}

    # How far a class is

    def _progress(self, lab: Lab) -> dict[str, Any]:
        at_work = [item for item in self._worked_in(lab.id) if self._room.workbooks.begun(item)]
        states = [self._states(item) for item in at_work]
        tells = self._room.may_tell(lab.id)
        shown = _STATES if tells else ("saved", "open")
        exercises = []
        for number, exercise in enumerate(lab.exercises, 1):
            of_this = [one.get(exercise.id, "open") for one in states]
            parts = told([of_this.count(state) for state in shown])
            exercises.append(
                {
                    "number": number,
                    "title": self._title(lab, exercise),
                    "parts": _parts(shown, parts) if parts else None,
                }
            )
        return {"told": tells, "people": _people(len(at_work)), "exercises": exercises}

    def _states(self, item: Dealt) -> dict[str, str]:
        """How each exercise of a workbook stands; without a check where nothing may be told."""
        if self._room.may_tell(item.lab):
            return {mark.exercise: _state(mark) for mark in self._marks().marks(item)}
        found = records(self._room.workbooks.entries(item))
        return {name: "saved" for name, record in found.items() if record.answered}

    # An exercise with its working

    def _exercise(self, lab: Lab, shown: Projected) -> dict[str, Any]:
        exercise = _named(lab, shown.exercise)
        found = self._in_draws(lab, exercise)
        about = {"number": lab.exercises.index(exercise) + 1, "title": self._title(lab, exercise)}
        if not found:
            return {**about, "refused": _NO_DRAW}
        one, sheet = found[0]
        uncovered = _steps(one)[: shown.step + 1]
        working = [as_read(step, words=False) for step in one.working]
        # What is covered is not sent.
        return {
            **about,
            "title": one.title,
            "step": len(uncovered) - 1,
            "picture": _drawing(one.scenario, wide=len(uncovered) == 1),
            **_read_before(sheet, exercise, [other for _, other in found[1:]]),
            "place": one.place,
            "mistakes": self._mistakes(lab, exercise, one) if _MISTAKES in uncovered else None,
            "right": one.right if _ANSWER in uncovered else "",
            "working": working[: sum(step.startswith(_WORKING) for step in uncovered)],
        }

    # A replay at the bench

    def _replay(self, shown: Projected) -> Replay | None:
        """The replay that is shown; None while it is made, or where there is no draw for it."""
        lab = self._room.workbooks.lab(shown.lab)
        exercise = _named(lab, shown.exercise)
        found = self._in_draws(lab, exercise)
        if not found:
            return _NOT_PLAYED
        return self._replays.of(
            Wanted(lab.id, exercise, found[0][0].scenario, lambda: self._worked(lab))
        )

    def _worked(self, lab: Lab) -> Work:
        """Of everybody, once, what they did in a lab; voided and foreign work is not looked at."""
        with self._one_at_a_time:
            counted = [one for one in self._results(lab) if one.counts and not one.as_guest]
        entries = self._room.workbooks.entries
        return [(one, one.hand_in.journal if one.hand_in else entries(one.work)) for one in counted]

    def _replayed(self, lab: Lab, shown: Projected) -> dict[str, Any]:
        exercise = _named(lab, shown.exercise)
        about = {"number": lab.exercises.index(exercise) + 1, "title": self._title(lab, exercise)}
        replay = self._replay(shown)
        if replay is None or replay.failed:
            return {**about, "waits": replay is None, "refused": replay.failed if replay else ""}
        one, sheet = self._in_draws(lab, exercise)[0]
        found, read = picture(replay, shown.step), _read_before(sheet, exercise, ())
        return {
            **about,
            "title": one.title,
            "drawing": _drawing(one.scenario, wide=found["at"] == "start"),
            "question": read["question"],
            "cautions": read["cautions"],
            **found,
        }

    def _in_draws(self, lab: Lab, exercise: Exercise) -> list[tuple[ForEverybody, Sheet]]:
        """An exercise in draws that nobody was dealt; first the one that is shown.

        That is the one in which most of the known mistakes can be made.
        """
        draws, where = self._draws(lab), (lab.id, exercise.id)
        known = self._found.get(where)
        if known is None or known[0] is not draws:
            found = [drawn for draw in draws if (drawn := _in_draw(draw, exercise))]
            found.sort(key=lambda drawn: -len(drawn[0].mistakes))
            known = self._found[where] = draws, found
        return known[1]

    def _mistakes(self, lab: Lab, exercise: Exercise, one: ForEverybody) -> list[dict[str, Any]]:
        """The known mistakes that were made in one exercise; in a small class all there are."""
        if self._counting(lab) < LEAST:
            return [
                {"answer": mistake.answer_html, "words": _in_words(mistake), "people": None}
                for mistake in one.mistakes.values()
            ]
        slips = [slip for slip in self._slips(lab) if slip.exercise == exercise.id]
        return _in_order([self._told_of(lab, slip, one) for slip in slips])

    def _draws(self, lab: Lab) -> list[Scenario]:
        """Draws that nobody was dealt by now."""
        from labkit.classroom.dealing.nobodys_draw import nobodys_draws

        folder = self._room.folder
        dealt = frozenset(item.fingerprint for own in self._items(lab.id) for item in own)
        known = self._drawn.get(lab.id)
        if known is None or known[0] != dealt:
            found = nobodys_draws(folder.secret(), folder.fields.id, lab, dealt)
            known = self._drawn[lab.id] = dealt, list(islice(found, _LOOKED_AT))
        return known[1]

    def _title(self, lab: Lab, exercise: Exercise) -> str:
        """The title of an exercise; where it holds numbers, with nobody's."""
        for names in ({}, *(scenario.names for scenario in self._draws(lab))):
            try:
                return exercise.title.render(names)
            except DefinitionError:
                continue
        return exercise.id

    # What the class understands otherwise

    def _debrief(self, lab: Lab) -> dict[str, Any]:
        from labkit.classroom.analysis.teach_again import first_to_teach

        slips = self._slips(lab)
        first = first_to_teach(slips)
        rest = _in_order([self._told_of(lab, slip) for slip in slips if slip not in first])
        return {
            "people": _people(self._counting(lab)),
            "first": [one for slip in first if (one := self._told_of(lab, slip))],
            "more": rest[:_MORE],
        }

    def _slips(self, lab: Lab) -> tuple[SlipRank, ...]:
        from labkit.classroom.analysis.misunderstood import rank_slips

        return rank_slips(self._results(lab))

    def _counting(self, lab: Lab) -> int:
        return sum(result.counts and not result.as_guest for result in self._results(lab))

    def _told_of(
        self, lab: Lab, slip: SlipRank, one: ForEverybody | None = None
    ) -> dict[str, Any] | None:
        """A known mistake as everybody may see it; None where not even how many made it.

        In the numbers of `one`, where it can be made with them.
        """
        parts = told([slip.count, slip.handed_in - slip.count])
        if parts is None:
            return None
        exercise = _named(lab, slip.exercise)
        known = one.mistakes.get(slip.slip) if one else None
        mistake = known or self._mistake(lab, exercise, slip.slip)
        return {
            "number": slip.number,
            "title": self._title(lab, exercise),
            "answer": mistake.answer_html if mistake else "",
            "words": _in_words(mistake) if mistake else _NO_WORDS,
            "other": mistake is not None and known is None,
            "people": _count(parts[0]),
            "of": slip.handed_in,
        }

    def _mistake(self, lab: Lab, exercise: Exercise, slip: str) -> Mistake | None:
        """A known mistake with nobody's numbers."""
        for scenario in self._draws(lab):
            try:
                found = ForEverybody(scenario, exercise).mistakes.get(slip)
            except DefinitionError:
                continue
            if found:
                return found
        return None

    # Who works at a lab

    def _items(self, lab: str) -> list[list[Dealt]]:
        return self._room.workbooks.attempts(lab)

    def _worked_in(self, lab: str) -> list[Dealt]:
        """The workbooks that people work in, each once."""
        room = self._room
        present = (own[-1] for own in self._items(lab) if own[-1].trainee in room.people)
        works = (room.pairs.works_in(own) for own in present)
        return list({item.workbook: item for item in works}.values())

    def _marks(self) -> SoFar:
        # Not before: a room that is opened again must not wait for what keeps records.
        from labkit.classroom.marks.so_far import SoFar

        if self._so_far is None:
            room, books = self._room, self._room.workbooks
            self._so_far = SoFar(room.folder.fields, books.scenario, books.entries, books.size)
        return self._so_far

    def _results(self, lab: Lab) -> Sequence[Result]:
        """By the journals while a lab is practised, by the records once one was assessed."""
        if self._room.practice(lab.id):
            return self._marks().results(self._items(lab.id), self._room.pairs.works_in)
        from labkit.classroom.marks.scoring import recorded

        return [one for one in recorded(self._room.folder) if one.dealt.lab == lab.id]

    def _scored_at(self) -> int | None:
        try:
            return (self._room.folder.scores / "debrief.html").stat().st_mtime_ns
        except FileNotFoundError:
            return None

    # What the trainer chooses from

    def for_trainer(self) -> dict[str, Any]:
        """What is shown now, the steps of it, and all that there is to be shown."""
        room, shown = self._room, self._room.projected
        labs = [room.workbooks.lab(name) for name in room.folder.fields.labs]
        return {
            "view": shown.view,
            "lab": shown.lab,
            "exercise": shown.exercise,
            "step": shown.step,
            "down": shown.down,
            **self._steps_now(shown),
            "labs": [
                {
                    "id": lab.id,
                    "title": lab.title,
                    "told": room.may_tell(lab.id),
                    "exercises": [
                        {
                            "id": each.id,
                            "title": f"{number}. {self._title(lab, each)}",
                            "bench": can_be_replayed(each),
                        }
                        for number, each in enumerate(lab.exercises, 1)
                    ],
                }
                for lab in labs
            ],
        }

    def _steps_now(self, shown: Projected) -> dict[str, Any]:
        """What can be uncovered, where to begin in the middle of it, and what it waits for."""
        nothing: dict[str, Any] = {"steps": [], "parts": [], "waits": False}
        if shown.view not in OF_AN_EXERCISE or not self._fits(shown):
            return nothing
        if shown.view is View.REPLAY:
            replay = self._replay(shown)
            if replay is None or replay.failed:
                return {**nothing, "waits": replay is None}
            return {**nothing, "steps": taps(replay), "parts": parts(replay)}
        lab = self._room.workbooks.lab(shown.lab)
        found = self._in_draws(lab, _named(lab, shown.exercise))
        return {**nothing, "steps": _steps(found[0][0]) if found else []}


def _named(lab: Lab, name: str) -> Exercise:
    return next(exercise for exercise in lab.exercises if exercise.id == name)


def _steps(one: ForEverybody) -> list[str]:
    """What can be uncovered of an exercise, one after the other."""
    return [
        _QUESTION,
        *([_MISTAKES] if one.mistakes else []),
        *([_ANSWER] if one.right else []),
        *(f"{_WORKING} {at}" for at in range(1, len(one.working) + 1)),
    ]


def _state(mark: Mark) -> str:
    if mark.verdict.right:
        return "right"
    if not mark.answered:
        return "open"
    return "partly" if mark.verdict.credit > 0 else "saved"


def _people(count: int) -> str:
    """How many there are; "" where too few for anything to be counted."""
    return str(count) if count >= LEAST else ""


def _in_words(mistake: Mistake) -> str:
    return as_read(message_html(mistake.tell, links=False), words=False)


def _parts(states: Sequence[str], parts: Sequence[Told]) -> list[dict[str, Any]]:
    return [{"state": state, **_count(part)} for state, part in zip(states, parts, strict=True)]


def _count(part: Told) -> dict[str, Any]:
    return {"words": part.words, "drawn": part.drawn}


def _in_order(found: Iterable[dict[str, Any] | None]) -> list[dict[str, Any]]:
    """Known mistakes, most people first, as far as everybody may know how many they are."""
    shown = [one for one in found if one]
    return sorted(shown, key=lambda one: (-one["people"]["drawn"], one["number"], one["words"]))


def _in_draw(scenario: Scenario, exercise: Exercise) -> tuple[ForEverybody, Sheet] | None:
    """An exercise in a draw; None where it has no values there."""
    one = ForEverybody(scenario, exercise)
    try:
        _ = one.title, one.right, one.mistakes, one.working
        return one, sheet_of(scenario)
    except DefinitionError:
        return None


def _drawing(scenario: Scenario, *, wide: bool) -> str:
    """The network: wide while it is looked at, then narrow, to stand beside what is uncovered."""
    recipe = scenario.lab.network
    return recipe.draw(scenario.network, narrow=not wide) if recipe else ""


def _read_before(sheet: Sheet, exercise: Exercise, sheets: Sequence[Sheet]) -> dict[str, Any]:
    """The question, the texts before it that hold numbers of the draw, and all cautions by then."""
    place = next(n for n, step in enumerate(sheet["steps"]) if step["exercise"] == exercise.id)
    others = [other for other in sheets if other is not sheet]
    elsewhere = {
        text["html"] for other in others for step in other["steps"] for text in step["texts"]
    }
    steps = sheet["steps"][: place + 1]
    cautions = [caution for step in reversed(steps) for caution in step["cautions"]]
    return {
        "question": steps[-1]["question"],
        "texts": [t for step in steps for t in step["texts"] if t["html"] not in elsewhere],
        "cautions": list(dict.fromkeys(cautions)),
    }
