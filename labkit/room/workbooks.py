"""The workbooks that a class works at in the room: opened from the deal, handed in to the records.

Journals lie in the class's folder `room/`, a folder a trainee. Nothing of a key ever leaves.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealing.seeds import scenario_of, signing_key
from labkit.classroom.dealt import Dealt, Roll
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import Place, keep_private
from labkit.exchange.append_only import AddLine, add_line
from labkit.exchange.formats import HAND_IN_ENDING, TASK_ENDING
from labkit.exchange.hand_in import file_name
from labkit.exchange.journal import ANSWER, HANDED_IN, OF_EXERCISES, STEP, Journal
from labkit.exchange.task_file import journal_path
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario
from labkit.page.desk import Desk
from labkit.page.kept_plays import WorkbookPlays
from labkit.page.play_processes import PlayProcesses
from labkit.page.sheet import sheet_of
from labkit.room.practice import Practice
from labkit.room.trail import Trail
from labkit.workbook.task import task_data

if TYPE_CHECKING:
    from labkit.classroom.handins.collecting import Taken

_HANDED_IN: Final = "handed-in"
"""Where hand-ins lie until they are in the records."""


@dataclass(frozen=True, slots=True)
class Workbook:
    """A workbook that is open in the room."""

    item: Dealt
    desk: Desk
    trail: Trail


class Workbooks:
    """All workbooks of a class. They may be asked for from several threads.

    `over` says why nothing is kept in a workbook any more, `stands` why for a while; "" while it
    is. Benches are played in `processes`, without any in this one. Raises `ClassError` where
    nothing was dealt yet.
    """

    def __init__(
        self,
        folder: ClassFolder,
        over: Callable[[Dealt], str],
        stands: Callable[[Dealt], str],
        add: AddLine = add_line,
        processes: PlayProcesses | None = None,
    ) -> None:
        self.items: dict[tuple[str, str], Dealt] = {}
        """What is worked at, by trainee and lab: of several attempts the last."""
        self.dealt: dict[str, Dealt] = {}
        """All attempts, by the number of the workbook."""
        self._by_trainee: dict[str, list[Dealt]] = {}
        self.take(read_deal(folder).dealt)
        if not self.items:
            raise ClassError(f"{folder.path} was not dealt yet: run 'labkit deal' first.")
        self._folder, self._secret = folder, folder.secret()
        self._over, self._stands = over, stands
        self._add, self._place, self._processes = add, Place(folder.room), processes
        self._labs: dict[str, Lab] = {}
        self._open: dict[str, Workbook] = {}
        self._locks: dict[str, Lock] = {}
        self._reading = Lock()
        self._receiving = Lock()
        self.practice = Practice(self, folder.fields)

    def take(self, dealt: Roll) -> None:
        """Take what was dealt, by now."""
        attempts = list(dealt.together())
        self.dealt = {item.workbook: item for items in attempts for item in items}
        self.items = {(last.trainee, last.lab): last for *_, last in attempts}
        by_trainee: dict[str, list[Dealt]] = {}
        for item in self.dealt.values():
            by_trainee.setdefault(item.trainee, []).append(item)
        self._by_trainee = by_trainee

    def of(self, trainee: str) -> list[Dealt]:
        """All workbooks of a person, those of earlier attempts too."""
        return self._by_trainee.get(trainee, [])

    @property
    def earlier(self) -> list[Dealt]:
        """The attempts before the last: nobody works at them any more."""
        return [item for item in self.dealt.values() if not self.is_last(item)]

    def is_last(self, item: Dealt) -> bool:
        """Whether a workbook is the one that its owner works at now."""
        now = self.items.get((item.trainee, item.lab))
        return now is not None and now.workbook == item.workbook

    def lab(self, name: str) -> Lab:
        """A lab of the class as it was dealt."""
        with self._reading:
            if name not in self._labs:
                self._labs[name] = self._folder.lab(name, dealt=True)
            return self._labs[name]

    def known(self, item: Dealt) -> Workbook | None:
        """A workbook that is open already."""
        return self._open.get(item.workbook)

    @property
    def all_known(self) -> list[Workbook]:
        """The workbooks that are open already."""
        return list(self._open.values())

    def opened(self, item: Dealt) -> Workbook:
        """The workbook of an item; opening it draws its scenario and reads its journal."""
        with self._reading:
            lock = self._locks.setdefault(item.workbook, Lock())
        with lock:
            if item.workbook not in self._open:
                self._open[item.workbook] = self._made(item)
            return self._open[item.workbook]

    def scenario(self, item: Dealt) -> Scenario:
        """What was dealt, drawn again."""
        return scenario_of(self._secret, self._folder.fields.id, self.lab(item.lab), item)

    def scenario_known(self, item: Dealt) -> Scenario:
        """The same, taken from the workbook where that is open already."""
        known = self.known(item)
        return known.trail.scenario if known else self.scenario(item)

    def _made(self, item: Dealt) -> Workbook:
        fields, scenario = self._folder.fields, self.scenario(item)
        trainee, attempt = item.origin
        task = task_data(
            scenario,
            workbook=item.workbook,
            class_id=fields.id,
            class_title=fields.title,
            trainee={"id": trainee, "name": item.name},
            practice=fields.practice(item.lab),
            deadline=fields.deadline_of(item.lab),
            signing_key=signing_key(self._secret, item.workbook),
            attempt=attempt,
            hosted=True,
        )
        file = self._task_file(item)
        Place(self._folder.journals).made(item.origin[0])
        keep_private(journal_path(file))
        entries = self._journal(item).read().entries
        trail = Trail(scenario, entries, practice=fields.practice(item.lab))
        desk = Desk(
            task,
            file,
            sheet_of(scenario),
            why_shut=partial(self._over, item),
            why_waits=partial(self._stands, item),
            lab=self.lab(item.lab),
            add=partial(self._add_and_tell, trail),
            name_of=self._name_of,
            plays=self._plays(item),
            topic_of=partial(self.practice.line, item),
        )
        return Workbook(item, desk, trail)

    def _add_and_tell(self, trail: Trail, file: Path, line: bytes) -> None:
        self._add(file, line)
        trail.hears(line)

    def _name_of(self, hand: str) -> str:
        item = self.dealt.get(hand)
        return item.name if item else ""

    def _plays(self, item: Dealt) -> WorkbookPlays | None:
        if self._processes is None:
            return None
        trainee, place = item.origin[0], Place(self._folder.played, synced=False)

        def write(name: str, data: bytes) -> None:
            place.write(data, trainee, name)

        return WorkbookPlays(self._processes, place.path / trainee, write, item.stem)

    def _task_file(self, item: Dealt) -> Path:
        """Where a task file would lie: it is made in memory only, the journal lies beside it."""
        return self._folder.journals / item.origin[0] / f"{item.stem}{TASK_ENDING}"

    def _journal(self, item: Dealt) -> Journal:
        return Journal(journal_path(self._task_file(item)))

    def begun(self, item: Dealt) -> bool:
        """Whether a workbook was ever opened in the room."""
        return item.workbook in self._open or self._journal(item).path.exists()

    def attempts(self, lab: str) -> list[list[Dealt]]:
        """Everybody's workbooks of a lab, of each person in order."""
        found: dict[str, list[Dealt]] = {}
        for item in self.dealt.values():
            if item.lab == lab:
                found.setdefault(item.trainee, []).append(item)
        return list(found.values())

    def entries(self, item: Dealt) -> tuple[dict[str, Any], ...]:
        """What the journal of a workbook holds."""
        return self._journal(item).read().entries

    def size(self, item: Dealt) -> int:
        """How long the journal of a workbook is; 0 where there is none."""
        try:
            return self._journal(item).path.stat().st_size
        except FileNotFoundError:
            return 0

    def waits(self, item: Dealt) -> bool:
        """Whether something was done in a workbook since it was last handed in here."""
        for entry in reversed(self._journal(item).read().entries):
            if entry["event"] in (ANSWER, STEP):
                return True
            if entry["event"] == HANDED_IN:
                return False
        return False

    def worked_at(self, item: Dealt) -> bool:
        """Whether something was answered in a workbook, or done at its bench."""
        return any(entry["event"] in OF_EXERCISES for entry in self._journal(item).read().entries)

    def has_hand(self, item: Dealt, hand: str) -> bool:
        """Whether something in a workbook was done by this hand."""
        return any(entry.get("by") == hand for entry in self._journal(item).read().entries)

    def hand_in(self, items: Iterable[Dealt], by: str = "") -> dict[str, Taken]:
        """Hand workbooks in, all in one go; the receipts by workbook. `by` is whose hand did it.

        It waits for the disk, for the records, and for others who hand in.
        """
        # Not before: a room that is opened again must not wait for what keeps records.
        from labkit.classroom.handins.collecting import collect

        with self._receiving:
            for item in items:
                self._pack(self.opened(item), by)
            waiting = sorted((self._place.path / _HANDED_IN).glob(f"*{HAND_IN_ENDING}"))
            if not waiting:
                return {}
            # With those that an earlier run could not bring into the records any more.
            found = collect(self._folder, waiting, of_room=True)
            for file in waiting:
                file.unlink()
        return {taken.dealt.workbook: taken for taken in found.new}

    def _pack(self, workbook: Workbook, by: str) -> None:
        data = json.dumps(workbook.desk.handed_in(by=by), ensure_ascii=False, indent=1)
        name = file_name(workbook.item.lab, *workbook.item.origin)
        self._place.write(data, _HANDED_IN, name)
