"""One exercise that is being answered: its messages in, what the page hears and shows out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cached_property
from typing import Any, Final, Protocol

from labkit.answering.directions import Directions
from labkit.answering.messages import Example, Reply, Saved, Shown, Told, passed_by, token_of
from labkit.doors.check import HasStates, not_readable, tells_direction
from labkit.doors.installed import check_for, page_for
from labkit.doors.page import (
    MISFIT,
    ExercisePage,
    NotPlayedError,
    Play,
    PlayedPage,
    TakesFiles,
    TriesOut,
)
from labkit.doors.verdict import Verdict
from labkit.errors import reason
from labkit.exchange.journal import ANSWER, HINT, STEP, ExerciseRecord
from labkit.exchange.task_file import TaskExercise, TaskPractice
from labkit.language.markdown import message_html, to_html

PASSED_BY: Final = "this page saved a later answer already."


def has_drills(kind: str) -> bool:
    """Whether there may be one more like an exercise of this kind, with other numbers."""
    return page_for(kind).drills


class Keeps(Protocol):
    """A journal, or what stands for one."""

    def append(self, event: str, **details: Any) -> dict[str, Any]:
        """Keep an entry, on disk, and return it. Raises `OSError`, or `ValueError`."""


class Answering:
    """Does for one exercise what its page asks for, whatever carries the messages.

    `exercise` is that of a task file, `record` what the journal holds of it already, and
    `when_saved` hears of each new record. Raises `NotInstalledError`.

    `play` is where a kind's long work is done; without it that is done here. `topic` says in words
    how the trainee stands in the exercise's topic, by all that is saved; "" for nothing to say.

    A host shows `shown` and `saved`, and gives each message to `hear`. The journal keeps the
    messages' tokens: one that comes again, after a restart too, is confirmed and not done again.
    """

    def __init__(
        self,
        exercise: TaskExercise,
        *,
        journal: Keeps,
        record: ExerciseRecord,
        when_saved: Callable[[str, ExerciseRecord], None],
        example_picture: str = "",
        play: Play | None = None,
        topic: Callable[[], str] = str,
    ) -> None:
        self._check = check_for(exercise["kind"])
        self._exercise = exercise
        self._ask: dict[str, Any] = exercise["ask"]
        self._practice: TaskPractice | None = exercise.get("practice")
        self._key: dict[str, Any] | None = self._practice["key"] if self._practice else None
        self._journal = journal
        self._record = record
        self._when_saved = when_saved
        self._play = play
        self._topic = topic
        self._example = self._worked_example(example_picture)
        self._directions = self._directions_so_far()
        self.kind: str = exercise["kind"]
        self.title: str = exercise["title"]
        self.page_of = page_for(exercise["kind"])
        self.saved = self._state("")

    @cached_property
    def page(self) -> ExercisePage:
        """The kind's page, made when it is first needed: the steps of a bench are taken again."""
        steps = self._record.steps
        if self._play and issubclass(self.page_of, PlayedPage):
            return self.page_of(self._ask, self._key, steps, self._play)
        return self.page_of(self._ask, self._key, steps)

    def _worked_example(self, picture: str) -> Example | None:
        # Task files of labkit 0.1 have none.
        example = self._practice.get("example") if self._practice else None
        if not example:
            return None
        return {
            "question": to_html(example["question"]),
            "answer": to_html(example["answer"]),
            "working": to_html(example["working"]),
            "picture": picture,
        }

    def _directions_so_far(self) -> Directions:
        directions = Directions()
        if self._practice and tells_direction(self._check, self._ask):
            for answer in self._record.answers:
                if verdict := self.verdict(answer):
                    directions.take(verdict)
                if directions.used_up:
                    break
        return directions

    @cached_property
    def shown(self) -> Shown:
        """The exercise before there is an answer; its view changes in place with each step."""
        exercise, practice, page = self._exercise, self._practice, self.page
        return {
            "id": exercise["id"],
            "number": exercise["number"],
            "title": exercise["title"],
            "question": to_html(exercise["question"]),
            "marks": exercise["marks"],
            "ask": page.shown_ask(),
            "practice": practice is not None,
            "awaits": page.awaits,
            "hints": [hint["costs"] for hint in practice["hints"]] if practice else [],
            "view": {**page.view(), **page.now()},
        }

    def shown_now(self) -> Shown:
        """`shown` as it is now: the next step changes the view in place."""
        return {**self.shown, "view": {**self.shown["view"]}}

    def hear(
        self, message: object, *, by: str = "", shut: str = "", waits: str = ""
    ) -> Reply | None:
        """Do what a message of the page asks for; what the page hears of it, if anything.

        `saved` changes only after the journal is on disk; a host shows it before it hands the
        reply on. Any JSON may come: what is no message is not answered, never raised. `by` is
        whose hand did it, where the host knows; `shut` says why nothing is kept any more, `waits`
        why for a while, but what is kept already is confirmed.
        """
        if not isinstance(message, dict):
            return None
        if message.get("do") == "try" and isinstance(self.page, TriesOut) and not (shut or waits):
            return self._tried(self.page, message)
        token = token_of(message)
        if not token:
            return None
        if message.get("do") == "file" and isinstance(self.page, TakesFiles):
            # What is read is kept, or refused, with the answer that it becomes a part of.
            return {"token": token, "file": self.page.take_file(message)}
        again = token in self._record.tokens
        if waits and not again:
            return {"token": token, "failed": f"Not saved: {waits}", "again": True}
        # Made before this step is in the record: it takes those that are there again.
        stepping = self.page if message.get("do") == "step" else None
        try:
            if not again:
                self._require_in_time(token, shut)
                self._keep(message, token, {"by": by} if by else {})
        except OSError as error:
            words = f"Not saved: {reason(error)} Tell your instructor if this stays."
            return {"token": token, "failed": words, "again": True}
        except ValueError as error:
            return {"token": token, "failed": f"Not saved: {reason(error)}"}
        if stepping:
            return self._stepped(stepping, message.get("step"), token, again=again)
        self.saved = self._state(token)
        return {"token": token, "saved": True}

    def _require_in_time(self, token: str, shut: str) -> None:
        if shut:
            raise ValueError(shut)
        if passed_by(token, self._record.tokens):
            raise ValueError(PASSED_BY)

    def _tried(self, page: TriesOut, message: Mapping[str, Any]) -> Reply | None:
        if self._practice is None:
            return None
        return {"token": str(message.get("token", "")), "tried": page.try_out(message)}

    def _stepped(self, page: ExercisePage, step: Any, token: str, *, again: bool) -> Reply:
        """What the page hears of a step that is on the disk: its reply, or why it was not done."""
        take = page.take_again if again else page.take
        try:
            reply = take(step, self._record.answer)
            now = page.now()
        except NotPlayedError as error:
            return {"token": token, "saved": True, "failed": reason(error)}
        except ValueError as error:
            return {"token": token, "saved": True, "failed": f"Not done: {reason(error)}"}
        # In place, so that nothing is sent twice: a page opened later sees it as it is now.
        self.shown["view"].update(now)
        return {"token": token, "saved": True, "reply": reply}

    def _keep(self, message: Mapping[str, Any], token: str, hand: Mapping[str, str]) -> None:
        record, name = self._record, self._exercise["id"]
        told = {"exercise": name, "token": token, **hand}
        hints = self._practice["hints"] if self._practice else []
        kept: dict[str, Any]
        if message.get("do") == "answer":
            entry = self._journal.append(ANSWER, **told, answer=message.get("answer"))
            answer = entry["answer"]
            kept = {"answer": answer, "answered": True, "at": entry["at"]}
            kept |= {"by": hand.get("by", "")}
            kept |= {"tries": record.tries + 1, "answers": (*record.answers, answer)}
        elif message.get("do") == "hint" and hints:
            number = min(record.hints + 1, len(hints))
            self._journal.append(HINT, **told, hint=number)
            kept = {"hints": number}
        elif message.get("do") == "step":
            # On disk first: what cannot be kept must not have happened on the bench either.
            entry = self._journal.append(STEP, **told, step=message.get("step"))
            kept = {"steps": (*record.steps, entry["step"])}
            kept |= {"hands": (*record.hands, hand.get("by", ""))}
        else:
            # Never confirm what was not written.
            raise ValueError(MISFIT)
        self._record = replace(record, tokens=record.tokens | {token}, **kept)
        self._when_saved(name, self._record)

    def _state(self, token: str) -> Saved:
        record = self._record
        told = self._told(record.answer) if record.answered else None
        # Of what was just done, by one alone: a page that is opened later is told nothing of it.
        of_one = token and not record.by and self._key is not None
        if told and of_one and (topic := self._topic()):
            told["topic"] = topic
        needed = self._directions.used_up and not (told and told["right"])
        opened = self._practice["hints"][: record.hints] if self._practice else []
        return {
            "token": token,
            "answered": record.answered,
            "answer": record.answer,
            "at": record.at,
            "hints": [to_html(hint["text"]) for hint in opened],
            "verdict": told,
            "example": self._example if needed else None,
        }

    def _told(self, answer: Any) -> Told | None:
        verdict = self.verdict(answer)
        if verdict is None:
            return None
        self._directions.take(verdict)
        told: Told = {
            "right": verdict.right,
            "readable": verdict.readable,
            "awaits": verdict.awaits,
            "credit": verdict.credit,
            "html": message_html(self._directions.message(verdict)),
            "working": "",
        }
        if self._practice:
            told["tries"] = self._record.tries
        if verdict.right and self._practice:
            told["working"] = to_html(self._practice["working"])
        if self._key is not None and isinstance(self._check, HasStates):
            told["cells"] = self._check.states(self._ask, self._key, answer)
        return told

    def verdict(self, answer: Any) -> Verdict | None:
        """What may be told of an answer: all of it in practice, only unreadability if assessed.

        Of a form that is also a part of it: what is refused without a word is lost.
        """
        if self._key is not None:
            return self._check.check(self._ask, self._key, answer)
        sentence = not_readable(self._check, self._ask, answer)
        return Verdict(0.0, sentence, readable=False) if sentence else None

    def __repr__(self) -> str:
        record = self._record
        state = "no answer yet"
        if record.answered:
            state = f"answer {self._check.shown(self._ask, record.answer)!r}"
        return f"Exercise({self._exercise['number']}, {self._exercise['id']}, {state})"
