"""A class held from the trainer's machine: who sits where, what is open, and how long.

It knows no browser. Whatever it does waits for the disk where something must not be lost; it may be
asked from several threads.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Final

from labkit.classroom.analysis.ways_taken import can_be_replayed
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealt import Dealt, Roll
from labkit.classroom.errors import ClassError
from labkit.classroom.join_codes import codes_of, codes_on_cards, read_code
from labkit.classroom.room_entries import RELEASED
from labkit.errors import reason
from labkit.exchange.append_only import add_line
from labkit.exchange.clock import CLOCK, read_moment, written
from labkit.page.play_processes import PlayProcesses
from labkit.room.door import Door
from labkit.room.hands import Hands
from labkit.room.log import (
    CLOSED,
    EXTRA,
    HANDED_IN,
    HELD,
    OF_AN_EXERCISE,
    OPENED,
    PROJECTED,
    SEAT,
    SECOND_AGAIN,
    TIME,
    WITHOUT_SECOND,
    Projected,
    RoomLog,
    View,
)
from labkit.room.messages import plain_words
from labkit.room.pairs import Pairs
from labkit.room.passes import Passes
from labkit.room.pauses import GONE_ON, PAUSED, Pause
from labkit.room.second import Second
from labkit.room.told import Told
from labkit.room.trouble import Trouble
from labkit.room.workbooks import Workbooks

if TYPE_CHECKING:
    from labkit.classroom.handins.collecting import Taken

_MOST_MINUTES: Final = 600
_MOST_STEPS: Final = 99
_ROOM_FOR_IT: Final = (
    "Make room on the disk that the class lies on. What was typed stays on the trainees' pages, "
    "and they save it by themselves as soon as the disk takes it."
)
NOT_YET: Final = "This lab is not open yet."
CLOSED_NOW: Final = "Your instructor closed this lab. What you saved is handed in."
ANOTHER_ATTEMPT: Final = "You were dealt a new workbook of this lab: open the lab again."
RESTS: Final = (
    "You work together with somebody else: this workbook rests. Ask your instructor to part you."
)
PAUSED_NOW: Final = "Your instructor paused this lab"
TIME_IS_UP: Final = "The time for this lab is up. Everything that you saved is handed in."


@dataclass(frozen=True, slots=True)
class Seat:
    """Where a trainee sits: `number` counts the devices that they joined from."""

    trainee: str
    number: int


class Room:
    """The room of one class. Raises `ClassError` where nothing was dealt yet."""

    def __init__(
        self,
        folder: ClassFolder,
        second: Second | None = None,
        processes: PlayProcesses | None = None,
    ) -> None:
        self.folder, self.second = folder, second
        self.trouble = Trouble()
        self._as_dealt = _state(folder.deal_file)
        self.workbooks = Workbooks(folder, self.over, self.stands, self._add, processes)
        self.people: dict[str, str] = {}
        self.on_cards: dict[str, str] = {}
        """The code on each trainee's card, by id."""
        self._codes: dict[str, str] = {}
        self._take_people(folder, read_deal(folder).dealt)
        self._log = RoomLog(folder.room_log, self._add)
        self.pairs = Pairs(self.workbooks, self._log)
        self.hands = Hands(self._log)
        self.door = Door(self._log, lambda: self.people)
        self.told = Told(self._log, lambda: self.people)
        self._seats = Passes(folder.secret(), "seat")
        self._settled: set[str] = set()
        self._taken: dict[str, Taken] = {}
        self._one_at_a_time, self._handing_in, self._settling = Lock(), Lock(), Lock()

    def _add(self, file: Path, line: bytes) -> None:
        """How a line comes onto the disk; the trainer is told where it does not."""
        try:
            (self.second.add if self.second else add_line)(file, line)
        except OSError as error:
            if not (self.second and self.second.trouble):  # which says it in words of its own
                self.trouble.tell(f"Not everything can be saved: {reason(error)} {_ROOM_FOR_IT}")
            raise

    # Who is in the class

    def _take_people(self, folder: ClassFolder, roll: Roll) -> None:
        # All of them: a card may be of the id that an earlier attempt was dealt to.
        dealt = list(roll)
        self.people = {trainee.id: trainee.name for trainee in folder.trainees}
        self._codes = codes_of(folder, dealt)
        self.on_cards = codes_on_cards(folder, dealt)

    def look_again(self) -> list[Dealt]:
        """Take in what another command dealt since: late trainees, retakes.

        Returns the workbooks that nobody works at any more. Raises `ClassError`, `OSError`.
        """
        state = _state(self.folder.deal_file)
        if state == self._as_dealt:
            return []
        before = self.workbooks.items
        folder, dealt = replace(self.folder), read_deal(self.folder).dealt
        # First: nobody begins what a copy that is held in its stead would not know.
        if self.second:
            self.second.keep_files((folder.deal_file.name,), (folder.roster_file.name,))
        self._take_people(folder, dealt)
        self.workbooks.take(dealt)
        self._as_dealt = state
        return [item for item in before.values() if not self._is_worked_at(item)]

    @property
    def dealt_state(self) -> object:
        """What tells one state of the deal that the room has taken in from another."""
        return self._as_dealt

    def _is_worked_at(self, item: Dealt) -> bool:
        return item.trainee in self.people and self.workbooks.is_last(item)

    # Who sits where

    def trainee_of(self, typed: str) -> str | None:
        """Whose code that is; None for nobody's."""
        code = read_code(typed)
        return self._codes.get(code) if code else None

    def seated(self, trainee: str, address: str) -> str:
        """The pass of a new seat; who sat there on another device before has lost it."""
        with self._one_at_a_time:
            self._log.add(SEAT, trainee, trainee=trainee, address=address)
            return self._seats.made(trainee, self._log.state.seats[trainee])

    def seat(self, shown: str | None) -> Seat | None:
        """The seat of a pass; None for none, for one that was lost, for who is here no more."""
        words = self._seats.read(shown)
        if words is None:
            return None
        trainee, number = str(words[0]), int(words[1])
        if trainee not in self.people or self._log.state.seats.get(trainee) != number:
            return None
        return Seat(trainee, number)

    # What is open

    def labs_of(self, trainee: str) -> list[Dealt]:
        """The workbooks that a trainee was dealt, in the order of the class's labs."""
        items = (self.workbooks.items.get((trainee, lab)) for lab in self.folder.fields.labs)
        return [item for item in items if item]

    def ends(self, lab: str, trainee: str = "") -> datetime | None:
        """When the time for a lab is up, for a trainee or (without one) for everybody.

        By the lab's own `clock`: as long as it is paused, it will be later than this.
        """
        state = self._log.state
        end = state.until.get(lab) or read_moment(self.folder.fields.deadline_of(lab))
        if end is None:
            return None
        end += state.extra.get((lab, ""), timedelta())
        # Who has more time has it together with somebody else too.
        end += max(state.extra.get((lab, who), timedelta()) for who in self._at_bench(lab, trainee))
        end = state.pauses.moved(lab, end)
        opened_at = state.opened_at.get(lab)
        return None if opened_at and end <= opened_at else end

    def clock(self, lab: str) -> datetime:
        """The time as a lab has it: this machine's clock; while it is paused that stands still."""
        pause = self.pause_of(lab)
        return pause.since if pause else CLOCK.moment()

    def pause_of(self, lab: str) -> Pause | None:
        """The pause of a lab that is paused."""
        return self._log.state.pauses.now.get(lab)

    def began_anew(self, lab: str) -> datetime | None:
        """When a lab was last opened by hand or went on after a pause."""
        state = self._log.state
        moments = state.opened_at.get(lab), state.pauses.ended.get(lab)
        return max(filter(None, moments), default=None)

    def _at_bench(self, lab: str, trainee: str) -> list[str]:
        item = self.workbooks.items.get((trainee, lab))
        partner = self.pairs.partner(item) if item else None
        return [trainee, *([partner.trainee] if partner else [])]

    def is_open(self, lab: str) -> bool:
        """Whether a lab is open, its end aside.

        What was done by hand holds, then the time at which it opens; without either, practice is
        open and an assessed lab waits for the trainer.
        """
        by_hand = self._log.state.open.get(lab)
        if by_hand is not None:
            return by_hand
        opens = read_moment(self.folder.fields.opens_of(lab))
        return CLOCK.moment() >= opens if opens else self.practice(lab)

    def opens(self, lab: str) -> str | None:
        """When a lab opens by itself, as long as it has not: in UTC, as labkit writes times."""
        opens = self.folder.fields.opens_of(lab)
        by_hand = lab in self._log.state.open
        return opens if opens and not by_hand and not self.is_open(lab) else None

    def practice(self, lab: str) -> bool:
        """Whether answers to a lab are checked at once."""
        return self.folder.fields.practice(lab)

    def shut(self, item: Dealt) -> str:
        """Why nothing is taken in a workbook now; "" where it is."""
        return self.over(item) or self.stands(item)

    def stands(self, item: Dealt) -> str:
        """Why nothing is taken for a while in a workbook that is not over; "" where it is."""
        pause = self.pause_of(item.lab)
        if pause is None:
            return ""
        words = f"{PAUSED_NOW}: {pause.sentence}" if pause.sentence else PAUSED_NOW
        return words if words.endswith((".", "!", "?")) else f"{words}."

    def over(self, item: Dealt) -> str:
        """Why nothing is taken in a workbook, a pause aside; "" where it is."""
        if not self._is_worked_at(item):
            return ANOTHER_ATTEMPT
        if self.pairs.rests(item):
            return RESTS
        if not self.is_open(item.lab):
            return CLOSED_NOW if item.lab in self._log.state.open else NOT_YET
        end = self.ends(item.lab, item.trainee)
        return TIME_IS_UP if end and self.clock(item.lab) >= end else ""

    def may_see(self, item: Dealt) -> bool:
        """Whether a workbook is shown: once it is open, and what was begun stays to be read."""
        return self.is_open(item.lab) or self.workbooks.begun(item)

    def is_released(self, lab: str) -> bool:
        """Whether everybody may see their results of a lab."""
        return lab in self._log.state.released

    def receipt(self, item: Dealt) -> tuple[str, str] | None:
        """The code and the time of the last receipt of a workbook."""
        return self._log.state.handed_in.get(item.workbook)

    # What a trainer does

    def _named(self, lab: str) -> str:
        if lab not in self.folder.fields.labs:
            raise ClassError("That is no lab of this class.")
        return lab

    def open_lab(self, lab: str, by: str) -> None:
        """Open a lab, without an end where the time was up; one that is paused goes on.

        Raises `ClassError`.
        """
        if self.is_released(self._named(lab)) and not self.practice(lab):
            raise ClassError(
                "Its results are released, and they tell the right answers. Deal a retake instead: "
                "'labkit deal --again'."
            )
        self._settled.clear()
        with self._one_at_a_time:
            self._log.add(OPENED, by, lab=lab)

    def close_lab(self, lab: str, by: str) -> None:
        """Close a lab, one that is paused too; what is saved is handed in by the next `settle`.

        Raises `ClassError`.
        """
        self._named(lab)
        with self._one_at_a_time:
            self._log.add(CLOSED, by, lab=lab)

    def pause(self, lab: str, sentence: str, by: str) -> None:
        """Let a lab, or with "" all that are open, stand still until `go_on`. Raises `ClassError`.

        Nothing is taken meanwhile, and everybody has that time on top of what is left.
        """
        words = plain_words(sentence)
        with self._one_at_a_time:
            open_now = [one for one in self._labs(lab) if self._is_worked_in(one)]
            labs = [one for one in open_now if not self.pause_of(one)]
            if not labs:
                paused = next(filter(None, map(self.pause_of, open_now)), None)
                raise ClassError(
                    f"It is paused already, by {paused.by}."
                    if paused
                    else "Nobody can work now: there is nothing to pause."
                )
            self._log.add(PAUSED, by, labs=labs, sentence=words)

    def go_on(self, lab: str, by: str) -> None:
        """Let a lab, or with "" all that are paused, go on. Raises `ClassError`."""
        with self._one_at_a_time:
            labs = [one for one in self._labs(lab) if self.pause_of(one)]
            if not labs:
                raise ClassError("It goes on already.")
            self._log.add(GONE_ON, by, labs=labs)

    def _labs(self, lab: str) -> list[str]:
        return [self._named(lab)] if lab else self.folder.fields.labs

    def _is_worked_in(self, lab: str) -> bool:
        items = list(self.workbooks.items.values())
        return any(item.lab == lab and not self.over(item) for item in items)

    def end_in(self, lab: str, minutes: int, by: str) -> None:
        """The time for a lab is up so many minutes from now, extra time and pauses on top."""
        more = timedelta(minutes=_minutes(minutes))
        self._settled.clear()
        with self._one_at_a_time:
            until = written(self.clock(self._named(lab)) + more)
            self._log.add(TIME, by, lab=lab, until=until)

    def give_time(self, lab: str, trainee: str, minutes: int, by: str) -> None:
        """Give one trainee, or with "" everybody, more time. Raises `ClassError`."""
        if trainee and trainee not in self.people:
            raise ClassError("That is nobody of this class.")
        if self.ends(self._named(lab)) is None:
            raise ClassError("This lab has no end: there is no time to give.")
        self._settled.clear()
        self._log.add(EXTRA, by, lab=lab, trainee=trainee, minutes=_minutes(minutes))

    def release(self, lab: str, by: str) -> None:
        """Let everybody see their results, which must have been worked out. Raises `ClassError`."""
        self.require_releasable(lab)
        self._log.add(RELEASED, by, lab=lab)

    def require_releasable(self, lab: str) -> None:
        """Raise `ClassError` while somebody may still answer an assessed lab."""
        if self.practice(self._named(lab)) or not self._is_worked_in(lab):
            return
        raise ClassError("Close the lab first: its results tell the right answers.")

    def put_together(self, lab: str, guest: str, host: str, by: str) -> None:
        """Let `guest` work in the workbook of `host`. Raises `ClassError` where it makes no sense.

        In practice somebody's own answers lie there until they are parted; in an assessed lab
        nobody's attempt is put aside.
        """
        items = [self._dealt(lab, trainee) for trainee in (guest, host)]
        self._require_not_told(lab)
        if not self.practice(lab) and self.workbooks.worked_at(items[0]):
            raise ClassError(
                f"{items[0].name} has begun this assessed lab already, and that stays theirs: let "
                f"{items[1].name} work in it instead, or deal a retake."
            )
        with self._one_at_a_time:
            self.pairs.join(items[0], items[1], by)

    def part(self, lab: str, guest: str, by: str) -> None:
        """Let `guest` work in their own workbook again. Raises `ClassError`."""
        item = self._dealt(lab, guest)
        self._require_not_told(lab)
        with self._one_at_a_time:
            self.pairs.part(item, by)

    def _dealt(self, lab: str, trainee: str) -> Dealt:
        item = self.workbooks.items.get((trainee, self._named(lab)))
        if item is None or trainee not in self.people:
            raise ClassError("Choose two people who were dealt this lab.")
        return item

    def _require_not_told(self, lab: str) -> None:
        if self.is_released(lab) and not self.practice(lab):
            raise ClassError("Its results are released: whose work they are of stays as it is.")

    # The projector

    @property
    def projected(self) -> Projected:
        """What the projector is to show."""
        return self._log.state.projected

    def may_tell(self, lab: str) -> bool:
        """Whether everybody may see right answers of a lab, with other numbers than their own."""
        return self.practice(lab) or self.is_released(lab)

    def project(self, shown: Projected | None, by: str) -> None:
        """Let the projector show something. Raises `ClassError` where it would tell too soon."""
        if shown is None or not (0 <= shown.step <= _MOST_STEPS and 0 <= shown.down <= _MOST_STEPS):
            raise ClassError("That is nothing that a projector can show.")
        if shown.view is not View.CLASS:
            self._require_shown(shown)
        self._log.add(PROJECTED, by, **asdict(shown))

    def _require_shown(self, shown: Projected) -> None:
        lab = self.workbooks.lab(self._named(shown.lab))
        if shown.view is not View.PROGRESS and not self.may_tell(lab.id):
            raise ClassError("Release its results first: this tells right answers.")
        if shown.view in OF_AN_EXERCISE and shown.exercise not in [
            each.id for each in lab.exercises
        ]:
            raise ClassError("That is no exercise of this lab.")
        if shown.view is View.REPLAY and not can_be_replayed(
            next(each for each in lab.exercises if each.id == shown.exercise)
        ):
            raise ClassError("Nothing was measured in that exercise: choose one at the bench.")

    # The second disk

    def held(self) -> None:
        """Note that the room was opened: a copy that was held elsewhere is known by it."""
        second = str(self.second.copy) if self.second else ""
        self._log.add(HELD, "", opening=secrets.token_hex(8), second=second)

    def without_second(self, by: str) -> None:
        """Go on without the second disk."""
        self._second().drop()
        self._log.add(WITHOUT_SECOND, by)

    def second_again(self, by: str) -> None:
        """Copy to the second disk what it lacks, and use it again. Raises `ClassError`."""
        self._second().again()
        self._log.add(SECOND_AGAIN, by)

    def _second(self) -> Second:
        if self.second is None:
            raise ClassError("This room was opened without a second disk.")
        return self.second

    # Handing in

    def hand_in(self, items: Iterable[Dealt], by: str = "") -> dict[str, Taken]:
        """Hand workbooks in; the receipts by workbook. `by` is whose hand did it."""
        with self._handing_in:
            # Those that are in the records and could not be confirmed come with the next.
            taken = self._taken = {**self._taken, **self.workbooks.hand_in(items, by)}
            if self.second:
                self.second.keep_up()
            for workbook, one in taken.items():
                details = {"workbook": workbook, "lab": one.dealt.lab, "code": one.code}
                self._log.add(HANDED_IN, one.dealt.trainee, received_at=one.received_at, **details)
            self._taken = {}
            return taken

    def settle(self) -> list[Dealt]:
        """Hand in what is over and was not handed in since it was last worked at.

        What came in by other commands comes onto the second disk too.
        """
        with self._settling:
            return self._settle()

    def _settle(self) -> list[Dealt]:
        due, settled = [], set()
        for item in (*self.workbooks.items.values(), *self.workbooks.earlier):
            if not self.over(item):
                self._settled.discard(item.workbook)
                continue
            if item.workbook in self._settled:
                continue
            if self.workbooks.waits(item):
                due.append(item)
            settled.add(item.workbook)
        self.hand_in(due)
        self._settled |= settled
        return due


def _state(file: Path) -> tuple[int, int] | None:
    """What tells one state of a file that is written whole from another; None without it."""
    try:
        found = file.stat()
    except FileNotFoundError:
        return None
    return found.st_mtime_ns, found.st_ino


def _minutes(minutes: int) -> int:
    if not 0 < minutes <= _MOST_MINUTES:
        raise ClassError(f"Give from 1 to {_MOST_MINUTES} minutes.")
    return minutes
