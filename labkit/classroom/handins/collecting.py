"""Taking hand-ins in from any folder, share or stick, and the receipt for each.

A source is only ever read. What is a hand-in is copied into the class's folder under a name that
follows from its bytes; what cannot be used but calls itself a hand-in is set aside; everything else
on a stick is nobody's business here and is left alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from itertools import chain
from pathlib import Path
from typing import Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealt import Dealt
from labkit.classroom.errors import ClassError
from labkit.classroom.filling import filled
from labkit.classroom.handins.choosing import Notice, Policy, Receipt
from labkit.classroom.handins.examiner import Examiner
from labkit.classroom.handins.intake import Files, bundles, files_in, keep, kept_name, without_known
from labkit.classroom.handins.outcome import Done
from labkit.classroom.handins.pairs import Pairs
from labkit.classroom.handins.receiving import Examined, HandIn
from labkit.classroom.handins.settling import prepared, received_of, settle
from labkit.classroom.handins.unpacking import unpacked
from labkit.classroom.private_place import Place
from labkit.classroom.progress import Progress
from labkit.classroom.records.acts import note
from labkit.classroom.records.schema import in_room
from labkit.classroom.records.store import Records
from labkit.classroom.unlinked import LinkError, open_unlinked
from labkit.exchange.formats import HAND_IN_ENDING

_AT_ONCE: Final = 200
"""Trainees whose receipts are looked at together."""
_NAMES_KEPT: Final = 100
_NAMED: Final = HAND_IN_ENDING.split(".")[1]


@dataclass(slots=True)
class Several:
    """So many files; the first of them by name, however many there are."""

    count: int = 0
    names: list[str] = field(default_factory=list)

    def add(self, name: str) -> None:
        """One more."""
        self.count += 1
        if len(self.names) < _NAMES_KEPT:
            self.names.append(name)


@dataclass(slots=True)
class Collected:
    """What a turn of receiving brought.

    `known` are hand-ins that were received before, `left_alone` files that are no hand-ins.
    """

    new: list[Taken] = field(default_factory=list)
    known: Several = field(default_factory=Several)
    left_alone: Several = field(default_factory=Several)
    notices: list[Notice] = field(default_factory=list)
    missing: list[Dealt] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Taken:
    """A hand-in that was taken in. `code` is short enough to be read out; `page` is its receipt."""

    dealt: Dealt
    digest: str
    made_at: str
    received_at: str
    late: bool
    page: Path
    in_room: bool = False

    @property
    def code(self) -> str:
        """The first ten hexadecimal digits of the file's SHA-256, in two groups."""
        return short_code(self.digest)


def short_code(digest: str) -> str:
    """How people name a hand-in: ten digits of its SHA-256 in two groups."""
    return f"{digest[:5]}-{digest[5:10]}".upper()


def collect(
    folder: ClassFolder,
    sources: Sequence[Path] = (),
    progress: Progress | None = None,
    *,
    of_room: bool = False,
    by: str = "",
) -> Collected:
    """Receive what lies in the sources, or in the class's own folder `hand-ins`.

    A source that is an archive (ZIP) stands for the files in it. Doing it again changes nothing.
    `of_room`: the room packed these itself, so that none is late. `by`: who takes them in, which is
    noted where something came. Raises `ClassError` for a source that is not there.
    """
    for source in sources:
        if not source.exists():
            raise ClassError(f"{source} is not there. Is the stick or the share connected?")
    with unpacked(sources or (folder.hand_ins,)) as (places, notices):
        found = _collected(folder, places, progress, of_room=of_room)
    if by and found.new:
        note(folder, f"Hand-ins taken in: {len(found.new)}.", by)
    return replace(found, notices=[*notices, *found.notices])


def _collected(
    folder: ClassFolder, places: Sequence[Path], progress: Progress | None, *, of_room: bool
) -> Collected:
    records = Records.of(folder)
    examiner = prepared(folder, records)
    found = Collected()
    own = folder.hand_ins.resolve()
    ours = [place for place in places if place.resolve().is_relative_to(own)]
    lots = ((files_in(*ours), True), (files_in(*(p for p in places if p not in ours)), False))
    done, total = 0, sum(len(files) for files, _ in lots)
    for files, is_ours in lots:
        found.notices += files.unread
        for bundle_size in _taken_in(
            examiner, records, files, found, ours=is_ours, of_room=of_room
        ):
            done += bundle_size
            if progress:
                progress(done, total)
    found.missing = _missing_after_receipts(examiner, records)
    found.notices += settle(records, examiner.deal, folder.fields)
    return found


