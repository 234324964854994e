"""What happens in a room: an append-only file, one JSON object a line, on disk before it holds.

A room that is opened again, after a power cut as well, goes on from what its log says.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from threading import Lock
from typing import Any, Final

from labkit.classroom.private_place import Place, keep_private
from labkit.classroom.room_entries import PARTED, TOGETHER, room_entries
from labkit.exchange.append_only import AddLine, add_line
from labkit.exchange.clock import CLOCK, read_moment

OPENED: Final = "opened"
CLOSED: Final = "closed"
TIME: Final = "time"
EXTRA: Final = "extra"
RELEASED: Final = "released"
SEAT: Final = "seat"
LET_IN: Final = "let in"
HANDED_IN: Final = "handed in"
HELD: Final = "held"
WITHOUT_SECOND: Final = "without second"
SECOND_AGAIN: Final = "second again"
HAND_UP: Final = "hand up"
HAND_DOWN: Final = "hand down"


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
    owner of another one works, by the number of their own. `hands` are those that are up, by
    trainee, first come first.
    """

    open: dict[str, bool] = field(default_factory=dict)
    until: dict[str, datetime] = field(default_factory=dict)
    opened_at: dict[str, datetime] = field(default_factory=dict)
    extra: dict[tuple[str, str], timedelta] = field(default_factory=dict)
    released: set[str] = field(default_factory=set)
    seats: dict[str, int] = field(default_factory=dict)
    handed_in: dict[str, tuple[str, str]] = field(default_factory=dict)
    together: dict[str, str] = field(default_factory=dict)
    hands: dict[str, Hand] = field(default_factory=dict)

    def take(self, entry: Mapping[str, Any]) -> None:
        """Take one entry in; what is none of ours is passed over."""
        act, lab = entry.get("act"), str(entry.get("lab", ""))
        trainee = str(entry.get("trainee", ""))
        if act in (OPENED, CLOSED):
            self.open[lab] = act == OPENED
            if act == OPENED and (at := read_moment(entry.get("at"))):
                self.opened_at[lab] = at
        elif act == TIME and (until := read_moment(entry.get("until"))):
            self.until[lab] = until
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
        elif act == HAND_UP:
            # Who says something else keeps their place.
            up = self.hands.get(trainee)
            raised = up.at if up else str(entry.get("at", ""))
            self.hands[trainee] = Hand(trainee, raised, lab, str(entry.get("words", "")))
        elif act == HAND_DOWN:
            self.hands.pop(trainee, None)


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
