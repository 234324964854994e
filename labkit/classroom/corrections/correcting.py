"""Corrections after the marks are out: an exercise voided, or a lab marked by a corrected text.

Nothing is rewritten: marks by the new text are added beside the old ones, and an entry says, from
when, by whom and why, that these hold now.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from sqlalchemy import select

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.corrections.changes import Changes, Snapshot, records_to_change
from labkit.classroom.corrections.seen import SeenClass
from labkit.classroom.dealing.editions import Edition, editions_now
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.examiner import Examiner
from labkit.classroom.handins.intake import bundles, files_in
from labkit.classroom.handins.settling import prepared, settle
from labkit.classroom.marks.crew import Crew
from labkit.classroom.marks.results import Results
from labkit.classroom.marks.scoring import mark_files
from labkit.classroom.progress import Progress
from labkit.classroom.records.schema import editions, voids
from labkit.classroom.records.store import Records
from labkit.exchange.clock import CLOCK
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario
from labkit.lab.marking_rules import keys_of
from labkit.lab.reading import read_lab
from labkit.lab.reading.lineage import LAB_FILE
from labkit.language.problems import nearest

_NUMBER: Final = re.compile(r"\d+(?:[.,]\d+)?")


def void(
    folder: ClassFolder,
    lab: str,
    exercise: str,
    *,
    reason: str,
    by: str,
    undo: bool = False,
    dry_run: bool = False,
    seen: SeenClass | None = None,
) -> Changes:
    """Take an exercise out of everybody's marks, or bring it back with `undo`.

    It then counts neither as earned nor as possible. Where that holds already nothing is added.
    `dry_run` only tells what would change. Raises `ClassError`, also where the class is not as it
    was `seen` any more.
    """
    _require_reason(reason, dry_run=dry_run)
    records = records_to_change(folder, dry_run=dry_run)
    examiner = _examiner(folder, records, seen)
    _require_exercise(examiner, lab, exercise)
    if undo and not _ever_voided(records, lab, exercise):
        return Changes(already=f"'{lab}/{exercise}' was never taken out of the marks")
    before = Snapshot.of(folder, Results(examiner, records))
    entry = {
        "lab": lab,
        "exercise": exercise,
        "voided": not undo,
        "reason": reason,
        "by": by,
        "since": CLOCK.now(),
    }
    earlier = records.add_unless_said(
        voids,
        entry,
        of=("lab", "exercise"),
        same=("voided",),
        provided=seen.require_entries if seen else None,
    )
    if earlier:
        what = "brought back into" if undo else "taken out of"
        told = f"'{lab}/{exercise}' was {what} the marks already"
        return Changes(already=_already(folder, told, earlier))
    return before.until(folder, Results(examiner, records))


def correct(
    folder: ClassFolder,
    lab: str,
    source: Path,
    *,
    reason: str,
    by: str,
    progress: Progress | None = None,
    jobs: int = 1,
    dry_run: bool = False,
    seen: SeenClass | None = None,
) -> Changes:
    """Mark a lab by the corrected text in the folder or file `source` from now on.

    The text must draw what the trainees have in their hands: the same drawn values, network, tasks
    and numbers in the questions. Raises `ClassError` or `DefinitionError` otherwise, and then
    nothing has changed. A text that a correction has brought in already is not brought in again.
    `dry_run` only tells what would change, and marks in this process alone. `seen` as in `void`.
    """
    _require_reason(reason, dry_run=dry_run)
    records = records_to_change(folder, dry_run=dry_run)
    examiner = _examiner(folder, records, seen)
    file = source / LAB_FILE if source.is_dir() else source
    # A correction changes no picture: those that the class has are its own.
    new = read_lab(file, dealt=True, beside=folder.path / "labs" / lab)
    if lab not in examiner.labs or new.id != lab:
        raise ClassError(
            f"{file} holds the lab '{new.id}'; the class has {', '.join(examiner.labs)}. "
            "Give the lab that is to be corrected, and its corrected text."
        )
    entry = {"reason": reason, "by": by, "since": CLOCK.now()}
    if new.digest == examiner.labs[lab].digest:
        return Changes(already=_marked_already(folder, records, lab, file))
    _require_same(examiner, new)
    edition = Edition.made(new, _keys(examiner, new))
    anew = {edition: file.read_bytes()}
    changes = _marked_anew(
        examiner, records, anew, entry, progress, jobs, dry_run=dry_run, seen=seen
    )
    return changes or Changes(already=_marked_already(folder, records, lab, file))


def follow_rules(
    folder: ClassFolder,
    *,
    reason: str,
    by: str,
    progress: Progress | None = None,
    jobs: int = 1,
    dry_run: bool = False,
    seen: SeenClass | None = None,
) -> Changes:
    """Mark every lab of the class by this labkit's rules and calculations from now on.

    For a class that was dealt by another labkit: its marks stay as they are until this is asked
    for. `dry_run` only tells what would change, and marks in this process alone. `seen` as in
    `void`. Raises `ClassError`.
    """
    _require_reason(reason, dry_run=dry_run)
    records = records_to_change(folder, dry_run=dry_run)
    examiner = _examiner(folder, records, seen)
    anew: dict[Edition, bytes | None] = {}
    for name, edition in examiner.editions.items():
        keys = _keys(examiner, edition.lab)
        if edition.of_other_rules or not _same_keys(examiner, name, keys):
            anew[Edition.made(edition.lab, keys)] = None
    already = Changes(already="Every lab of this class is marked by this labkit's rules already")
    if not anew:
        return already
    entry = {"reason": reason, "by": by, "since": CLOCK.now()}
    changes = _marked_anew(
        examiner, records, anew, entry, progress, jobs, dry_run=dry_run, seen=seen
    )
    return changes or already


def _examiner(folder: ClassFolder, records: Records, seen: SeenClass | None) -> Examiner:
    examiner = prepared(folder, records)
    if seen:
        seen.require(folder, records)
    return examiner


def _marked_anew(
    examiner: Examiner,
    records: Records,
    anew: Mapping[Edition, bytes | None],
    entry: Mapping[str, str],
    progress: Progress | None,
    jobs: int,
    *,
    dry_run: bool,
    seen: SeenClass | None,
) -> Changes | None:
    """Mark by new editions, each with its corrected text (None: the text stays).

    None when they hold already.
    """
    folder = examiner.folder
    for edition in anew:
        _require_files(folder, records, examiner, edition.lab.id)
    before = Snapshot.of(folder, Results(examiner, records))
    named = {edition.lab.id: edition for edition in anew}
    if dry_run:
        corrected = replace(examiner, editions={**examiner.editions, **named})
    else:
        for edition, text in anew.items():
            edition.keep(folder, text)
        ids = {name: edition.id for name, edition in named.items()}
        corrected = Examiner.of(folder, {**editions_now(records), **ids})
    # The new marks are there before they hold: a run that is cut short has changed nothing.
    with Crew(1 if dry_run else jobs) as crew:
        mark_files(corrected, records, files_in(folder.hand_ins), crew, progress)
    added = [
        not records.add_unless_said(
            editions,
            {"lab": name, "lab_digest": edition.id, **entry},
            of=("lab",),
            same=("lab_digest",),
            # Once the first is there, the records are not as they were seen any more.
            provided=seen.require_entries if seen and not number else None,
        )
        for number, (name, edition) in enumerate(named.items())
    ]
    if not any(added):
        return None
    settle(records, corrected.deal, folder.fields)
    return before.until(folder, Results(corrected, records))


def _keys(examiner: Examiner, lab: Lab) -> dict[str, str]:
    """What decides the marks of everybody's workbook of a lab, by this text and labkit."""
    return {
        item.workbook: keys_of(scenario_of(examiner.secret, examiner.folder.fields.id, lab, item))
        for item in examiner.deal.dealt
        if item.lab == lab.id
    }


