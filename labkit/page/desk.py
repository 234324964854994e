"""One person's workbook at the web host: what its pages show, and what they ask for."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from pathlib import Path
from threading import Lock
from typing import Any, NotRequired, TypedDict, cast

from labkit.answering.answering import Answering
from labkit.answering.messages import Reply, Saved, Shown
from labkit.answering.own_topics import OwnTopics
from labkit.exchange.append_only import AddLine, add_line
from labkit.exchange.hand_in import HandInContent, hand_in
from labkit.exchange.journal import HANDED_IN, OPENED, ExerciseRecord, Journal, records
from labkit.exchange.task_file import Task, journal_path
from labkit.lab.definition import Lab
from labkit.page.drill import DrillReply, Drills
from labkit.page.kept_plays import WorkbookPlays
from labkit.page.prose import saved_as_read, shown_as_read
from labkit.page.sheet import Sheet


class SavedBy(Saved):
    """What is saved of an exercise; where several work at it, by whom."""

    by: NotRequired[str]


class ShownNow(Shown):
    """What an exercise shows after so many `steps`; where several took them, each one's `hands`.

    Those are of what `view` tells as `steps`, one for one; "" where it is not known.
    """

    steps: int
    hands: NotRequired[list[str]]


class ExerciseNow(TypedDict):
    """An exercise as it is now, and the kind whose page module shows it.

    What it shows is asked for when somebody looks at it: a bench is only then set up. `steps` is
    how many were taken there; `drills` says whether there may be one more like it.
    """

    kind: str
    title: str
    saved: SavedBy
    steps: int
    drills: bool


Turn = tuple[str, int]
"""One opening of a desk, and a number that grows there: what is told may come late."""


class Opened(TypedDict):
    """What a page gets when it is opened. No key is in it, and no signing key."""

    turn: Turn

    workbook: str
    trainee: str
    class_title: str
    practice: bool
    picture: str
    sheet: Sheet
    exercises: dict[str, ExerciseNow]


class Heard(TypedDict):
    """What comes of a page's message: for all pages of the workbook, and for the one that asked."""

    exercise: str
    turn: Turn
    saved: SavedBy
    steps: int
    reply: Reply | DrillReply