def _taken_in(
    examiner: Examiner,
    records: Records,
    files: Files,
    found: Collected,
    *,
    ours: bool,
    of_room: bool,
) -> Iterable[int]:
    for bundle in bundles(files):
        fresh = without_known(records, bundle, None)
        for task in bundle.tasks:
            if sha256(task.data).hexdigest() in fresh.received:
                found.known.add(task.file)
        done: list[Done] = []
        taken: dict[str, HandIn] = {}
        for task in fresh.tasks:
            examined = examiner.reader.examine(task.file, task.data)
            if not ours and not _concerns_us(examined):
                found.left_alone.add(task.file)
                continue
            if examined.hand_in:
                # Two copies of one hand-in on a stick are one hand-in.
                if examined.digest in taken:
                    found.known.add(task.file)
                taken[examined.digest] = examined.hand_in
            if not ours:
                _store(examiner.folder, examined, task.data)
            done.append(Done.of(examined, []))
        if not ours:
            for refused in fresh.refused:
                found.left_alone.add(refused.file)
            fresh.refused = []
        with records.writing() as connection:
            found.notices += keep(records, connection, fresh, done)
            if of_room:
                workbooks = {digest: one.dealt.workbook for digest, one in taken.items()}
                rows = [{"digest": one, "workbook": number} for one, number in workbooks.items()]
                records.add(in_room, rows, connection)
        code = records.code()
        with records.reading() as connection:
            pairs = Pairs.of(connection)
        for digest, hand_in in taken.items():
            times = hand_in.made_at, fresh.received_at
            taken_in = _taken(examiner.folder, hand_in.dealt, digest, *times, of_room=of_room)
            _write_receipt(examiner, taken_in, code, pairs)
            found.new.append(taken_in)
        yield bundle.size


def _concerns_us(examined: Examined) -> bool:
    return examined.hand_in is not None or f".{_NAMED}" in examined.file.lower()


def _store(folder: ClassFolder, examined: Examined, data: bytes) -> None:
    if examined.outcome == "foreign":
        # Of another class, or of somebody who was erased: it is not ours to keep.
        return
    if examined.hand_in:
        write_once(Place(folder.hand_ins), data, "received", kept_name(examined.digest))
    else:
        write_once(Place(folder.path / "set-aside"), data, kept_name(examined.digest))


def write_once(place: Place, data: bytes, *steps: str) -> None:
    """Write a file that its name already tells the content of; whole, or not at all."""
    target = place.path.joinpath(*steps)
    try:
        with open_unlinked(target, place.path) as stream:
            if stream.read(len(data) + 1) == data:
                return
    except (OSError, LinkError):
        pass
    place.write(data, *steps)


def _taken(
    folder: ClassFolder,
    dealt: Dealt,
    digest: str,
    made_at: str,
    received_at: str,
    *,
    of_room: bool,
) -> Taken:
    name = f"{dealt.lab}--{dealt.trainee}--{short_code(digest)}.html"
    late = Policy.of(folder.fields, dealt.lab).late(made_at, received_at, in_room=of_room)
    page = folder.path / "receipts" / name
    return Taken(dealt, digest, made_at, received_at, late, page, of_room)


def _write_receipt(examiner: Examiner, taken: Taken, code: str, pairs: Pairs) -> None:
    """The page that the trainee may keep."""
    rules = examiner.folder.fields
    deadline = rules.deadline_of(taken.dealt.lab)
    page = filled(
        "receipt.html",
        title=rules.title,
        taken=taken,
        together=list(pairs.named(taken.dealt.workbook, examiner.deal.dealt).values()),
        made_at=rules.spoken(taken.made_at),
        received_at=rules.spoken(taken.received_at),
        deadline=rules.spoken(deadline) if deadline else "",
        after=deadline is not None and taken.received_at > deadline and not taken.in_room,
        by_receipt=rules.deadline_by == "received",
        code=code,
    )
    Place(taken.page.parent).write(page, taken.page.name)


def _missing_after_receipts(examiner: Examiner, records: Records) -> list[Dealt]:
    """Whose last workbook has not come in; receipts that are not there are written on the way.

    They lack for hand-ins that were scored first, or when their page was lost.
    """
    missing = []
    dealt = examiner.deal.dealt
    with records.reading() as connection:
        pairs = Pairs.of(connection)
    for groups in dealt.batches(_AT_ONCE):
        # What was worked at together comes in as the host's.
        hosts = filter(None, (pairs.host_of.get(items[-1].workbook) for items in groups))
        looked_at = [*chain.from_iterable(groups), *filter(None, map(dealt.of_workbook, hosts))]
        with records.reading() as connection:
            received = received_of(connection, looked_at)
        for items in groups:
            for item in items:
                for receipt in received.get(item.workbook, ()):
                    _write_lacking(records, examiner, item, receipt, pairs)
            if pairs.works_in(items[-1].workbook) not in received:
                missing.append(items[-1])
    return missing


def _write_lacking(
    records: Records, examiner: Examiner, item: Dealt, receipt: Receipt, pairs: Pairs
) -> None:
    times = receipt.made_at, receipt.received_at
    taken = _taken(examiner.folder, item, receipt.digest, *times, of_room=receipt.in_room)
    if not taken.page.exists():
        _write_receipt(examiner, taken, records.code(), pairs)