def _same_keys(examiner: Examiner, lab: str, keys: Mapping[str, str]) -> bool:
    edition = examiner.editions[lab]
    dealt = (item for item in examiner.deal.dealt if item.lab == lab)
    return all(edition.keys_of(item) in ("", keys[item.workbook]) for item in dealt)


def _ever_voided(records: Records, lab: str, exercise: str) -> bool:
    named = select(voids.c.id).where(voids.c.lab == lab, voids.c.exercise == exercise)
    return bool(records.rows(named.limit(1)))


def _marked_already(folder: ClassFolder, records: Records, lab: str, file: Path) -> str:
    """Since when the text holds. Raises `ClassError` when that is since the deal."""
    told = f"{file} is the text by which '{lab}' is marked already"
    of_lab = select(editions).where(editions.c.lab == lab).order_by(editions.c.id)
    _, *corrections = records.rows(of_lab)
    if not corrections:
        raise ClassError(f"{told}: it was dealt so.")
    return _already(folder, told, corrections[-1])


def _already(folder: ClassFolder, told: str, entry: Mapping[str, Any]) -> str:
    since = folder.fields.spoken(entry["since"])
    return f"{told}, since {since} by {entry['by']}: {entry['reason']}"


def _require_reason(reason: str, *, dry_run: bool) -> None:
    if not reason.strip() and not dry_run:
        raise ClassError("Say why: a correction without a reason explains nothing later.")


