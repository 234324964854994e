"""Everything that marking the hand-ins of a class needs, put together once a process."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Self

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.clocks import JournalFacts
from labkit.classroom.dealing import Deal, Dealt, read_deal, require_same_secret, scenario_of
from labkit.classroom.editions import Edition, edition_of
from labkit.classroom.errors import ClassError
from labkit.classroom.marking import marks_of, row_of
from labkit.classroom.receiving import Examined, HandIn, Reader
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario
from labkit.lab.marking_rules import key_digest

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Task:
    """One file to look at: its name and its bytes; `marked` by the edition that holds now."""

    file: str
    data: bytes
    marked: bool = False


@dataclass(frozen=True, slots=True)
class Done:
    """What became of a file: a row for the receipts, rows for the marks, and one for the journal
    where it is whole."""

    receipt: Row
    marks: list[Row]
    journal: Row | None

    @classmethod
    def of(cls, examined: Examined, marks: list[Row]) -> Self:
        """What became of a file that was examined and marked."""
        return cls(receipt_row(examined), marks, journal_row(examined))


@dataclass(frozen=True)
class Examiner:
    """The deal, the class's secret and the labs by which marks are given."""

    folder: ClassFolder
    deal: Deal
    secret: str
    editions: dict[str, Edition]
    reader: Reader

    @classmethod
    def of(cls, folder: ClassFolder, texts: dict[str, str] | None = None) -> Examiner:
        """The examiner of a class. `texts` names later editions than the dealt one: lab → id.

        Raises `ClassError` when the class was not dealt yet or is not as it was dealt.
        """
        deal = read_deal(folder)
        if not deal.dealt:
            raise ClassError(f"{folder.path} was not dealt yet: run 'labkit deal' first.")
        secret = folder.secret()
        require_same_secret(folder, secret, deal)
        ids = texts or {}
        editions = {name: edition_of(folder, name, deal, ids.get(name)) for name in deal.labs}
        return cls(folder, deal, secret, editions, Reader(deal, secret, folder.fields.id))

    @property
    def labs(self) -> dict[str, Lab]:
        """The labs by which marks are given."""
        return {name: edition.lab for name, edition in self.editions.items()}

    @property
    def texts(self) -> dict[str, str]:
        """The editions by which marks are given: lab → id."""
        return {name: edition.id for name, edition in self.editions.items()}

    def scenario(self, item: Dealt) -> Scenario:
        """What a trainee was dealt. Raises `ClassError` when it comes out otherwise."""
        lab = self.editions[item.lab].lab
        return scenario_of(self.secret, self.folder.fields.id, lab, item)

    def work(self, task: Task) -> Done:
        """Look at one file: a receipt, and marks where it is whole."""
        examined = self.reader.examine(task.file, task.data)
        return Done.of(examined, [] if task.marked else self._marks(examined))

    def _marks(self, examined: Examined) -> list[Row]:
        hand_in = examined.hand_in
        if hand_in is None:
            return []
        item = hand_in.dealt
        edition = self.editions[item.lab]
        edition.require_rules()
        about = {
            "digest": examined.digest,
            "workbook": item.workbook,
            "lab": item.lab,
            "lab_digest": edition.id,
        }
        scenario = self.scenario(item)
        prepared = {one.id: scenario.prepare(one) for one in scenario.lab.exercises}
        edition.require_keys(item, key_digest(prepared.values()))
        marks = marks_of(scenario, hand_in.journal, prepared)
        return [{**about, **row_of(mark)} for mark in marks]


def receipt_row(examined: Examined) -> Row:
    """What the records hold of a file (see `records.schema.receipts`), but for when it came."""
    hand_in: HandIn | None = examined.hand_in
    return {
        "digest": examined.digest,
        "file": examined.file,
        "workbook": hand_in.dealt.workbook if hand_in else None,
        "outcome": examined.outcome,
        "sentence": examined.sentence,
        "made_at": hand_in.made_at if hand_in else "",
        "entries": len(hand_in.journal) if hand_in else 0,
        "unreadable": examined.unreadable,
        "answers": examined.answers,
    }


def journal_row(examined: Examined) -> Row | None:
    """What the records hold of a file's journal (see `records.schema.journals`)."""
    hand_in = examined.hand_in
    if hand_in is None:
        return None
    facts = asdict(JournalFacts.of(hand_in.journal))
    return {"digest": examined.digest, "workbook": hand_in.dealt.workbook, **facts}


@dataclass(frozen=True)
class Setting:
    """What leads another process to the same examiner: plain data only."""

    path: str
    texts: tuple[tuple[str, str], ...]
    stamp: tuple[int, int]

    @classmethod
    def of(cls, folder: ClassFolder, texts: dict[str, str]) -> Setting:
        """The setting of a class as it is now."""
        state = folder.deal_file.stat()
        return cls(
            str(folder.path.resolve()), tuple(texts.items()), (state.st_mtime_ns, state.st_size)
        )


@lru_cache(maxsize=2)
def examiner_of(setting: Setting) -> Examiner:
    """The examiner of a setting, put together once a process."""
    return Examiner.of(ClassFolder.open(Path(setting.path)), dict(setting.texts))


def work_elsewhere(setting: Setting, tasks: Sequence[Task]) -> list[Done]:
    """What another process does with a bundle of files."""
    examiner = examiner_of(setting)
    return [examiner.work(task) for task in tasks]
