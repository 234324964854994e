"""What every exercise widget does: save first, confirm then, and tell the verdict in practice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, ClassVar

import anywidget
import traitlets

from labkit.errors import reason
from labkit.lab.kinds import check_for, not_readable, tells_direction
from labkit.lab.verdict import Verdict
from labkit.language.markdown import message_html, to_html
from labkit.station.directions import Directions
from labkit.station.journal import ANSWER, HINT, STEP, ExerciseRecord, Journal
from labkit.station.page_modules import joined, sheets


class ExerciseWidget(anywidget.AnyWidget):
    """One exercise. A kind's widget names its page module; a style sheet may lie beside that.

    The page sends {"do": "answer", "token", "answer"} or {"do": "hint", "token"}; `saved` changes
    only after the journal is on disk, and carries the token back. A kind that is worked on in steps
    (a virtual bench) gets {"do": "step", "token", "step"} and overrides `take`; its reply goes
    back with the token. The journal keeps the tokens: a message that comes again, after a restart
    too, is confirmed and not done again.
    """

    script: ClassVar[str] = ""
    """The kind's page module: a name in `page_modules.FOLDERS`, or an absolute path."""
    awaits: ClassVar[bool] = False
    """Whether a person marks this kind: nothing is checked here then, each change is saved."""

    workbook = traitlets.Unicode().tag(sync=True)
    shown = traitlets.Dict().tag(sync=True)
    saved = traitlets.Dict().tag(sync=True)

    def __init_subclass__(cls, **kwargs: Any) -> None:
        # anywidget makes a class of its own for each instance; only a kind's class has a script.
        if "script" in cls.__dict__:
            cls._esm = joined(cls.script)
            cls._css = sheets(cls.script)
        super().__init_subclass__(**kwargs)

    def __init__(
        self,
        *,
        workbook: str,
        exercise: dict[str, Any],
        question_html: str,
        journal: Journal,
        record: ExerciseRecord,
        when_saved: Callable[[str, ExerciseRecord], None],
        example_picture: str = "",
    ) -> None:
        self._exercise = exercise
        self._practice: dict[str, Any] | None = exercise.get("practice")
        self._journal = journal
        self._record = record
        self._when_saved = when_saved
        self._example = self._worked_example(example_picture)
        self._directions = self._directions_so_far()
        super().__init__(workbook=workbook, shown=self._what_is_shown(question_html))
        self.saved = self._state("")
        self.on_msg(self._received)

    def _worked_example(self, picture: str) -> dict[str, str] | None:
        # Task files of labkit 0.1 have none.
        example = self._practice.get("example") if self._practice else None
        if not example:
            return None
        texts = {name: to_html(example[name]) for name in ("question", "answer", "working")}
        return {**texts, "picture": picture}

    def _directions_so_far(self) -> Directions:
        directions = Directions()
        if self._practice and tells_direction(
            check_for(self._exercise["kind"]), self._exercise["ask"]
        ):
            for answer in self._record.answers:
                if verdict := self.verdict(answer):
                    directions.take(verdict)
                if directions.used_up:
                    break
        return directions

    def _what_is_shown(self, question_html: str) -> dict[str, Any]:
        exercise = self._exercise
        practice = self._practice
        return {
            "id": exercise["id"],
            "number": exercise["number"],
            "title": exercise["title"],
            "question": question_html,
            "marks": exercise["marks"],
            "ask": exercise["ask"],
            "practice": practice is not None,
            "awaits": self.awaits,
            "hints": [hint["costs"] for hint in practice["hints"]] if practice else [],
            "view": self.view(exercise["ask"]),
        }

    def view(self, ask: dict[str, Any]) -> dict[str, Any]:  # noqa: ARG002
        """What the kind's page needs beyond `ask`; a kind overrides it."""
        return {}

    def take(self, step: Any) -> dict[str, Any]:  # noqa: ARG002
        """The reply to a step. Raises `ValueError` for what makes no sense."""
        raise ValueError("This page and this labkit do not fit together: open the page anew.")

    def take_again(self, step: Any) -> dict[str, Any]:
        """The reply to a step that is taken already; a kind whose steps change something overrides.

        Raises `ValueError` where it cannot be given any more.
        """
        return self.take(step)

    def _received(self, _widget: Any, message: Any, _buffers: Any) -> None:
        token = message.get("token") if isinstance(message, dict) else None
        if not isinstance(token, str) or not token:
            return
        again = token in self._record.tokens
        try:
            if not again:
                self._keep(message, token)
            reply = self._reply(message, again=again)
        except (OSError, ValueError) as error:
            self.send({"token": token, "failed": f"Not saved: {reason(error)}"})
            return
        if message.get("do") != "step":
            self.saved = self._state(token)
        # A repeated token changes nothing, so the trait alone would not tell the page again.
        self.send({"token": token, "saved": True, **reply})

    def _reply(self, message: dict[str, Any], *, again: bool) -> dict[str, Any]:
        if message.get("do") != "step":
            return {}
        take = self.take_again if again else self.take
        return _outcome(take, message.get("step"))

    def _keep(self, message: dict[str, Any], token: str) -> None:
        record, name = self._record, self._exercise["id"]
        kept: dict[str, Any]
        if message.get("do") == "answer":
            answer = message.get("answer")
            entry = self._journal.append(ANSWER, exercise=name, token=token, answer=answer)
            kept = {"answer": answer, "answered": True, "at": entry["at"]}
            kept |= {"tries": record.tries + 1, "answers": (*record.answers, answer)}
        elif message.get("do") == "hint" and self._practice:
            number = min(record.hints + 1, len(self._practice["hints"]))
            self._journal.append(HINT, exercise=name, token=token, hint=number)
            kept = {"hints": number}
        elif message.get("do") == "step":
            step = message.get("step")
            # On disk first: what cannot be kept must not have happened on the bench either.
            self._journal.append(STEP, exercise=name, token=token, step=step)
            kept = {"steps": (*record.steps, step)}
        else:
            # Never confirm what was not written.
            raise ValueError("This page and this labkit do not fit together: open the page anew.")
        self._record = replace(record, tokens=record.tokens | {token}, **kept)
        self._when_saved(name, self._record)

    def _state(self, token: str) -> dict[str, Any]:
        record = self._record
        state: dict[str, Any] = {
            "token": token,
            "answered": record.answered,
            "answer": record.answer,
            "at": record.at,
            "hints": [],
            "verdict": None,
            "example": None,
        }
        if record.answered:
            state["verdict"] = self._verdict(record)
        if self._directions.used_up and not (state["verdict"] or {}).get("right"):
            state["example"] = self._example
        if self._practice:
            hints = self._practice["hints"][: record.hints]
            state["hints"] = [to_html(hint["text"]) for hint in hints]
        return state

    def _verdict(self, record: ExerciseRecord) -> dict[str, Any] | None:
        verdict = self.verdict(record.answer)
        if verdict is None:
            return None
        self._directions.take(verdict)
        told: dict[str, Any] = {
            "right": verdict.right,
            "readable": verdict.readable,
            "awaits": verdict.awaits,
            "credit": verdict.credit,
            "html": message_html(self._directions.message(verdict)),
            "working": "",
        }
        if verdict.right and self._practice:
            told["working"] = to_html(self._practice["working"])
        return told

    def verdict(self, answer: Any) -> Verdict | None:
        """What may be told of an answer: all of it in practice, only unreadability if assessed.

        Of a form that is also a part of it: what is refused without a word is lost.
        """
        check = check_for(self._exercise["kind"])
        ask = self._exercise["ask"]
        if self._practice is not None:
            return check.check(ask, self._practice["key"], answer)
        sentence = not_readable(check, ask, answer)
        return Verdict(0.0, sentence, readable=False) if sentence else None

    def __repr__(self) -> str:
        record = self._record
        state = "no answer yet"
        if record.answered:
            shown = check_for(self._exercise["kind"]).shown(self._exercise["ask"], record.answer)
            state = f"answer {shown!r}"
        return f"Exercise({self._exercise['number']}, {self._exercise['id']}, {state})"


def _outcome(take: Callable[[Any], dict[str, Any]], step: Any) -> dict[str, Any]:
    """What the page hears of a step that is on the disk: its reply, or why it was not done."""
    try:
        return {"reply": take(step)}
    except ValueError as error:
        return {"failed": f"Not done: {reason(error)}"}
