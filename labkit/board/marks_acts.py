"""Marks put right for everybody from a page: shown first, then done as it was shown."""

from __future__ import annotations

import secrets
import tempfile
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from labkit.board.works import Works
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.corrections.changes import Changes
from labkit.classroom.corrections.correcting import correct, follow_rules, void
from labkit.classroom.corrections.seen import SeenClass
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.settling import prepared
from labkit.classroom.progress import Progress
from labkit.classroom.records.store import Records
from labkit.classroom.scored.score_and_write import write_anew
from labkit.errors import LabkitError, sentences
from labkit.lab.reading.lineage import LAB_FILE
from labkit.room.asking import word

ACTS: Final = ("void", "restore", "text", "rules")
MOST_SHOWN: Final = 300
_KEPT: Final = 12
_LOOK_FIRST: Final = "Look first at what would change, and do it then."


@dataclass(frozen=True, slots=True)
class Act:
    """What is to be done: `lab` and `exercise` where it is of one, `text` the corrected one."""

    what: str
    lab: str
    exercise: str
    text: str

    @classmethod
    def of(cls, said: dict[str, Any]) -> Act:
        """As a page says it. Raises `ClassError`."""
        what = word(said, "act")
        if what not in ACTS:
            raise ClassError(f"There is no such thing to do: '{what}'.")
        if what == "text" and not word(said, "text").strip():
            raise ClassError("Choose the file with the corrected text (lab.md) first.")
        return cls(what, word(said, "lab"), word(said, "exercise"), word(said, "text"))

    def do(self, folder: ClassFolder, progress: Progress, **how: Any) -> Changes:
        """Do it, or with `dry_run` look at what it would change. Raises `LabkitError`."""
        if self.what in ("void", "restore"):
            undo = self.what == "restore"
            return void(folder, self.lab, self.exercise, undo=undo, **how)
        if self.what == "rules":
            return follow_rules(folder, progress=progress, **how)
        with tempfile.TemporaryDirectory() as made:
            file = Path(made) / LAB_FILE
            file.write_text(self.text, encoding="utf-8")
            return correct(folder, self.lab, file, progress=progress, **how)


@dataclass(frozen=True, slots=True)
class _Looked:
    act: Act
    seen: SeenClass
    told: dict[str, Any]


class MarksActs:
    """The acts of one class, each known by a word once somebody has looked at it."""

    def __init__(self) -> None:
        self._looked: dict[str, _Looked] = {}
        self._done: dict[str, dict[str, Any]] = {}

    def look(self, works: Works, folder: ClassFolder, said: dict[str, Any], by: str) -> str:
        """Begin to look at what an act would change; `told` has it under the word returned."""
        act, of = Act.of(said), secrets.token_urlsafe(9)

        def work(progress: Progress) -> dict[str, Any]:
            records = Records.of(folder)
            prepared(folder, records)  # so that doing it finds the records as they are seen here
            seen = SeenClass.of(folder, records)
            changes = act.do(folder, progress, reason="", by=by, dry_run=True)
            _keep(self._looked, of, _Looked(act, seen, _told(folder, changes)))
            return {"of": of}

        works.begin(folder.path.name, "Looking at what would change", by, work)
        return of

    def do(self, works: Works, folder: ClassFolder, said: dict[str, Any], by: str) -> str:
        """Begin to do what was looked at; sheets and pages are written anew after it."""
        of, reason = word(said, "of"), word(said, "reason").strip()
        looked = self._looked.get(of)
        if looked is None:
            raise ClassError(_LOOK_FIRST)
        if not reason:
            raise ClassError("Say why: a correction without a reason explains nothing later.")

        def work(progress: Progress) -> dict[str, Any]:
            changes = looked.act.do(folder, progress, reason=reason, by=by, seen=looked.seen)
            self._looked.pop(of, None)
            told = _told(folder, changes)
            _keep(self._done, of, {**told, "remarks": _anew(folder, progress)})
            return {"of": of}

        works.begin(folder.path.name, "Putting marks right, and writing pages anew", by, work)
        return of

    def told(self, of: str) -> dict[str, Any]:
        """What an act would change, or has changed once it is done. Raises `ClassError`."""
        if of in self._done:
            return {"done": True, **self._done[of]}
        if of not in self._looked:
            raise ClassError(_LOOK_FIRST)
        act = self._looked[of].act
        about = {"act": act.what, "lab": act.lab, "exercise": act.exercise}
        return {"done": False, **about, **self._looked[of].told}


def write_all_anew(works: Works, folder: ClassFolder, by: str) -> None:
    """Begin to write sheets and pages by what holds now."""

    def work(progress: Progress) -> dict[str, Any]:
        if not write_anew(folder, _stages(progress)):
            raise ClassError("This class has no sheets and pages yet: score it first.")
        return {"written": True}

    works.begin(folder.path.name, "Writing sheets and pages anew", by, work)


def _told(folder: ClassFolder, changes: Changes) -> dict[str, Any]:
    lines = [one.sentence for one in changes.results]
    why: dict[str, list[str]] = {}
    for change in changes.results:
        why.setdefault(change.dealt.trainee, []).append(change.sentence)
    return {
        "already": changes.already,
        "crossing": [
            {"who": one.sentence.removeprefix("! "), "why": why.get(one.trainee, [])}
            for one in changes.crossing
        ],
        "changes": lines[:MOST_SHOWN],
        "more": max(0, len(lines) - MOST_SHOWN),
        "results": len(lines),
        "pass_mark": folder.fields.pass_mark,
    }


def _anew(folder: ClassFolder, progress: Progress) -> list[str]:
    """Write sheets and pages; the correction holds, also where that cannot be."""
    try:
        write_anew(folder, _stages(progress))
    except (LabkitError, OSError) as error:
        return ["It holds, but sheets and pages could not be written anew.", *sentences(error)]
    return []


def _stages(progress: Progress) -> Callable[[str], nullcontext[Progress]]:
    return lambda _: nullcontext(progress)


def _keep(kept: dict[str, Any], of: str, one: Any) -> None:
    """Keep it, and of the earlier ones the last few."""
    kept[of] = one
    while len(kept) > _KEPT:
        kept.pop(next(iter(kept)))
