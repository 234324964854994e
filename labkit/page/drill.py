"""One more like this: a practice exercise with fresh numbers, as often as wanted, without marks.

A page asks with {"do": "drill", "token"} and hears `Drawn`. What the drill's own page module says
goes as {"do": "drill", "of": the drill's id, "message": what it says}; the page hears `Drilled`.
Each answer and step is an entry of its own in the journal that no mark, count or time reads.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Final, NotRequired, TypedDict

from labkit.answering.answering import Answering
from labkit.answering.drilling import Drilling
from labkit.answering.messages import Reply, Saved, Shown, token_of
from labkit.exchange.journal import Journal
from labkit.exchange.task_file import TaskExercise
from labkit.lab.definition import Lab
from labkit.language.problems import DefinitionError
from labkit.page.kept_plays import WorkbookPlays
from labkit.page.prose import saved_as_read
from labkit.page.sheet import Folded, Sheet, sheet_of
from labkit.workbook.drills import DrillDraw, drill_of

NO_OTHER: Final = "This exercise has no other numbers."
NO_TEXT: Final = "These numbers do not fit the text: ask for one more again."
OVER: Final = "This one is over: take another one."


class Drawn(TypedDict):
    """A drill as its page shows it; `texts` come before it and are other than in the workbook."""

    id: str
    kind: str
    shown: Shown
    saved: Saved
    picture: str
    texts: list[Folded]
    cautions: list[str]


class Drilled(TypedDict):
    """What comes of what a drill's page module says: for that module alone."""

    id: str
    saved: Saved
    reply: Reply


class DrillReply(TypedDict):
    """To the page that asked. `failed` says why there is no drill, or nothing was kept; with
    `again` that may be another moment: the page asks once more."""

    token: str
    failed: NotRequired[str]
    again: NotRequired[bool]
    drawn: NotRequired[Drawn]
    drilled: NotRequired[Drilled]


class Drills:
    """The drills of one workbook. The last one of each exercise is kept, in memory only.

    `topic_of` says in words how the trainee stands in the topic of an exercise.
    """

    def __init__(
        self,
        lab: Lab,
        sheet: Sheet,
        journal: Journal,
        plays: WorkbookPlays | None = None,
        topic_of: Callable[[str], str] = lambda _: "",
    ) -> None:
        self._lab, self._journal, self._plays = lab, journal, plays
        self._topic_of = topic_of
        self._in_workbook = {text["html"] for text in _texts(sheet)}
        self._last: dict[str, Drill] = {}

    @property
    def last(self) -> Mapping[str, Drill]:
        """The last drill of each exercise."""
        return self._last

    def go_on(self, exercise: str, drill: Drill) -> None:
        """Take over a drill of the desk that was here before: its page stays open."""
        drill.drilling.goes_on_in(self._journal)
        self._last[exercise] = drill

    def hear(
        self,
        own: TaskExercise,
        message: Mapping[str, Any],
        *,
        by: str = "",
        shut: str = "",
        waits: str = "",
    ) -> DrillReply | None:
        """Draw a drill of the trainee's `own` exercise, or hear what the last one's page says."""
        within = message.get("message") if "of" in message else message
        token = token_of(within)
        if not token:
            return None
        if shut:
            return {"token": token, "failed": f"Not saved: {shut}"}
        if waits:
            return {"token": token, "failed": f"Not saved: {waits}", "again": True}
        if "of" not in message:
            return self._drawn(own, token)
        drill = self._last.get(own["id"])
        if drill is None or drill.drawn.seed != message["of"]:
            return {"token": token, "failed": OVER}
        reply = drill.answering.hear(within, by=by)
        if reply is None:
            return None
        saved = saved_as_read(drill.answering.saved)
        return {"token": token, "drilled": {"id": drill.drawn.seed, "saved": saved, "reply": reply}}

    def _drawn(self, own: TaskExercise, token: str) -> DrillReply:
        drill = self._last.get(own["id"])
        # A message that comes again gets the same one.
        if drill is None or drill.token != token:
            drawn = drill_of(self._lab, own)
            if drawn is None:
                return {"token": token, "failed": NO_OTHER}
            drill = Drill(token, drawn, self._drilling(drawn))
        try:
            shown = self._shown(drill)
        except DefinitionError:
            return {"token": token, "failed": NO_TEXT}
        self._last[own["id"]] = drill
        return {"token": token, "drawn": shown}

    def _drilling(self, drawn: DrillDraw) -> Drilling:
        name, kind, plays = drawn.exercise["id"], drawn.exercise["kind"], self._plays
        return Drilling(
            drawn.exercise,
            drawn.seed,
            self._journal,
            play=plays.of(name, kind, kept=False) if plays else None,
            topic=partial(self._topic_of, name),
        )

    def _shown(self, drill: Drill) -> Drawn:
        drawn, answering = drill.drawn, drill.answering
        name = drawn.exercise["id"]
        sheet = sheet_of(drawn.scenario)
        [step] = [each for each in sheet["steps"] if each["exercise"] == name]
        texts = _texts(sheet, until=name)
        return {
            "id": drawn.seed,
            "kind": answering.kind,
            "shown": {**answering.shown_now(), "question": step["question"]},
            "saved": saved_as_read(answering.saved),
            "picture": drawn.picture,
            "texts": [text for text in texts if text["html"] not in self._in_workbook],
            "cautions": step["cautions"],
        }


@dataclass(frozen=True, slots=True)
class Drill:
    """A drill, how it was drawn, and the token of the message that asked for it."""

    token: str
    drawn: DrillDraw
    drilling: Drilling

    @property
    def answering(self) -> Answering:
        """What hears its page."""
        return self.drilling.answering


def _texts(sheet: Sheet, until: str = "") -> list[Folded]:
    """The texts of a sheet, or those that come before an exercise is done."""
    texts: list[Folded] = []
    for step in sheet["steps"]:
        texts += step["texts"]
        if step["exercise"] == until:
            break
    return texts
