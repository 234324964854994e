"""Dealing: a scenario and a workbook for every trainee of a class, and for every retake.

A trainee's candidate draws come from the class's secret, the lab, the trainee's id and the attempt
alone. The first is dealt that is as hard as the class's others (`fairness`), has numbers that
nobody has, and few answers in common with the workbooks of neighbours that are dealt already
(`picking`, `seating`). So dealing is repeatable, and a late trainee changes nobody else's workbook.

The record comes before the workbook, so that a run that was cut short goes on with the numbers that
may already be in somebody's hands.
"""

from __future__ import annotations

import math
import os
from collections.abc import Collection, Generator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from time import process_time
from typing import Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal_record import (
    log_line,
    mend_log,
    read_deal,
    unfinished,
    write_deal,
)
from labkit.classroom.dealing.editions import edition_of, editions_now
from labkit.classroom.dealing.fairness import loosened
from labkit.classroom.dealing.kept_bounds import usual_bounds
from labkit.classroom.dealing.picking import Key, Picker
from labkit.classroom.dealing.roster_changes import require_no_changed_ids
from labkit.classroom.dealing.seating import dealing_order, neighbours
from labkit.classroom.dealing.seeds import scenario_of, signing_key, workbook_id
from labkit.classroom.dealt import Bounds, Deal, Dealt, Roll
from labkit.classroom.errors import ClassError
from labkit.classroom.jobs import require_jobs
from labkit.classroom.private_place import OWNERS_FILE, Place
from labkit.classroom.progress import Progress
from labkit.classroom.roster import Trainee, require_safe_ids
from labkit.exchange.formats import TASK_ENDING
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario
from labkit.lab.marking_rules import rules_of
from labkit.language.problems import nearest
from labkit.workbook import WorkbookFiles, task_data

_BUNDLES_EACH: Final = 16
"""So many workbooks a process are chosen before all processes write them."""
_WORTH_STARTING: Final = 3.0
"""Seconds of writing that other processes must save: to start, they load labkit and read labs."""

Wanted = tuple[Trainee, str, int]
"""A workbook to deal, or to write again: whose, of which lab, at which attempt."""


@dataclass(frozen=True, slots=True)
class DealResult:
    """What a run of dealing did."""

    deal: Deal
    new: int
    kept: int


def deal(
    folder: ClassFolder, library: Path, progress: Progress | None = None, *, jobs: int = 1
) -> DealResult:
    """Deal every workbook of the class that is not dealt yet.

    A workbook that is there already is left alone; of a lab that is held in the room alone the
    record is all, and no file is written. `jobs` processes (-1: one a processor core)
    build the workbooks; the result is the same whatever their number. `progress` is called with
    (done, all). Raises `ClassError` and `DefinitionError`.
    """
    require_no_changed_ids(folder, read_deal(folder))
    desk = _Desk.open(folder, library)
    everybody = [(trainee, lab, 1) for trainee in desk.order for lab in folder.fields.labs]
    return desk.run(everybody, progress, jobs)


def deal_again(
    folder: ClassFolder,
    library: Path,
    trainees: Sequence[str],
    lab: str | None = None,
    progress: Progress | None = None,
    *,
    jobs: int = 1,
) -> DealResult:
    """Deal some trainees (ids) one attempt more of a lab, or of every lab of the class.

    A retake that a run which was cut short had begun is finished, not followed by another one.
    Raises `ClassError` for who was not dealt a first attempt, and when `attempts` are used up.
    """
    desk = _Desk.open(folder, library)
    labs = folder.fields.labs if lab is None else [desk.named(lab)]
    begun = {item.key for item in unfinished(folder)}
    for trainee in trainees:
        if trainee not in {person.id for person in desk.order}:
            known = nearest(trainee, [person.id for person in desk.order])
            raise ClassError(f"Nobody with the id '{trainee}' is in the roster. {known}".strip())
    wanted = [
        (person, each, desk.next_attempt(person, each, begun))
        for person in desk.order
        if person.id in trainees
        for each in labs
    ]
    return desk.run(wanted, progress, jobs)


def require_same_secret(folder: ClassFolder, secret: str, deal: Deal) -> None:
    """Raise `ClassError` when `deal` was made with another secret or another class id."""
    for item in deal.dealt:
        expected = workbook_id(secret, folder.fields.id, item.lab, *item.origin)
        if item.workbook != expected:
            raise ClassError(
                f"{folder.path}: the workbooks were dealt with another class-secret.txt or another "
                "'id' in class.yaml. Bring both back as they were: the numbers follow from them."
            )


