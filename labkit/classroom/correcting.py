"""Corrections after the marks are out: an exercise voided, or a lab marked by a corrected text.

Nothing is rewritten: marks by the new text are added beside the old ones, and an entry says, from
when, by whom and why, that these hold now.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from labkit.classroom.choosing import Policy
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.crew import Crew
from labkit.classroom.dealing import Dealt, scenario_of
from labkit.classroom.editions import editions_now, write_edition
from labkit.classroom.errors import ClassError
from labkit.classroom.examiner import Examiner
from labkit.classroom.intake import bundles, files_in
from labkit.classroom.marking import Mark
from labkit.classroom.progress import Progress
from labkit.classroom.records import Records
from labkit.classroom.records.schema import editions, voids
from labkit.classroom.results import Result, Results
from labkit.classroom.scoring import mark_files, prepared, settle
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario
from labkit.lab.marking_rules import keys_of
from labkit.lab.problems import nearest
from labkit.lab.reading import read_lab
from labkit.lab.reading.lineage import LAB_FILE
from labkit.station.journal import now

_NUMBER: Final = re.compile(r"\d+(?:[.,]\d+)?")


@dataclass(frozen=True, slots=True)
class Change:
    """Whose marks changed: from and to are marks, of what was and is possible."""

    dealt: Dealt
    before: tuple[float, float]
    after: tuple[float, float]
    exercises: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """What changed, in words."""
        (old, of_old), (new, of_new) = self.before, self.after
        where = ", ".join(self.exercises)
        return (
            f"{self.dealt.name} ({self.dealt.trainee}), {self.dealt.lab}: {old:g} of {of_old:g} "
            f"→ {new:g} of {of_new:g} marks ({where})"
        )


def void(
    folder: ClassFolder, lab: str, exercise: str, *, reason: str, by: str, undo: bool = False
) -> list[Change]:
    """Take an exercise out of everybody's marks, or bring it back with `undo`.

    It then counts neither as earned nor as possible. Raises `ClassError`.
    """
    _require_reason(reason)
    records = folder.records()
    examiner = prepared(folder, records)
    _require_exercise(examiner, lab, exercise)
    before = _standing(Results(examiner, records))
    entry = {
        "lab": lab,
        "exercise": exercise,
        "voided": not undo,
        "reason": reason,
        "by": by,
        "since": now(),
    }
    records.add(voids, [entry])
    return _changes(before, Results(examiner, records))


def correct(
    folder: ClassFolder,
    lab: str,
    source: Path,
    *,
    reason: str,
    by: str,
    progress: Progress | None = None,
    jobs: int = 1,
) -> list[Change]:
    """Mark a lab by the corrected text in the folder or file `source` from now on.

    The text must draw what the trainees have in their hands: the same drawn values, network, tasks
    and numbers in the questions. Raises `ClassError` or `DefinitionError` otherwise, and then
    nothing has changed.
    """
    _require_reason(reason)
    records = folder.records()
    examiner = prepared(folder, records)
    file = source / LAB_FILE if source.is_dir() else source
    new = read_lab(file)
    if lab not in examiner.labs or new.id != lab:
        raise ClassError(
            f"{file} holds the lab '{new.id}'; the class has {', '.join(examiner.labs)}. "
            "Give the lab that is to be corrected, and its corrected text."
        )
    if new.digest == examiner.labs[lab].digest:
        raise ClassError(f"{file} is the text by which '{lab}' is marked already.")
    _require_same(examiner, new)
    return _marked_anew(
        examiner, records, {lab: (new, file.read_bytes())}, reason, by, progress, jobs
    )


def follow_rules(
    folder: ClassFolder,
    *,
    reason: str,
    by: str,
    progress: Progress | None = None,
    jobs: int = 1,
) -> list[Change]:
    """Mark every lab of the class by this labkit's rules and calculations from now on.

    For a class that was dealt by another labkit: its marks stay as they are until this is asked
    for. Raises `ClassError` when they are this labkit's already.
    """
    _require_reason(reason)
    records = folder.records()
    examiner = prepared(folder, records)
    older = {
        name: lab for name, lab in examiner.labs.items() if not _by_these_rules(examiner, name)
    }
    if not older:
        raise ClassError(
            "Every lab of this class is marked by this labkit's rules already: there is nothing to "
            "go over to."
        )
    anew = {name: (examiner.labs[name], None) for name in older}
    return _marked_anew(examiner, records, anew, reason, by, progress, jobs)


def _by_these_rules(examiner: Examiner, lab: str) -> bool:
    edition = examiner.editions[lab]
    try:
        edition.require_rules()
        for item in examiner.deal.dealt:
            if item.lab == lab:
                edition.require_keys(item, keys_of(examiner.scenario(item)))
    except ClassError:
        return False
    return True


def _marked_anew(
    examiner: Examiner,
    records: Records,
    labs: Mapping[str, tuple[Lab, bytes | None]],
    reason: str,
    by: str,
    progress: Progress | None,
    jobs: int,
) -> list[Change]:
    """Mark some labs by new editions, each a lab and its corrected text (None: as it was)."""
    folder = examiner.folder
    texts = editions_now(records)
    for name, (lab, text) in labs.items():
        _require_files(folder, records, examiner, name)
        texts[name] = write_edition(folder, lab, text, _keys(examiner, lab))
    before = _standing(Results(examiner, records))
    corrected = Examiner.of(folder, texts)
    # The new marks are there before they hold: a run that is cut short has changed nothing.
    with Crew(jobs) as crew:
        mark_files(corrected, records, files_in(folder.hand_ins), crew, progress)
    about = {"reason": reason, "by": by, "since": now()}
    entries = [{"lab": name, "lab_digest": texts[name], **about} for name in labs]
    records.add(editions, entries)
    settle(records, corrected.deal, Policy.of(folder.fields))
    return _changes(before, Results(corrected, records))


def _keys(examiner: Examiner, lab: Lab) -> dict[str, str]:
    """What decides the marks of everybody's workbook of a lab, by this text and labkit."""
    return {
        item.workbook: keys_of(scenario_of(examiner.secret, examiner.folder.fields.id, lab, item))
        for item in examiner.deal.dealt
        if item.lab == lab.id
    }


Standing = Mapping[str, tuple[float, float, Mapping[str, Any]]]


def _standing(results: Results) -> Standing:
    return {
        result.dealt.workbook: (result.earned, result.possible, _by_exercise(result))
        for result in results.every()
        if result.counts
    }


def _by_exercise(result: Result) -> dict[str, tuple[float, float, bool]]:
    def told(mark: Mark) -> tuple[float, float, bool]:
        return mark.earned, mark.possible, mark.voided

    return {mark.exercise: told(mark) for mark in result.marks}


def _changes(before: Standing, results: Results) -> list[Change]:
    changes = []
    for result in results.every():
        old = before.get(result.dealt.workbook)
        if old is None or not result.counts:
            continue
        new = _by_exercise(result)
        differing = tuple(name for name in new if new[name] != old[2].get(name))
        if differing:
            changes.append(
                Change(result.dealt, old[:2], (result.earned, result.possible), differing)
            )
    return changes


def _require_reason(reason: str) -> None:
    if not reason.strip():
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
        result.hand_in.digest: result.dealt
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