class Desk:
    """A workbook whose answers are kept in the journal beside `task_file`, by `add`.

    It may be asked from several threads; acts are done one after the other. Before each `why_shut`
    is asked: a sentence for pages why nothing is kept any more, "" while it is. `why_waits` says
    why for a while: pages then send what they have again until it is kept. With its `lab` a
    practice workbook has drills; `name_of` says whose a hand is. Benches are played in `plays`,
    without it in this process. `topic_of` says in words how the trainee stands in the topic of an
    exercise, without it by this workbook alone. Raises `OSError` when the journal cannot be
    written, and `NotInstalledError` for a kind that is not here.
    """

    def __init__(
        self,
        task: Task,
        task_file: Path,
        sheet: Sheet,
        *,
        why_shut: Callable[[], str] = str,
        why_waits: Callable[[], str] = str,
        lab: Lab | None = None,
        add: AddLine = add_line,
        name_of: Callable[[str], str] = str,
        plays: WorkbookPlays | None = None,
        topic_of: Callable[[str], str] | None = None,
    ) -> None:
        self._plays = plays
        self._task, self._sheet = task, sheet
        self._why_shut, self._why_waits = why_shut, why_waits
        self._one_at_a_time = Lock()
        self._turn: Turn = (secrets.token_hex(4), 0)
        self._journal = Journal(journal_path(task_file), add)
        self._journal.append(OPENED, lab=task["lab"]["id"])
        self._records = records(self._journal.read().entries)
        self._topic_of = topic_of or OwnTopics(task, lambda: self._journal.read().entries).line
        self._exercises = {each["id"]: each for each in task["exercises"]}
        self._answering = {name: self._made(each) for name, each in self._exercises.items()}
        self._name_of = name_of
        self.number: str = task["workbook"]
        self._drills = (
            Drills(lab, sheet, self._journal, plays, self._topic_of)
            if lab and task["practice"]
            else None
        )

    def _made(self, exercise: Any) -> Answering:
        example = (exercise.get("practice") or {}).get("example")
        pictures: Mapping[str, str] = self._task.get("example_pictures", {})
        return Answering(
            exercise,
            journal=self._journal,
            record=self._records.get(exercise["id"], ExerciseRecord()),
            when_saved=self._records.__setitem__,
            example_picture=pictures.get(str(example["draw"]), "") if example else "",
            play=self._plays.of(exercise["id"], exercise["kind"]) if self._plays else None,
            topic=partial(self._topic_of, exercise["id"]),
        )

    @property
    def scripts(self) -> dict[str, Path]:
        """The page module of each kind that is in the workbook."""
        return {each.kind: each.page_of.script_file() for each in self._answering.values()}

    def opened(self) -> Opened:
        """The workbook as it is now."""
        with self._one_at_a_time:
            picture = self._task.get("picture")
            return {
                "turn": self._turn,
                "workbook": self._task["workbook"],
                "trainee": self._task["trainee"]["name"],
                "class_title": self._task["class"]["title"],
                "practice": self._task["practice"],
                "picture": picture["svg"] if picture else "",
                "sheet": self._sheet,
                "exercises": {
                    name: {
                        "kind": each.kind,
                        "title": each.title,
                        "saved": self._saved(name),
                        "steps": len(self._record(name).steps),
                        "drills": self._drills is not None and each.page_of.drills,
                    }
                    for name, each in self._answering.items()
                },
            }

    def shown(self, name: str) -> ShownNow | None:
        """What an exercise shows now; None where there is none of that name.

        It waits for what was done at its bench to be played again.
        """
        answering = self._answering.get(name)
        if answering is None:
            return None
        with self._one_at_a_time:
            shown = shown_as_read(answering.shown_now())
            record = self._record(name)
            told = cast(ShownNow, {**shown, "steps": len(record.steps)})
            if any(record.hands):
                told["hands"] = self._hands(record, shown["view"].get("steps", ()))
            return told

    def _hands(self, record: ExerciseRecord, done: Iterable[Any]) -> list[str]:
        """Who took each of these steps; what was kept and did not come about is passed over."""
        place, hands = 0, []
        for one in done:
            at = next((i for i in range(place, len(record.steps)) if record.steps[i] == one), None)
            hand = "" if at is None else record.hands[at]
            hands.append(self._name_of(hand) if hand else "")
            place = place if at is None else at + 1
        return hands

    def _record(self, name: str) -> ExerciseRecord:
        return self._records.get(name, ExerciseRecord())

    def _saved(self, name: str) -> SavedBy:
        saved = cast(SavedBy, saved_as_read(self._answering[name].saved))
        by = self._record(name).by
        return {**saved, "by": self._name_of(by)} if by else saved

    def hear(self, said: object, *, by: str = "", why_not: Callable[[], str] = str) -> Heard | None:
        """Do what a page asks for; None where it is no message here. Any JSON may come.

        It waits for the disk, and for a bench to be played. `by` is whose hand did it, as the host
        knows it: the journal keeps it. `why_not` says why this hand may do nothing here any more. A
        page that shows another workbook says its number, and is not heard.
        """
        if not isinstance(said, dict) or said.get("workbook", self.number) != self.number:
            return None
        name = said.get("exercise")
        answering = self._answering.get(name) if isinstance(name, str) else None
        if answering is None:
            return None
        with self._one_at_a_time:
            shut = why_not() or self._why_shut()
            waits = "" if shut else self._why_waits()
            reply = self._reply(str(name), said.get("message"), by, shut, waits)
            if reply is None:
                return None
            self._turn = (self._turn[0], self._turn[1] + 1)
            return {
                "exercise": str(name),
                "turn": self._turn,
                "saved": self._saved(str(name)),
                "steps": len(self._record(str(name)).steps),
                "reply": reply,
            }

    def _reply(
        self, name: str, message: Any, by: str, shut: str, waits: str
    ) -> Reply | DrillReply | None:
        answering, drills = self._answering[name], self._drills
        to_drill = isinstance(message, dict) and message.get("do") == "drill"
        if to_drill and drills and answering.page_of.drills:
            return drills.hear(self._exercises[name], message, by=by, shut=shut, waits=waits)
        return answering.hear(message, by=by, shut=shut, waits=waits)

    def handed_in(self, *, by: str = "") -> HandInContent:
        """The hand-in of all that is kept by now, `by` whose hand. Raises `OSError`."""
        with self._one_at_a_time:
            self._journal.append(HANDED_IN, **({"by": by} if by else {}))
            return hand_in(self._task, self._journal)

    @property
    def saved(self) -> dict[str, Saved]:
        """What is on disk of each exercise, in the workbook's order; it waits for nothing."""
        return {name: each.saved for name, each in self._answering.items()}