def trainee_folder(folder: ClassFolder, trainee: str) -> Path:
    """Where a trainee's workbooks are dealt to."""
    return folder.workbooks / trainee


def workbook_folder(folder: ClassFolder, item: Dealt) -> Path:
    """Where one workbook is dealt to: a retake has a folder of its own, to be given out alone."""
    trainee, attempt = item.origin
    home = trainee_folder(folder, trainee)
    return home / f"attempt-{attempt}" if attempt > 1 else home


def attempt_after(folder: ClassFolder, last: Dealt, begun: Collection[Key]) -> int:
    """The attempt that a retake deals after somebody's last one.

    It is that one itself where it is a retake that was begun (its key is in `begun`, those of
    `deal_record.unfinished`), or whose files are gone: it is finished, not followed.
    """
    if last.attempt > 1 and (last.key in begun or not _there(folder, last)):
        return last.attempt
    return last.attempt + 1


def _there(folder: ClassFolder, item: Dealt) -> bool:
    """Whether a workbook has its files, where it is to have any."""
    if folder.fields.in_room(item.lab):
        return True
    home = workbook_folder(folder, item)
    return all((home / f"{item.stem}{ending}").exists() for ending in (".ipynb", TASK_ENDING))


@dataclass(frozen=True)
class _Desk:
    """A class on the instructor's desk, ready to be dealt."""

    folder: ClassFolder
    secret: str
    earlier: Deal
    labs: _Labs
    order: list[Trainee]
    record: Deal
    picker: Picker

    @classmethod
    def open(cls, folder: ClassFolder, library: Path) -> _Desk:
        secret = folder.secret(make=True)
        earlier = read_deal(folder)
        require_same_secret(folder, secret, earlier)
        fields = folder.fields
        labs = _Labs(folder, library, earlier)
        trainees = folder.trainees
        dealt = {item.trainee for item in earlier.dealt}
        require_safe_ids(folder.roster_file, fields.roster_encoding, dealt)
        for name in fields.labs:
            labs.require(name)
        for name in fields.labs:
            folder.keep_lab(name, library)
        editions = {name: earlier.labs.get(name) or labs.edition(name) for name in fields.labs}
        bounds = {name: _bounds(folder, labs, name, earlier) for name in fields.labs}
        record = Deal({**editions, **earlier.labs}, earlier.dealt, {**earlier.bounds, **bounds})
        beside = neighbours(trainees)
        strict = fields.neighbours_equal is not None
        picker = Picker(secret, fields.id, labs, bounds, beside, earlier.dealt, strict=strict)
        return cls(folder, secret, earlier, labs, dealing_order(trainees), record, picker)

    def named(self, name: str) -> str:
        """The name of a lab of the class. Raises `ClassError` when it is none."""
        labs = self.folder.fields.labs
        if name not in labs:
            known = nearest(name, labs)
            raise ClassError(f"'{name}' is not one of the labs of this class. {known}".strip())
        return name

    def next_attempt(self, trainee: Trainee, lab: str, begun: set[Key]) -> int:
        """The number of the attempt that is to be dealt. Raises `ClassError`."""
        last = max((k[2] for k in self.picker.dealt if k[:2] == (trainee.id, lab)), default=0)
        who = f"{trainee.name} ({trainee.id})"
        if not last:
            raise ClassError(
                f"{who} was not dealt '{lab}' yet, so there is nothing to retake: run "
                f"'labkit deal' first."
            )
        following = attempt_after(self.folder, self.picker.dealt[trainee.id, lab, last], begun)
        if following == last:
            return last
        allowed = self.folder.fields.attempts
        if allowed is not None and last >= allowed:
            raise ClassError(
                f"{who} was dealt {last} attempt(s) of '{lab}', and 'attempts: {allowed}' in "
                "class.yaml allows no more."
            )
        return following

    def run(self, wanted: Sequence[Wanted], progress: Progress | None, jobs: int) -> DealResult:
        """Deal what is wanted and not dealt yet; write what has no files, this or an earlier."""
        require_jobs(jobs)
        dealt = self.picker.dealt
        todo = [one for one in (*wanted, *self._retakes(wanted)) if not self._has(_key(*one))]
        before = len(dealt)
        if todo:
            _require_rules(self.folder, self.labs, self.earlier)
        write_deal(self.folder, self.record)
        mend_log(self.folder)
        writers = _Writers(self.folder, self.secret, jobs, len(todo))
        with self.folder.deal_log.open("ab") as log, writers:
            while ahead := todo[writers.taken : writers.taken + writers.at_once]:
                chosen = []
                for trainee, lab, attempt in ahead:
                    known = dealt.get(_key(trainee, lab, attempt))
                    if known:
                        chosen.append((known, self.picker.again(known)))
                        continue
                    item, scenario = self.picker.pick(trainee, self.labs[lab], attempt)
                    log.write(log_line(item))
                    chosen.append((item, scenario))
                # Once a bundle: of none of it is there a workbook yet.
                log.flush()
                os.fsync(log.fileno())
                done = writers.write(chosen)
                if progress:
                    progress(done, len(todo))
        if progress and writers.at_once > 1:
            progress(len(todo), len(todo))
        whole = Roll(sorted(dealt.values(), key=self._place))
        record = Deal(self.record.labs, whole, self.record.bounds)
        write_deal(self.folder, record)
        self.folder.deal_log.unlink()
        return DealResult(record, len(dealt) - before, before)

    def _retakes(self, wanted: Sequence[Wanted]) -> list[Wanted]:
        """Retakes that are dealt already: their files may be lost as well."""
        named = {_key(*one) for one in wanted}
        known = [key for key in self.picker.dealt if key[2] > 1 and key not in named]
        people = {trainee.id: trainee for trainee in self.order}
        return [
            (people[trainee], lab, attempt)
            for trainee, lab, attempt in known
            if trainee in people and lab in self.folder.fields.labs
        ]

    def _has(self, key: Key) -> bool:
        item = self.picker.dealt.get(key)
        return item is not None and _there(self.folder, item)

    def _place(self, item: Dealt) -> tuple[float, str, float, str, int]:
        """The roster's order, then the labs' in class.yaml; who is in neither comes last."""
        people, labs = self._places
        trainee, lab = people.get(item.trainee, math.inf), labs.get(item.lab, math.inf)
        return trainee, item.trainee, lab, item.lab, item.attempt

    @cached_property
    def _places(self) -> tuple[dict[str, int], dict[str, int]]:
        people = {person.id: place for place, person in enumerate(self.folder.trainees)}
        return people, {name: place for place, name in enumerate(self.folder.fields.labs)}


