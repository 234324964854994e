"""What happens in a room: an append-only file, one JSON object a line, on disk before it holds.

A room that is opened again, after a power cut as well, goes on from what its log says.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum
from pathlib import Path
from threading import Lock
from typing import Any, Final

from labkit.classroom.private_place import Place, keep_private
from labkit.classroom.room_entries import PARTED, RELEASED, TOGETHER, room_entries
from labkit.exchange.append_only import AddLine, add_line
from labkit.exchange.clock import CLOCK, read_moment
from labkit.room.messages import MESSAGE, READ, TAKEN_BACK, Messages
from labkit.room.pauses import GONE_ON, PAUSED, Pause, Pauses

OPENED: Final = "opened"
CLOSED: Final = "closed"
TIME: Final = "time"
EXTRA: Final = "extra"
SEAT: Final = "seat"
LET_IN: Final = "let in"
HANDED_IN: Final = "handed in"
HELD: Final = "held"
WITHOUT_SECOND: Final = "without second"
SECOND_AGAIN: Final = "second again"
PROJECTED: Final = "projected"
HAND_UP: Final = "hand up"
HAND_DOWN: Final = "hand down"


class View(StrEnum):
    """What a projector can show: by default the class's title and the address to join at."""

    CLASS = "class"
    PROGRESS = "progress"
    EXERCISE = "exercise"
    DEBRIEF = "debrief"
    REPLAY = "replay"


OF_AN_EXERCISE: Final = (View.EXERCISE, View.REPLAY)


@dataclass(frozen=True, slots=True)
class Projected:
    """What the trainer lets the projector show.

    `step` counts what is uncovered of an exercise or a replay, `down` how often the picture was
    moved down.
    """

    view: View = View.CLASS
    lab: str = ""
    exercise: str = ""
    step: int = 0
    down: int = 0

    @classmethod
    def of(cls, said: Mapping[str, Any]) -> Projected | None:
        """What an entry of the log, or a trainer's page, says; None for no such thing."""
        words = [said.get(name, "") for name in ("view", "lab", "exercise")]
        numbers = [said.get(name, 0) for name in ("step", "down")]
        if words[0] not in list(View) or not all(isinstance(word, str) for word in words):
            return None
        if not all(isinstance(n, int) and not isinstance(n, bool) for n in numbers):
            return None
        return cls(View(words[0]), *words[1:], *numbers)


@dataclass(frozen=True, slots=True)
class Hand:
    """A raised hand: whose, when it went up, in which lab, and what was typed with it."""

    trainee: str
    at: str
    lab: str
    words: str


@dataclass(slots=True)
class State:
    """What the log comes to.

    `open` has a lab once somebody opened or closed it by hand; `until` is the end that was set by
    hand, `opened_at` when it was last opened so: an end before that holds no more. `extra` is time
    given on top, by lab and trainee ("" for everybody). `seats` is the number of each trainee's
    present seat: who comes with an earlier one has lost it to another device. `handed_in` has the
    code and the time of the last receipt of a workbook. `together` has the workbook in which the
    owner of another one works, by the number of their own. `projected` is what the projector shows.
    `hands` are those that are up, by trainee, first come first.
    """

    open: dict[str, bool] = field(default_factory=dict)
    until: dict[str, datetime] = field(default_factory=dict)
    opened_at: dict[str, datetime] = field(default_factory=dict)
    extra: dict[tuple[str, str], timedelta] = field(default_factory=dict)
    released: set[str] = field(default_factory=set)
    seats: dict[str, int] = field(default_factory=dict)
    handed_in: dict[str, tuple[str, str]] = field(default_factory=dict)
    together: dict[str, str] = field(default_factory=dict)
    pauses: Pauses = field(default_factory=Pauses)
    messages: Messages = field(default_factory=Messages)
    projected: Projected = Projected()
    hands: dict[str, Hand] = field(default_factory=dict)

    def take(self, entry: Mapping[str, Any]) -> None:
        """Take one entry in; what is none of ours is passed over."""
        act, lab = entry.get("act"), str(entry.get("lab", ""))
        trainee = str(entry.get("trainee", ""))
        if act in (OPENED, CLOSED):
            self.open[lab] = act == OPENED
            if at := read_moment(entry.get("at")):
                # Open or closed anew, it stands still no more.
                self.pauses.end(lab, at)
                if act == OPENED:
                    self.opened_at[lab] = at
        elif act == TIME and (until := read_moment(entry.get("until"))):
            self.until[lab] = until
            self.pauses.forget(lab)
        elif act == EXTRA and isinstance(minutes := entry.get("minutes"), int):
            more = self.extra.get((lab, trainee), timedelta())
            self.extra[lab, trainee] = more + timedelta(minutes=minutes)
        elif act == RELEASED:
            self.released.add(lab)
        elif act == SEAT:
            self.seats[trainee] = self.seats.get(trainee, 0) + 1
        elif act == HANDED_IN:
            receipt = str(entry.get("code", "")), str(entry.get("received_at", ""))
            self.handed_in[str(entry.get("workbook", ""))] = receipt
        elif act == TOGETHER:
            self.together[str(entry.get("workbook", ""))] = str(entry.get("host_workbook", ""))
        elif act == PARTED:
            self.together.pop(str(entry.get("workbook", "")), None)
        elif act in (PAUSED, GONE_ON):
            self._pause(entry)
        elif act in (MESSAGE, READ, TAKEN_BACK):
            self._message(entry)
        elif act == PROJECTED:
            self.projected = Projected.of(entry) or Projected()
        elif act == HAND_UP:
            # Who says something else keeps their place.
            up = self.hands.get(trainee)
            raised = up.at if up else str(entry.get("at", ""))
            self.hands[trainee] = Hand(trainee, raised, lab, str(entry.get("words", "")))
        elif act == HAND_DOWN:
            self.hands.pop(trainee, None)

    def _pause(self, entry: Mapping[str, Any]) -> None:
        at, labs = read_moment(entry.get("at")), entry.get("labs")
        if at is None or not isinstance(labs, list):
            return
        for lab in map(str, labs):
            if entry["act"] == GONE_ON:
                self.pauses.end(lab, at)
                continue
            said = str(entry.get("by", "")), str(entry.get("sentence", ""))
            self.pauses.begin(lab, Pause(at, *said))

    def _message(self, entry: Mapping[str, Any]) -> None:
        number, at, by, text, trainee = (
            str(entry.get(name, "")) for name in ("message", "at", "by", "text", "trainee")
        )
        if entry["act"] == MESSAGE:
            self.messages.send(number, trainee, at=at, by=by, text=text)
        elif entry["act"] == READ:
            self.messages.read(number, trainee, at)
        else:
            self.messages.take_back(number)


class RoomLog:
    """The log of one class's room. It may be written to from several threads.

    `add` is how a line comes onto the disk.
    """

    def __init__(self, file: Path, add: AddLine = add_line) -> None:
        self._file, self._add = file, add
        Place(file.parent).made()
        self._one_at_a_time = Lock()
        keep_private(self._file)
        self.state = State()
        for entry in room_entries(file):
            self.state.take(entry)

    def add(self, act: str, by: str, **details: Any) -> None:
        """Write an entry, wait for the disk, and only then let it hold. Raises `OSError`."""
        entry = {"at": CLOCK.now(), "by": by, "act": act, **details}
        line = json.dumps(entry, ensure_ascii=False).encode("utf-8", "replace")
        with self._one_at_a_time:
            self._add(self._file, line)
            self.state.take(entry)