def _require_exercise(examiner: Examiner, lab: str, exercise: str) -> None:
    if lab not in examiner.labs:
        raise ClassError(f"The class has no lab '{lab}'. {nearest(lab, examiner.labs)}")
    known = [item.id for item in examiner.labs[lab].exercises]
    if exercise not in known:
        raise ClassError(f"'{lab}' has no exercise '{exercise}'. {nearest(exercise, known)}")


def _require_same(examiner: Examiner, new: Lab) -> None:
    """Raise `ClassError` unless `new` gives every trainee what they were dealt."""
    old = examiner.labs[new.id]
    ids, known = [item.id for item in new.exercises], [item.id for item in old.exercises]
    if ids != known:
        raise ClassError(
            f"The corrected '{new.id}' has other exercises than were dealt, or another order of "
            "them. Keep them all; to take one out of the marks: 'labkit rescore CLASS --void "
            f"{new.id}/EXERCISE'."
        )
    class_id = examiner.folder.fields.id
    for item in examiner.deal.dealt:
        if item.lab != new.id:
            continue
        try:
            again = scenario_of(examiner.secret, class_id, new, item)
        except ClassError:
            raise ClassError(
                f"The corrected '{new.id}' draws other numbers than {item.name} ({item.trainee}) "
                "was dealt. A correction may change answers, tolerances, slips and words, but not "
                "what 'draw:' draws."
            ) from None
        differing = _differing(examiner.scenario(item), again)
        if differing:
            raise ClassError(
                f"The corrected '{new.id}' shows {item.name} ({item.trainee}) another "
                f"{differing} than was dealt. A correction may change answers, tolerances, slips "
                "and words, but not the numbers that trainees were given."
            )


def _differing(dealt: Scenario, again: Scenario) -> str:
    """What a trainee would see otherwise; "" when it is the same."""
    if dealt.lab.network and again.lab.network:
        if dealt.lab.network.draw(dealt.network) != again.lab.network.draw(again.network):
            return "network"
    elif dealt.lab.network or again.lab.network:
        return "network"
    for old, new in zip(dealt.lab.exercises, again.lab.exercises, strict=True):
        if old.kind != new.kind or dealt.prepare(old).ask != again.prepare(new).ask:
            return f"task in '{old.id}'"
        asked = old.question.render(dealt.names), new.question.render(again.names)
        if _NUMBER.findall(asked[0]) != _NUMBER.findall(asked[1]):
            return f"number in the question of '{old.id}'"
    return ""


def _require_files(folder: ClassFolder, records: Records, examiner: Examiner, lab: str) -> None:
    """Raise `ClassError` unless every hand-in that counts is there to be marked again."""
    needed = {
        result.hand_in.digest: result.work
        for result in Results(examiner, records).every()
        if result.hand_in and result.dealt.lab == lab
    }
    for bundle in bundles(files_in(folder.hand_ins)):
        for task in bundle.tasks:
            needed.pop(sha256(task.data).hexdigest(), None)
    if needed:
        names = ", ".join(sorted(f"{item.name} ({item.trainee})" for item in needed.values()))
        raise ClassError(
            f"The hand-ins of {names} are no longer in {folder.hand_ins}, so they cannot be marked "
            "again. Bring the files back from a copy."
        )