class _Writers:
    """Builds and writes workbooks: here, and in other processes where enough is left for them."""

    def __init__(self, folder: ClassFolder, secret: str, jobs: int, wanted: int) -> None:
        self._folder, self._secret, self._jobs, self._wanted = folder, secret, jobs, wanted
        self._begun: Generator[None, None, None] | None = None
        self._seconds = 0.0
        self.taken = 0
        self.at_once = 1

    def __enter__(self) -> _Writers:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        if kind is not None and self._begun:
            # What they leave stands in the log: the next run of dealing writes it.
            self._begun.close()
            return
        self._finish()

    def write(self, chosen: Sequence[tuple[Dealt, Scenario]]) -> int:
        """Write some workbooks, or begin to; those that are there are left alone.

        Returns how many are written by now.
        """
        self._finish()
        before = self.taken
        self.taken += len(chosen)
        if self.at_once > 1:
            # The next ones are chosen while others write these.
            self._begun = self._elsewhere([item for item, _ in chosen])
            return before
        began = process_time()
        for item, scenario in chosen:
            _write(self._folder, self._secret, item, scenario)
        self._seconds += process_time() - began
        self._share_what_is_left()
        return self.taken

    def _share_what_is_left(self) -> None:
        if self._jobs == 1:
            return
        from joblib import effective_n_jobs

        processes = int(effective_n_jobs(self._jobs))
        left = self._seconds / self.taken * (self._wanted - self.taken)
        if processes > 1 and left * (1 - 1 / processes) >= _WORTH_STARTING:
            self.at_once = _BUNDLES_EACH * processes

    def _elsewhere(self, items: Sequence[Dealt]) -> Generator[None, None, None]:
        from joblib import Parallel, delayed

        stamp = self._folder.deal_file.stat().st_mtime_ns
        place = str(self._folder.path.resolve())
        begun: Generator[None, None, None] = Parallel(n_jobs=self._jobs, return_as="generator")(
            delayed(_write_elsewhere)(place, stamp, item) for item in items
        )
        return begun

    def _finish(self) -> None:
        for _ in self._begun or ():
            pass


