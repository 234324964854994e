"""Items that the instructor must see with their own eyes on the real bench."""

from __future__ import annotations

from typing import Any, Final

from labkit.doors.check import Agreements
from labkit.doors.verdict import Verdict, awaiting, unreadable
from labkit.kinds.common import paper
from labkit.kinds.common.rubric import RubricKey
from labkit.kinds.sign_off.data import LOG, Answer, SignOffAsk
from labkit.kinds.sign_off.log import LogListener, against_plan, in_words

MAX_NOTE: Final = 300
"""Characters of the note beside an item."""
_ON_PAPER: Final = "A log of the real network may go with this sign-off: give it in with the sheet."


class SignOffCheck:
    """An instructor marks items as they mark criteria: each has its entry in the rubric."""

    def unreadable(self, ask: SignOffAsk, answer: Any) -> str:
        """Nothing ready."""
        if _ready(ask, answer):
            return ""
        return "Nothing is ticked yet. Tick an item as soon as your instructor can look at it."

    def check(self, ask: SignOffAsk, key: RubricKey, answer: Any) -> Verdict:  # noqa: ARG002
        """Waits for the instructor, and says what is not ready yet."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        ready = _ready(ask, answer)
        missing = [item["text"] for item in ask["items"] if item["id"] not in ready]
        call = f"{len(ready)} of {len(ask['items'])} ready to be seen. Call your instructor."
        return awaiting("\n".join([call, *(f"Not ready yet: {text}" for text in missing)]))

    def shown(self, ask: SignOffAsk, answer: Any) -> str:
        """Each item with its state and its note."""
        ready = _ready(ask, answer)
        said = [
            f"{item['text'].rstrip('.')}: {'ready' if item['id'] in ready else 'not ready'}"
            + (f" ({note})" if (note := _note(answer, item["id"])) else "")
            for item in ask["items"]
        ]
        told = against_plan(ask, answer)
        return "; ".join([*said, *([in_words(told)] if told else [])])

    def against_plan(self, ask: SignOffAsk, answer: Any) -> Agreements | None:
        """The log that was dropped, line by line."""
        return against_plan(ask, answer)

    def listener(self, ask: SignOffAsk) -> LogListener | None:
        """Listens with the plan of this exercise, where it has one."""
        return LogListener(ask) if LOG in ask else None

    def right_answer(self, ask: SignOffAsk, key: RubricKey) -> Answer:  # noqa: ARG002
        """Everything ready; the verdict waits for the instructor's eyes all the same."""
        return {item["id"]: {"ready": True, "note": ""} for item in ask["items"]}

    def slip_answers(self, ask: SignOffAsk, key: RubricKey) -> dict[str, Answer]:  # noqa: ARG002
        """None: a person marks."""
        return {}

    def not_ready(self, ask: SignOffAsk, answer: Any) -> list[str]:
        """The ids of the items that were not said to be ready."""
        ready = _ready(ask, answer)
        return [item["id"] for item in ask["items"] if item["id"] not in ready]

    def caution(self, ask: SignOffAsk) -> str:
        """What the author warns of."""
        return ask["caution"]

    def paper(self, ask: SignOffAsk) -> str:
        """The items with a box to tick, what will be looked for, and a place to sign."""
        rows = [
            [paper.BOX, paper.text(item["text"]), paper.text(item["look_for"]), ""]
            for item in ask["items"]
        ]
        headings = ["Ready", "Item", "Your instructor looks for", "Seen (instructor's initials)"]
        table = paper.table(headings, rows, "tick", "", "", "initials")
        table += paper.note(_ON_PAPER) if LOG in ask else ""
        signed = paper.side_by_side([paper.line("Instructor"), paper.line("Date")])
        return paper.caution(ask["caution"]) + table + signed

    def paper_for_marking(self, ask: SignOffAsk, key: RubricKey, marks: float) -> str:
        """What each item is worth."""
        return paper.caution(ask["caution"]) + paper.rubric(key["rubric"], marks)


def _ready(ask: SignOffAsk, answer: Any) -> list[str]:
    if not isinstance(answer, dict):
        return []
    ids = [item["id"] for item in ask["items"]]
    return [
        name
        for name in ids
        if isinstance(answer.get(name), dict) and answer[name].get("ready") is True
    ]


def _note(answer: Any, item: str) -> str:
    entry = answer.get(item) if isinstance(answer, dict) else None
    note = entry.get("note") if isinstance(entry, dict) else None
    return " ".join(note.split())[:MAX_NOTE] if isinstance(note, str) else ""