def _write_elsewhere(place: str, stamp: int, item: Dealt) -> None:
    """What another process does with one workbook; it draws the scenario again by itself."""
    folder, secret, labs = _class_at(place, stamp)
    if item.lab not in labs:
        labs[item.lab] = folder.lab(item.lab, dealt=True)
    scenario = scenario_of(secret, folder.fields.id, labs[item.lab], item)
    _write(folder, secret, item, scenario)


@lru_cache(maxsize=2)
def _class_at(place: str, _stamp: int) -> tuple[ClassFolder, str, dict[str, Lab]]:
    folder = ClassFolder.open(Path(place))
    return folder, folder.secret(), {}


def _key(trainee: Trainee, lab: str, attempt: int) -> Key:
    return trainee.id, lab, attempt


def _write(folder: ClassFolder, secret: str, item: Dealt, scenario: Scenario) -> None:
    if folder.fields.in_room(item.lab):
        return
    trainee, attempt = item.origin
    task = task_data(
        scenario,
        workbook=item.workbook,
        class_id=folder.fields.id,
        class_title=folder.fields.title,
        trainee={"id": trainee, "name": item.name},
        practice=folder.fields.practice(item.lab),
        deadline=folder.fields.deadline_of(item.lab),
        signing_key=signing_key(secret, item.workbook),
        attempt=attempt,
        opens=folder.fields.opens_of(item.lab),
    )
    steps = workbook_folder(folder, item).relative_to(folder.workbooks).parts
    target = Place(folder.workbooks).made(*steps)
    WorkbookFiles.of(scenario, task, item.stem).write(target, mode=OWNERS_FILE)


class _Labs(dict[str, Lab]):
    """The labs of a class. Each is read when it is first needed: where nothing is, none is."""

    def __init__(self, folder: ClassFolder, library: Path, earlier: Deal) -> None:
        super().__init__()
        self._folder, self._library, self._earlier = folder, library, earlier

    def __missing__(self, name: str) -> Lab:
        lab = self._folder.lab(name, self._library, dealt=name in self._earlier.labs)
        if lab.id != name:
            raise ClassError(f"The folder 'labs/{name}' holds a lab with the id '{lab.id}'.")
        return self.setdefault(name, lab)

    def require(self, name: str) -> None:
        """Raise `ClassError` when a lab is not there, or was dealt and is another one now."""
        self._folder.lab_file(name, self._library)
        before = self._earlier.labs.get(name)
        if before and not self._folder.has_lab(name, before["digest"], self._library):
            raise ClassError(
                f"The definition of '{name}' in this class was changed after it was dealt. "
                "Trainees already have the old numbers: bring the old file back, or make a new "
                "class."
            )

    def edition(self, name: str) -> dict[str, str]:
        """What the deal of a lab says of it."""
        lab = self[name]
        return {
            "version": lab.version,
            "digest": lab.digest,
            "rules": rules_of(lab),
            "mode": self._folder.fields.mode_of(name),
        }


def _bounds(folder: ClassFolder, labs: _Labs, name: str, earlier: Deal) -> Bounds:
    """The bounds of the first deal of a lab; class.yaml may make them wider later."""
    fields = folder.fields
    spread, equal = fields.difficulty_spread.get(name), fields.neighbours_equal
    known = earlier.bounds.get(name)
    if known and any(item.lab == name for item in earlier.dealt):
        return loosened(known, spread, equal)
    return usual_bounds(labs[name], spread, equal)


def _require_rules(folder: ClassFolder, labs: _Labs, earlier: Deal) -> None:
    """Raise `ClassError` where the workbooks dealt before are marked by other rules than these.

    Some of a class by the one and some by the other would not be fair.
    """
    now: dict[str, str] = {}
    if folder.has_records:
        from labkit.classroom.records.store import Records

        now = editions_now(Records.of(folder))
    for name in folder.fields.labs:
        if name in earlier.labs:
            edition_of(folder, name, earlier, now.get(name), as_read=labs[name]).require_rules()
